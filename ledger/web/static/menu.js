// On a narrow screen the menu is folded until it is asked for; without this script it is
// open there.

const menu = document.querySelector("details[data-folds-when-narrow]");
const narrow = matchMedia("(max-width: 40rem)");

function fold() {
  if (menu) menu.open = !narrow.matches;
}

narrow.addEventListener("change", fold);
fold();
