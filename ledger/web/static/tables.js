// Tables that sort by a click on a heading and filter by a word. Without this script
// they are whole, in the order in which the server gave them.

const AFTER = { ascending: "descending", descending: "ascending" };

function value(row, place) {
  return row.cells[place]?.dataset.is ?? row.cells[place]?.textContent ?? "";
}

function compare(one, other, isFigure) {
  if (!isFigure) return one.localeCompare(other, undefined, { numeric: true });
  const [a, b] = [one, other].map((text) => (text === "" ? -Infinity : Number(text)));
  return Number.isNaN(a) || Number.isNaN(b) ? one.localeCompare(other) : a - b;
}

function sort(table, heading, place) {
  const order = AFTER[heading.getAttribute("aria-sort")] ?? "ascending";
  for (const other of heading.parentElement.cells) other.removeAttribute("aria-sort");
  heading.setAttribute("aria-sort", order);
  const isFigure = heading.classList.contains("figure");
  const sign = order === "ascending" ? 1 : -1;
  const body = table.tBodies[0];
  const rows = [...body.rows];
  rows.sort((a, b) => sign * compare(value(a, place), value(b, place), isFigure));
  body.append(...rows);
}

function makeSortable(table) {
  [...table.tHead.rows[0].cells].forEach((heading, place) => {
    if (!heading.textContent.trim()) return;
    const button = document.createElement("button");
    button.type = "button";
    button.append(...heading.childNodes);
    button.addEventListener("click", () => sort(table, heading, place));
    heading.append(button);
  });
}

const FEW = 8;

function makeFilter(table) {
  if (table.tBodies[0].rows.length < FEW) return;
  const spanish = document.documentElement.lang === "es";
  const label = document.createElement("label");
  label.className = "filter field";
  label.append(spanish ? "Filas que contienen" : "Rows that contain");
  const field = document.createElement("input");
  field.type = "search";
  label.append(field);
  field.addEventListener("input", () => {
    const word = field.value.trim().toLowerCase();
    for (const row of table.tBodies[0].rows) {
      row.hidden = word !== "" && !row.textContent.toLowerCase().includes(word);
    }
  });
  table.closest(".table").before(label);
}

for (const table of document.querySelectorAll("table[data-sortable]")) {
  makeSortable(table);
  makeFilter(table);
}
