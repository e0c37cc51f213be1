// The page Power: figures are changed in the form of what is tried, the server answers what the day would be, and
// nothing is saved before it is kept.
import { newestRevision } from "./forms.js";
import { send } from "./outbox.js";
import "./row_forms.js";
import { words } from "./words.js";

const ASK_AFTER_MS = 200;
const section = () => document.getElementById("power-try");
const form = () => document.getElementById("try-form");
const panel = () => document.getElementById("power-tried");
let timer = 0;
let asked = 0;
let base = 0; // the revision that what is tried was begun from

const first = (field) =>
  field.tagName === "SELECT" ? ([...field.options].find((each) => each.defaultSelected) ?? field.options[0]).value
    : field.type === "checkbox" ? field.defaultChecked : field.defaultValue;
const now = (field) => (field.type === "checkbox" ? field.checked : field.value);
const differs = (field) => String(first(field)) !== String(now(field)) && field.checkValidity() && String(now(field)) !== "";

/** What differs from the plan, by what it is of. */
function change() {
  const found = { count: {}, battery: {}, parallel: {}, state: {}, breaks: {}, times: {}, reserve: null, temperature: null };
  for (const field of form().querySelectorAll("[data-try]")) {
    if (!differs(field)) continue;
    const { try: what, id } = field.dataset;
    if (what === "reserve") found.reserve = Number(field.value) / 100;
    else if (what === "temperature") found.temperature = Number(field.value);
    else if (what === "count" || what === "parallel") found[what][id] = Number(field.value);
    else if (what === "breaks") found.breaks[id] = field.checked;
    else if (what === "from" || what === "to") found.times[id] = ["from", "to"].map((side) => document.getElementById(`try-${side}-${id}`).value.trim());
    else found[what][id] = field.value;
  }
  return found;
}

function written(found) {
  const asPairs = (pairs, told = String) => Object.entries(pairs).map(([id, value]) => `${id}:${told(value)}`).join(";");
  const given = { day: form().dataset.day };
  for (const what of ["count", "battery", "parallel", "state"]) given[what] = asPairs(found[what]);
  given.breaks = asPairs(found.breaks, (value) => (value ? "yes" : "no"));
  given.times = asPairs(found.times, (span) => span.join("-"));
  for (const what of ["reserve", "temperature"]) if (found[what] !== null) given[what] = String(found[what]);
  return new URLSearchParams(Object.entries(given).filter(([, value]) => value !== ""));
}

const inPlan = (found) => found.reserve !== null || ["count", "battery", "parallel", "state", "breaks", "times"].some((what) => Object.keys(found[what]).length);

function say(sentence, refused = false) {
  const line = document.getElementById("try-outcome");
  line.textContent = sentence;
  line.classList.toggle("refused", refused);
}

function show(told, found) {
  const place = (name) => panel().querySelector(`[data-tried="${name}"]`);
  const list = (name, sentences) => {
    place(name).replaceChildren(...sentences.map((each) => Object.assign(document.createElement("li"), { textContent: each })));
    const head = place(`${name}-head`);
    if (head) head.hidden = !sentences.length;
  };
  place("after").textContent = told.after;
  place("before").textContent = words("power.now", { told: told.before });
  place("sentence").textContent = told.sentence;
  for (const name of ["changed", "solved", "new"]) list(name, told[name]);
  panel().dataset.weight = told.weight;
  document.getElementById("try-keep").disabled = !inPlan(found);
  say(found.temperature !== null ? words("power.only_cold") : "");
  uncover();
}

/** What is typed in never lies below the answer to it. */
function uncover() {
  const field = document.activeElement;
  if (!form().contains(field)) return;
  const over = field.getBoundingClientRect().bottom + 12 - panel().getBoundingClientRect().top;
  if (over > 0) scrollBy({ top: over, behavior: "instant" });
}

async function ask() {
  const found = change();
  const mine = (asked += 1);
  const given = written(found);
  if ([...given.keys()].every((each) => each === "day")) {
    rest();
    return;
  }
  if (!base) base = Number(form().dataset.revision);
  section().setAttribute("hx-morph-skip", ""); // the plan may change beside: what is tried stays
  panel().hidden = false;
  panel().setAttribute("aria-busy", "true");
  try {
    const answer = await fetch(`/api/v1/power/try?${given}`, { headers: { Accept: "application/json" } });
    const told = await answer.json();
    if (mine !== asked) return;
    if (answer.ok) show(told, found);
    else say(told.detail, true);
    panel().dataset.answered = String(mine);
  } catch {
    if (mine === asked) say(words("power.not_now"), true);
  }
  panel().removeAttribute("aria-busy");
}

function rest() {
  asked += 1;
  base = 0;
  section()?.removeAttribute("hx-morph-skip");
  if (panel()) panel().hidden = true;
}

async function keep() {
  const found = change();
  const body = {
    count_of: found.count, battery_of: found.battery, parallel_of: found.parallel, state_of: found.state,
    break_of: found.breaks, times_of: found.times, base_revision: base,
  };
  if (found.reserve !== null) body.reserve = found.reserve;
  const outcome = await send("POST", "/api/v1/power/try", body);
  if (outcome.state === "refused") {
    if (outcome.problem.clashes) base = await newestRevision().catch(() => base);
    say(words(outcome.problem.clashes ? "frame.clash_again" : "frame.refused", { detail: outcome.problem.detail }), true);
    return;
  }
  if (outcome.state === "kept") {
    say(words("frame.kept"));
    return;
  }
  const wasCold = found.temperature !== null;
  rest();
  await anew();
  panel().hidden = false;
  for (const each of panel().querySelectorAll("ul")) each.replaceChildren();
  for (const each of panel().querySelectorAll("h3")) each.hidden = true;
  for (const name of ["before", "after"]) panel().querySelector(`[data-tried="${name}"]`).textContent = "";
  panel().querySelector('[data-tried="sentence"]').textContent = outcome.answer.sentence;
  document.getElementById("try-keep").disabled = true;
  say(wasCold ? words("power.only_cold") : words("power.kept"));
}

// The form with what the plan has by now.
async function anew() {
  const answer = await fetch(section().getAttribute("hx-get"));
  if (!answer.ok) return;
  const made = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("try-form");
  form().replaceWith(made);
}

function changedIn(event) {
  if (!event.target.matches?.("#try-form [data-try]")) return;
  clearTimeout(timer);
  timer = setTimeout(ask, ASK_AFTER_MS);
}

document.addEventListener("input", changedIn);
document.addEventListener("change", changedIn);
document.addEventListener("submit", (event) => {
  if (event.target.id !== "try-form") return;
  event.preventDefault();
  ask();
});
document.addEventListener("click", (event) => {
  if (event.target.id === "try-keep") keep();
  if (event.target.id === "try-back") {
    form().reset();
    rest();
  }
});
document.body.addEventListener("live-plan", () => {
  if (base) ask(); // the day beside what is tried may be another now
});
