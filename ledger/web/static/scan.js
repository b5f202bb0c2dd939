// Scanning into a form: a hand scanner types a code and presses Enter. Enter then goes on
// to the next field, and from the last lot of a list to a fresh row, instead of sending
// the form. Without this script Enter asks the server for one more row.

function scanned(form) {
  return [...form.querySelectorAll("input[data-scan]")];
}

function freshRow(field) {
  const last = field.closest("fieldset");
  const place = /\.(\d+)(?=\.|$)/.exec(field.name);
  if (!last || !place) return null;
  const list = field.name.slice(0, place.index + 1);
  const next = String(Number(place[1]) + 1);
  const row = last.cloneNode(true);
  const renumbered = (text) => text.replace(`${list}${place[1]}`, `${list}${next}`);
  for (const element of row.querySelectorAll("*")) {
    for (const name of ["id", "name", "for", "aria-describedby"]) {
      if (element.hasAttribute(name)) {
        element.setAttribute(name, renumbered(element.getAttribute(name)));
      }
    }
    element.removeAttribute("aria-invalid");
    if (element.matches("input:not([type=checkbox])")) element.value = "";
    if (element.matches(".bad")) element.remove();
  }
  const legend = row.querySelector("legend");
  if (legend) legend.textContent = legend.textContent.replace(/\d+$/, String(Number(next) + 1));
  last.after(row);
  return row.querySelector("input[data-scan]");
}

function nextField(form, field) {
  const fields = [...form.elements].filter(
    (one) => one.matches("input:not([type=hidden]), select, textarea") && one.offsetParent,
  );
  return fields[fields.indexOf(field) + 1] ?? null;
}

function afterScan(form, field) {
  const own = field.name.replace(/\.\d+(?=\.|$)/, ".*");
  const alike = scanned(form).filter((one) => one.name.replace(/\.\d+(?=\.|$)/, ".*") === own);
  if (!field.name.match(/\.\d+(\.|$)/)) return nextField(form, field);
  return alike.slice(alike.indexOf(field) + 1).find((one) => !one.value) ?? freshRow(field);
}

for (const form of document.querySelectorAll("form[data-foresee]")) {
  form.addEventListener("keydown", (event) => {
    const field = event.target;
    if (event.key !== "Enter" || !field.matches("input:not([type=checkbox])")) return;
    event.preventDefault();
    const next = field.dataset.scan && field.value ? afterScan(form, field) : nextField(form, field);
    next?.focus();
  });
}
