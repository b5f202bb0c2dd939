// Tells what saving a form will do while it is filled in. A form says with
// data-foresee="/address" where to ask; the answer goes into the element with
// data-foresight in it. Without this script a button asks the same.

const WAIT_MS = 500;

function follow(form) {
  const place = form.querySelector("[data-foresight]");
  let timer = 0;
  let asking = null;

  async function ask() {
    asking?.abort();
    asking = new AbortController();
    const typed = new FormData(form);
    for (const [name, value] of [...typed]) if (value instanceof File) typed.delete(name);
    try {
      const answer = await fetch(form.dataset.foresee, {
        method: "POST",
        body: new URLSearchParams(typed),
        headers: { "X-Part": "foresight" },
        signal: asking.signal,
      });
      if (answer.redirected || !answer.ok) return;
      const told = new DOMParser().parseFromString(await answer.text(), "text/html");
      place.replaceChildren(...told.body.childNodes);
    } catch (error) {
      if (error.name !== "AbortError") throw error;
    } finally {
      place.removeAttribute("aria-busy");
    }
  }

  function askSoon() {
    place.setAttribute("aria-busy", "true");
    clearTimeout(timer);
    timer = setTimeout(ask, WAIT_MS);
  }

  form.addEventListener("input", askSoon);
  form.addEventListener("change", askSoon);
  // Somebody may have typed before this script was there, or come back to the form.
  if ([...form.elements].some((field) => (field.defaultValue ?? field.value) !== field.value)) askSoon();
}

for (const form of document.querySelectorAll("form[data-foresee]")) follow(form);
