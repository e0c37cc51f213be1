// The page Script: scenes are dragged to days, or taken up and put down by pressing; a script is read from its file.
import { send } from "./outbox.js";
import { words } from "./words.js";

const LARGEST_BYTES = 1_400_000;
let picked = null; // { scene, on, dragged }
let moved = ""; // the scene whose place in the list is to have the focus once the days are fetched anew

const chips = () => document.querySelectorAll("#script-schedule [data-chip]");

function say(sentence) {
  const line = document.getElementById("script-said");
  if (line) line.textContent = sentence;
}

function show() {
  for (const chip of chips()) {
    const is = Boolean(picked) && chip.dataset.chip === picked.scene && chip.dataset.on === picked.on;
    chip.querySelector("button")?.setAttribute("aria-pressed", String(is));
  }
  for (const place of document.querySelectorAll(".script-place")) {
    // Nothing may move under what is being dragged, so these are for who presses.
    place.hidden = !picked || picked.dragged || (place.dataset.place === "" && picked.on === "");
  }
}

function pick(chip, dragged = false) {
  picked = { scene: chip.dataset.chip, on: chip.dataset.on, dragged };
  say(words("script.picked", picked));
  show();
}

function leave() {
  if (!picked) return;
  say(words("script.left", picked));
  picked = null;
  show();
}

async function put(what, day, before = "") {
  picked = null;
  if (what.on === day && (before === what.scene || day === "")) return show();
  const base = Number(document.getElementById("script-schedule").dataset.revision);
  moved = what.scene;
  const body = { scene: what.scene, day, from_day: what.on, before, base_revision: base };
  const sent = await send("PUT", "/api/v1/script/schedule", body);
  if (sent.state === "refused") say(words("frame.refused", { detail: sent.problem.detail }));
  else say(sent.state === "kept" ? words("frame.kept") : sent.answer.sentence);
  show();
}

document.addEventListener("click", (event) => {
  const place = event.target.closest?.("[data-place]");
  if (place && picked) {
    put(picked, place.dataset.place);
    return;
  }
  const chip = event.target.closest?.("#script-schedule [data-chip]");
  if (!chip || !event.target.closest("button")) return;
  if (!picked) pick(chip);
  else if (picked.scene === chip.dataset.chip && picked.on === chip.dataset.on) leave();
  else put(picked, chip.dataset.on, chip.dataset.chip);
});

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") leave();
});

// --- dragging

const over = (event) => event.target.closest?.("#script-schedule .script-day");
const unmark = () => document.querySelectorAll(".script-over").forEach((each) => each.classList.remove("script-over"));

document.addEventListener("dragstart", (event) => {
  const chip = event.target.closest?.("#script-schedule [data-chip]");
  if (!chip) return;
  event.dataTransfer.effectAllowed = "move";
  event.dataTransfer.setData("text/plain", chip.dataset.chip);
  pick(chip, true);
});
document.addEventListener("dragover", (event) => {
  const day = over(event);
  if (!day || !picked) return;
  event.preventDefault();
  unmark();
  (event.target.closest("[data-chip]") ?? day).classList.add("script-over");
});
document.addEventListener("drop", (event) => {
  const day = over(event);
  if (!day || !picked) return;
  event.preventDefault();
  unmark();
  put(picked, day.dataset.day, event.target.closest("[data-chip]")?.dataset.chip ?? "");
});
document.addEventListener("dragend", () => {
  unmark();
  leave();
});

document.addEventListener("htmx:after:swap", () => {
  show();
  if (!moved) return;
  const found = [...chips()].find((chip) => chip.dataset.chip === moved);
  moved = "";
  if (document.activeElement === document.body || !document.activeElement) found?.querySelector("button")?.focus();
});

// --- a script's file

const inBase64 = (file) =>
  new Promise((resolve, reject) => {
    const reader = new FileReader();
    reader.onload = () => resolve(String(reader.result).replace(/^[^,]*,/, ""));
    reader.onerror = () => reject(reader.error);
    reader.readAsDataURL(file);
  });

document.getElementById("script-form")?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const form = event.target;
  const line = document.getElementById("script-outcome");
  const tell = (sentence, refused = false) => {
    line.textContent = sentence;
    line.classList.toggle("refused", refused);
  };
  const remarks = document.getElementById("script-remarks");
  remarks.replaceChildren();
  const [file] = form.querySelector("input[type=file]").files;
  if (!file) return tell(words("script.no_file"), true);
  if (file.size > LARGEST_BYTES) return tell(words("script.too_large"), true);
  let data;
  try {
    data = await inBase64(file);
  } catch {
    return tell(words("script.unreadable"), true);
  }
  const sent = await send("POST", "/api/v1/script", { name: file.name, data });
  if (sent.state === "refused") return tell(words("frame.refused", { detail: sent.problem.detail }), true);
  if (sent.state === "kept") return tell(words("frame.kept"));
  tell(sent.answer.sentence);
  for (const sentence of sent.answer.remarks.slice(0, 20)) {
    remarks.append(Object.assign(document.createElement("li"), { textContent: sentence }));
  }
  form.reset();
});
