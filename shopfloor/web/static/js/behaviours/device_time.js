// The tablet's own time, with its UTC offset, sent along with a form.

/** ISO 8601 with the offset of the tablet's zone. */
export function isoWithOffset(date) {
  const ahead = -date.getTimezoneOffset();
  const local = new Date(date.getTime() + ahead * 60_000).toISOString().slice(0, 19);
  const two = (number) => String(Math.floor(number)).padStart(2, "0");
  return `${local}${ahead < 0 ? "-" : "+"}${two(Math.abs(ahead) / 60)}:${two(Math.abs(ahead) % 60)}`;
}

export function startDeviceTime(root) {
  for (const form of root.querySelectorAll("form[data-clock]")) {
    form.addEventListener("submit", () => {
      form.elements[form.dataset.clock].value = isoWithOffset(new Date());
    });
  }
}
