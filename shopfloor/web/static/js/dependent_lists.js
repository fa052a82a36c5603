// A list that others depend on reloads the page when it changes, with the others cleared.

for (const list of document.querySelectorAll("select[data-clears]")) {
  list.addEventListener("change", () => {
    for (const name of list.dataset.clears.split(" ").filter(Boolean)) list.form.elements[name].value = "";
    list.form.requestSubmit();
  });
}
