// Looks again by itself until a pack is ready. Without this script a link looks again.

const EVERY_MS = 1000;

async function look() {
  const state = document.getElementById("state");
  const text = await fetch(location.href).then(
    (answer) => answer.text(),
    () => "", // no answer just now
  );
  const now = new DOMParser().parseFromString(text, "text/html").getElementById("state");
  if (now === null || "waits" in now.dataset) {
    setTimeout(look, EVERY_MS);
  } else {
    state.replaceChildren(...now.children);
    delete state.dataset.waits;
  }
}

if (document.querySelector("#state[data-waits]")) setTimeout(look, EVERY_MS);
