// Lines of the day's log, from any page: each is kept on the device first, with the moment at which it happened, and is
// sent once, however long the connection is away. What waits is listed, so that nobody writes it again.
//   <form data-log="wearing" data-day="day-4">  a line of this kind      <button data-log="battery" data-fields='{…}'>
//   <form data-line="take-132" data-seen="132">  a change of a line      <button data-line="take-132" data-fields='{…}'>
//   <button data-line-drop="take-132">  takes a line out
import { fieldsOf, heldIn, typedSince } from "./forms.js";
import { allWaiting } from "./kept.js";
import { notice } from "./notices.js";
import { newKey, send } from "./outbox.js";
import { words } from "./words.js";

const LINES = "/api/v1/log/lines";
const SKEW = `rollsound-skew-${document.body.dataset.show}`;
const LONGEST = 120;
const MOST_TIMES = 6;
const page = document.body.dataset.page;
let skewMs = Number(stored(SKEW)) || 0;

function stored(name) {
  try { return localStorage.getItem(name); } catch { return null; }
}

/** Keep a small value on this device; null takes it away. */
export function store(name, value) {
  try {
    if (value === null) localStorage.removeItem(name);
    else localStorage.setItem(name, value);
  } catch { /* not kept on this device */ }
}

export const kept = stored;

/** The time where the show is served, as well as this device knows it: clocks of tablets may be minutes off. */
export const nowMs = () => Date.now() + skewMs;

// What is told takes a moment to come here, so that the largest of the last few differences is the nearest.
const differences = [];
document.addEventListener("rollsound-time", ({ detail }) => {
  differences.push(detail);
  if (differences.length > MOST_TIMES) differences.shift();
  skewMs = Math.max(...differences);
  store(SKEW, String(skewMs));
});

/** A moment with the offset of this place, as the log keeps it. */
export function isoLocal(ms) {
  const at = new Date(ms);
  const offset = -at.getTimezoneOffset();
  const two = (n) => String(Math.floor(Math.abs(n))).padStart(2, "0");
  const local = new Date(ms + offset * 60000).toISOString().slice(0, 23);
  return `${local}${offset < 0 ? "-" : "+"}${two(offset / 60)}:${two(offset % 60)}`;
}

/** An id for a line that is known before it is written. */
export const newLine = (kind) => `${kind}-${newKey().slice(0, 16)}`;

/** Write a line; resolves as `send` does. */
export function addLine(kind, fields, day, more = {}) {
  const { id = newLine(kind), at = nowMs(), ...rest } = more;
  return send("POST", LINES, { kind, fields, day, at: isoLocal(at), id }, rest);
}

/** Change fields of a line. */
export function changeLine(id, fields, seen, more = {}) {
  const body = Number.isInteger(seen) && seen > 0 ? { fields, seen } : { fields };
  return send("PUT", `${LINES}/${encodeURIComponent(id)}`, body, more);
}

/** What is said of an outcome. */
export function saidOf(outcome) {
  if (outcome.state === "saved") {
    const told = outcome.answer?.sentence ?? "";
    const [overlap] = outcome.answer?.overlaps ?? [];
    return overlap ? words(`${page}.overlap`, { sentence: told, who: overlap.person, field: overlap.field }) : told;
  }
  if (outcome.state === "kept") return words("frame.kept");
  return words("frame.refused", { detail: outcome.problem?.detail ?? "" });
}

function tell(source, outcome) {
  const place = source.querySelector?.("[data-outcome]") ?? document.getElementById("log-said");
  if (place) {
    place.textContent = saidOf(outcome);
    place.classList.toggle("refused", outcome.state === "refused");
  } else if (outcome.state === "refused") notice(saidOf(outcome));
}

// An empty field says nothing of a new line, and takes its field out of one that is there.
const written = (fields) => Object.fromEntries(Object.entries(fields).filter(([, value]) => value !== "" && value !== undefined));

async function sendForm(form) {
  if (form.matches("[aria-busy=true]")) return;
  form.setAttribute("aria-busy", "true");
  try {
    const held = await heldIn(form);
    const more = form.dataset.keep ? { draft: form.dataset.keep, held } : {};
    const fields = fieldsOf(form);
    const outcome = form.dataset.line
      ? await changeLine(form.dataset.line, fields, Number(form.dataset.seen), more)
      : await addLine(form.dataset.log, written(fields), form.dataset.day, more);
    const since = typedSince(form, held);
    if (outcome.state !== "refused" && !since) {
      form.removeAttribute("hx-morph-skip");
      if ("reset" in form.dataset) form.reset();
      form.closest("details[data-closes]")?.removeAttribute("open");
    }
    tell(form, outcome);
  } finally {
    form.removeAttribute("aria-busy");
  }
}

async function sendButton(button) {
  if (button.matches("[aria-busy=true]")) return;
  button.setAttribute("aria-busy", "true"); // a thumb that shakes touches twice
  try {
    const fields = JSON.parse(button.dataset.fields ?? "{}");
    const outcome = button.dataset.lineDrop
      ? await send("DELETE", `${LINES}/${encodeURIComponent(button.dataset.lineDrop)}`)
      : button.dataset.line
        ? await changeLine(button.dataset.line, fields, Number(button.dataset.seen))
        : await addLine(button.dataset.log, fields, button.dataset.day);
    tell(button, outcome);
  } finally {
    button.removeAttribute("aria-busy");
  }
}

document.addEventListener("submit", (event) => {
  if (!event.target.matches("form[data-log],form[data-line]")) return;
  event.preventDefault();
  sendForm(event.target);
});

document.addEventListener("click", (event) => {
  const button = event.target.closest?.("button[data-log],button[data-line],button[data-line-drop]");
  if (button) sendButton(button);
});

// What waits, in short words; the page's own part shows it once it is written.
function inWords(entry) {
  const body = entry.body ?? {};
  const values = Object.values(body.fields ?? {}).flatMap((each) => (typeof each === "object" && each ? Object.values(each) : [each]));
  const told = [body.kind, ...values.map((each) => (each === true ? "✓" : String(each)))].filter((each) => each && each !== "false").join(" · ");
  const short = told || entry.method;
  return short.length > LONGEST ? `${short.slice(0, LONGEST)}…` : short;
}

async function showWaiting() {
  const place = document.getElementById("log-waiting");
  if (!place) return;
  const mine = (await allWaiting()).filter((each) => each.url.startsWith("/api/v1/log/"));
  place.hidden = !mine.length;
  place.querySelector("ul").replaceChildren(...mine.map((each) => {
    const line = document.createElement("li");
    line.textContent = inWords(each);
    return line;
  }));
}

document.addEventListener("rollsound-waiting", showWaiting);
showWaiting();
