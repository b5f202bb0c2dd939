// Walks a drawn trace with the keyboard: along the mass to the left and right, and to
// neighbours up and down, column after column, so that every box is come to. Without this
// script every box is a link all the same, and what is said about it stands below.

function numbers(text) {
  return text ? text.split(" ") : [];
}

function beginWalk(walk) {
  const drawing = walk.querySelector("svg");
  const flow = walk.querySelector(".flow");
  const boxes = new Map();
  for (const box of drawing.querySelectorAll("a[data-stop]")) {
    boxes.set(box.dataset.stop, box);
  }
  const inOrder = [...boxes.keys()];
  const start = walk.dataset.start;
  let here = start;
  let before = start;

  function show(stop) {
    const box = boxes.get(stop);
    boxes.get(here).tabIndex = -1;
    boxes.get(here).classList.remove("here");
    document.getElementById(`stop-${here}`).classList.remove("here");
    here = stop;
    box.tabIndex = 0;
    box.classList.add("here");
    document.getElementById(`stop-${here}`).classList.add("here");
    for (const link of drawing.querySelectorAll("g[data-leaves]")) {
      const touches = link.dataset.leaves === here || link.dataset.enters === here;
      link.classList.toggle("lit", touches);
    }
  }

  function bringIntoView(box) {
    const seen = flow.getBoundingClientRect();
    const at = box.getBoundingClientRect();
    const room = 40;
    const said = document.getElementById(`stop-${here}`).getBoundingClientRect();
    if (at.left < seen.left + room) flow.scrollLeft -= seen.left + room - at.left;
    if (at.right > seen.right - room) flow.scrollLeft += at.right - seen.right + room;
    // On a narrow screen what is said lies over the foot of the page.
    const foot = said.left < at.right ? said.top : window.innerHeight;
    if (at.top < room) window.scrollBy(0, at.top - room);
    else if (at.bottom > foot - room) window.scrollBy(0, at.bottom - foot + room);
  }

  function go(stop) {
    if (stop === undefined || !boxes.has(stop)) return;
    if (stop !== here) before = here;
    show(stop);
    boxes.get(stop).focus({ preventScroll: true });
    bringIntoView(boxes.get(stop));
  }

  // Whoever came from one of several goes back to that one, else to the largest.
  function along(text) {
    const beside = numbers(text);
    return beside.includes(before) ? before : beside[0];
  }

  // Down from the last of a column goes on to the first of the next.
  function beside(steps) {
    return inOrder[inOrder.indexOf(here) + steps];
  }

  const KEYS = {
    ArrowLeft: () => along(boxes.get(here).dataset.from),
    ArrowRight: () => along(boxes.get(here).dataset.to),
    ArrowUp: () => beside(-1),
    ArrowDown: () => beside(1),
    Home: () => start,
  };

  drawing.setAttribute("role", "application");
  drawing.setAttribute("aria-describedby", "walk-keys");
  for (const [stop, box] of boxes) {
    box.tabIndex = -1;
    box.setAttribute("aria-describedby", `facts-${stop}`);
    box.addEventListener("focus", () => show(stop));
    box.addEventListener("pointerenter", (event) => {
      if (event.pointerType === "mouse") show(stop);
    });
    // A finger has no way to look before it opens, so its first touch only looks.
    box.addEventListener("pointerdown", (event) => {
      box.dataset.looks = event.pointerType !== "mouse" && stop !== here ? "yes" : "";
    });
    box.addEventListener("click", (event) => {
      if (box.dataset.looks) {
        event.preventDefault();
        go(stop);
      }
      box.dataset.looks = "";
    });
  }
  drawing.addEventListener("keydown", (event) => {
    const to = KEYS[event.key];
    if (!to || event.altKey || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    go(to());
  });
  for (const link of walk.querySelectorAll('.stop a[href^="#stop-"]')) {
    link.addEventListener("click", (event) => {
      event.preventDefault();
      go(link.hash.slice("#stop-".length));
    });
  }
  walk.classList.add("lit");
  show(start);
  const at = boxes.get(start).getBoundingClientRect();
  const seen = flow.getBoundingClientRect();
  flow.scrollLeft += at.left + at.width / 2 - seen.left - seen.width / 2;
}

for (const walk of document.querySelectorAll("[data-walk]")) beginWalk(walk);
