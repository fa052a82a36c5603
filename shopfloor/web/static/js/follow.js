// A list that others depend on asks for the page again as soon as it changes; the others start anew.

for (const list of document.querySelectorAll("select[data-clears]")) {
  list.addEventListener("change", () => {
    for (const name of list.dataset.clears.split(" ").filter(Boolean)) list.form.elements[name].value = "";
    list.form.requestSubmit();
  });
}
