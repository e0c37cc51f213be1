// Rows of the plan are changed in a dialog: its form is fetched when it is asked for, sent as all forms are, and the
// dialog closes when it was saved. <button data-row="/pages/power/form/batteries?id=cart-block">
import { restoreDrafts } from "./forms.js";
import { notice } from "./notices.js";
import "./to_row.js";
import { words } from "./words.js";

const dialog = document.getElementById("row-dialog");
const TYPED = "form[hx-morph-skip]"; // somebody has typed in it

async function open(address) {
  let answer;
  try {
    answer = await fetch(address, { headers: { Accept: "text/html" } });
  } catch {
    answer = null;
  }
  if (!answer?.ok) {
    notice(words(`${document.body.dataset.page}.no_form`));
    return;
  }
  const made = new DOMParser().parseFromString(await answer.text(), "text/html");
  dialog.replaceChildren(...made.body.children);
  dialog.showModal();
  dialog.querySelector("input:not([type=hidden]),select")?.focus();
  restoreDrafts(dialog);
}

document.addEventListener("click", (event) => {
  const address = event.target.closest?.("[data-row]")?.dataset.row;
  if (address && dialog) open(address);
  if (event.target.closest?.("[data-row-close]")) dialog.close();
});

dialog?.addEventListener("sent", (event) => {
  if (event.detail.state !== "saved" || event.detail.since) return;
  const said = event.detail.answer?.sentence;
  dialog.close();
  if (said) notice(said);
});

dialog?.addEventListener("close", () => {
  if (!dialog.querySelector(TYPED)) dialog.replaceChildren();
});
