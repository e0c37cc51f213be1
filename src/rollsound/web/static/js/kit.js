// The page Kit: rows are changed in the dialog; the list is looked through as one types.
import "./row_forms.js";
import { words } from "./words.js";

let sought = "";

function seek() {
  const rows = [...document.querySelectorAll("#kit-list tr[data-item]")];
  let found = 0;
  for (const row of rows) {
    row.hidden = !row.dataset.item.toLowerCase().includes(sought);
    if (!row.hidden) found += 1;
  }
  const line = document.getElementById("kit-sought");
  if (line) line.textContent = sought ? words("kit.found", { n: found, all: rows.length }) : "";
}

document.addEventListener("input", (event) => {
  if (event.target.id !== "kit-seek") return;
  sought = event.target.value.trim().toLowerCase();
  seek();
});
document.addEventListener("htmx:after:swap", () => {
  if (sought) seek();
});
