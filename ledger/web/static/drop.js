// A file field that takes files dropped on it, and lists what was chosen. Without this
// script it is the browser's own field.

function shown(size) {
  return size < 1024 * 1024
    ? `${Math.ceil(size / 1024)} KiB`
    : `${(size / 1024 / 1024).toFixed(1)} MiB`;
}

function makeDrop(place) {
  const field = place.querySelector("input[type=file]");
  const list = place.querySelector("[data-dropped]");

  function tell() {
    list.replaceChildren(
      ...[...field.files].map((file) => {
        const line = document.createElement("li");
        line.textContent = `${file.name}, ${shown(file.size)}`;
        return line;
      }),
    );
  }

  field.addEventListener("change", tell);
  for (const name of ["dragenter", "dragover"]) {
    place.addEventListener(name, (event) => {
      event.preventDefault();
      place.classList.add("over");
    });
  }
  for (const name of ["dragleave", "drop"]) {
    place.addEventListener(name, () => place.classList.remove("over"));
  }
  place.addEventListener("drop", (event) => {
    event.preventDefault();
    const both = new DataTransfer();
    const dropped = [...event.dataTransfer.files];
    const kept = field.multiple ? [...field.files, ...dropped] : dropped.slice(0, 1);
    for (const file of kept) both.items.add(file);
    field.files = both.files;
    tell();
  });
}

for (const place of document.querySelectorAll("[data-drop]")) makeDrop(place);
