// The page Radio: the spectrum's picture, and a carrier that is moved by pointer, arrows or typing. Every step is asked
// of the server, which answers what each transmitter would keep; nothing is saved before it is kept.
import { send } from "./outbox.js";
import { fieldsOf, heldIn, newestRevision, typedSince } from "./forms.js";
import { words } from "./words.js";
import { Spectrum } from "./radio_spectrum.js";

const ASK_EVERY_MS = 60;
const LARGEST_FILE = 4_000_000;
const NEAR_HZ = 12e6;
const place = document.getElementById("radio-picture");
const site = place?.dataset.site ?? "";
const tuner = document.getElementById("tuner");
const range = document.getElementById("tuner-range");
const typed = document.getElementById("tuner-typed");
let rows = [];
let revision = 0;
let wish = ""; // asked to be moved before its row was here
let tried = null; // {id, hz, base}: what is being moved, where to, and the revision that it was picked at
let wrong = ""; // why what is typed cannot be kept
let waits = null; // {url, hz}: what was kept on this device and is still to be sent

const where = (more = {}) => new URLSearchParams({ ...(site ? { site } : {}), ...more });

async function ask(path, more) {
  let answer;
  let told;
  try {
    answer = await fetch(`/api/v1/radio${path}?${where(more)}`, { headers: { Accept: "application/json" } });
    told = await answer.json();
  } catch {
    throw new Error(words("radio.lost"));
  }
  if (!answer.ok) throw new Error(told.detail);
  return told;
}

const spectrum = place
  ? new Spectrum(
      document.getElementById("spectrum"),
      (id, hz) => go(id, hz),
      (id) => pick(id, false),
      { threshold: words("radio.threshold"), free: words("radio.here_free") },
    )
  : null;

const rowOf = (id) => rows.find((each) => each.id === id);
const megahertz = (hz) => (hz / 1e6).toFixed(hz % 1000 ? 6 : 3);

function snapped(row, hz) {
  const least = row.low_hz + row.width_hz / 2;
  const most = row.high_hz - row.width_hz / 2;
  const first = Math.ceil((least - row.origin_hz) / row.step_hz);
  const last = Math.floor((most - row.origin_hz) / row.step_hz);
  const n = Math.min(Math.max(Math.round((hz - row.origin_hz) / row.step_hz), first), last);
  return row.origin_hz + n * row.step_hz;
}

function drawn() {
  const may = place.dataset.may === "yes";
  spectrum.carriers = rows.map((each) => ({
    id: each.id,
    name: each.wearer || each.name,
    kind: each.kind,
    hz: tried?.id === each.id ? tried.hz : each.freq_hz,
    weight: each.weight,
    movable: may && !each.fixed && each.low_hz > 0,
  }));
  spectrum.draw();
}

async function fetchAll() {
  try {
    const [state, behind] = await Promise.all([ask(""), ask("/spectrum")]);
    rows = state.rows;
    revision = state.revision;
    if (tried && !rowOf(tried.id)) letGo();
    spectrum.setBehind(behind);
    drawn();
    if (tried) wonder();
    place.dataset.drawn = String(revision);
    outcome("");
    const wished = wish;
    wish = "";
    if (wished) pick(wished);
  } catch (error) {
    place.dataset.drawn = "failed";
    outcome(words("radio.picture_not_now", { detail: error.message }));
  }
}

function outcome(sentence) {
  document.getElementById("radio-outcome").textContent = sentence;
}

// --- moving one carrier

async function pick(id, scroll = true) {
  const row = rowOf(id);
  if (!row || !tuner) {
    wish = id;
    return;
  }
  if (tried && tried.id !== id) paint(rows); // the one before goes back to where it is in the plan
  const from = row.freq_hz ?? snapped(row, (row.low_hz + row.high_hz) / 2);
  tried = { id, hz: from, base: revision };
  spectrum.picked = id;
  spectrum.free = null;
  tuner.hidden = false;
  tuner.querySelector("[data-tuned-name]").textContent = row.wearer || row.name;
  const name = range.dataset.words.replace("{name}", row.wearer || row.name);
  range.setAttribute("aria-label", name);
  Object.assign(range, { min: snapped(row, row.low_hz), max: snapped(row, row.high_hz), step: row.step_hz });
  told("");
  spectrum.near(from, NEAR_HZ);
  go(id, from);
  if (scroll) {
    place.scrollIntoView({ block: "start", behavior: "instant" });
    range.focus({ preventScroll: true });
  }
  try {
    const free = await ask("/free", { transmitter: id });
    if (tried?.id === id) {
      spectrum.free = free;
      spectrum.draw();
    }
  } catch {
    /* the margins of each step still tell */
  }
}

function go(id, hz) {
  const row = rowOf(id);
  if (!row || tried?.id !== id) return;
  tried.hz = snapped(row, hz);
  wrong = "";
  range.value = String(tried.hz);
  if (document.activeElement !== typed) typed.value = megahertz(tried.hz);
  tuner.querySelector("[data-tuned-frequency]").textContent = `${megahertz(tried.hz)} MHz`;
  drawn();
  wonder();
}

let asking = false;
let again = false;
async function wonder() {
  if (asking) {
    again = true;
    return;
  }
  asking = true;
  const { id, hz } = tried;
  const begun = performance.now();
  try {
    const answer = await ask("/move", { transmitter: id, hz });
    if (tried?.id === id) {
      const changed = new Map(answer.rows.map((each) => [each.id, each]));
      paint(answer.rows);
      for (const each of spectrum.carriers) each.weight = changed.get(each.id)?.weight ?? each.weight;
      spectrum.draw();
      const own = changed.get(id);
      const says = own ? `${own.margin}, ${own.says}. ${answer.verdict}` : answer.verdict;
      tuner.querySelector("[data-tuned-says]").textContent = says;
      range.setAttribute("aria-valuetext", `${megahertz(hz)} MHz, ${own?.margin ?? ""}`);
      tuner.dataset.weight = own?.weight ?? "";
      tuner.dataset.answered = String(hz);
    }
  } catch (error) {
    told(words("radio.not_now", { detail: error.message }), true);
  }
  setTimeout(() => {
    asking = false;
    if (again && tried) {
      again = false;
      wonder();
    }
  }, Math.max(0, ASK_EVERY_MS - (performance.now() - begun)));
}

// Margins in the table as they would be; what differs from the plan is marked.
function paint(margins) {
  for (const each of margins) {
    const line = document.getElementById(`row-${each.id}`);
    const plan = rowOf(each.id);
    if (!line || !plan) continue;
    const cell = (name) => line.querySelector(`[data-cell="${name}"]`);
    if (each.frequency) cell("frequency").textContent = each.frequency;
    cell("margin").textContent = each.margin;
    cell("says").textContent = each.says;
    cell("bar").setAttribute("width", each.bar);
    if (line.dataset.weight !== each.weight) {
      line.dataset.weight = each.weight;
      mark(cell("weight"), each.weight);
    }
    line.classList.toggle("tried", each.margin !== plan.margin || each.freq_hz !== plan.freq_hz);
  }
}

function mark(cell, weight) {
  const pattern = document.querySelector(`#radio-marks [data-mark="${weight}"]`);
  cell.replaceChildren(...(pattern ? [pattern.firstElementChild.cloneNode(true)] : []));
}

function told(sentence, refused = false) {
  const line = tuner.querySelector("[data-tuner-outcome]");
  line.textContent = sentence;
  line.classList.toggle("refused", refused);
}

function letGo() {
  tried = null;
  wrong = "";
  again = false;
  spectrum.picked = "";
  spectrum.free = null;
  tuner.hidden = true;
  paint(rows);
  for (const line of document.querySelectorAll("tr.tried")) line.classList.remove("tried");
  drawn();
}

// --- a frequency that is typed

const UNITS_HZ = { hz: 1, khz: 1e3, mhz: 1e6, ghz: 1e9 };

/** Hertz of what is typed, in MHz where no unit stands behind it; none where it is no frequency. */
function hertz(text) {
  const found = /^\s*(\d+(?:[.,]\d+)?)\s*([gmk]?hz)?\s*$/i.exec(text);
  return found ? Math.round(Number(found[1].replace(",", ".")) * UNITS_HZ[(found[2] ?? "MHz").toLowerCase()]) : null;
}

/** Go where the text says, as far as its transmitter tunes there; why not stays until something else is tried. */
function type(text) {
  const row = rowOf(tried.id);
  const hz = hertz(text);
  const [low, high] = [snapped(row, row.low_hz), snapped(row, row.high_hz)];
  if (hz === null) wrong = words("radio.not_understood", { text });
  else if (hz < low || hz > high) wrong = words("radio.outside", { low: megahertz(low), high: megahertz(high) });
  else {
    go(tried.id, hz);
    if (tried.hz !== hz) wrong = words("radio.off_step", { step: row.step_hz / 1000, near: megahertz(tried.hz) });
  }
  told("");
}

async function keep() {
  if (wrong) {
    told(wrong, true);
    return;
  }
  const { id, hz, base } = tried;
  const url = `/api/v1/radio/transmitters/${id}`;
  const buttons = tuner.querySelectorAll("button");
  for (const each of buttons) each.disabled = true;
  const sent = await send("PUT", url, { frequency_hz: hz, base_revision: base }, { own: true });
  for (const each of buttons) each.disabled = false;
  if (sent.state === "saved") saved(id, hz);
  else if (tried?.id !== id) return;
  else if (sent.state === "kept") {
    waits = { url, id, hz };
    told(words("frame.kept"));
  } else told(await refusal(sent.problem), true);
}

async function refusal(problem) {
  if (problem.clashes && tried) {
    try {
      tried.base = await newestRevision();
      return words("frame.clash_again", { detail: problem.detail });
    } catch { /* told as any other */ }
  }
  return words("frame.refused", { detail: problem.detail });
}

function saved(id, hz) {
  const row = rowOf(id);
  if (row) Object.assign(row, { freq_hz: hz, frequency: megahertz(hz) });
  if (tried?.id === id && tried.hz === hz && !wrong) {
    letGo();
    document.querySelector(`[data-pick="${id}"]`)?.focus({ preventScroll: true });
  }
  fetchAll();
}

document.addEventListener("rollsound-sent", ({ detail: { entry, outcome: sent, awaited } }) => {
  if (awaited || entry.url !== waits?.url || entry.body?.frequency_hz !== waits.hz) return;
  const { id, hz } = waits;
  waits = null;
  if (sent.state === "saved") saved(id, hz);
  else if (tried?.id === id) told(words("frame.refused", { detail: sent.problem.detail }), true);
});

if (tuner) {
  range.addEventListener("input", () => go(tried.id, Number(range.value)));
  typed.addEventListener("input", () => type(typed.value));
  typed.addEventListener("blur", () => tried && !wrong && (typed.value = megahertz(tried.hz)));
  tuner.addEventListener("keydown", (event) => {
    if (event.key === "Escape") letGo();
    else if (event.key === "Enter" && event.target.matches("input")) {
      event.preventDefault();
      keep();
    }
  });
  const acts = {
    keep,
    back: letGo,
    best() {
      const [best] = spectrum.free?.best_hz ?? [];
      if (best === undefined) return;
      spectrum.near(best, NEAR_HZ);
      go(tried.id, best);
    },
  };
  tuner.addEventListener("click", (event) => {
    const act = event.target.closest("[data-tuner]")?.dataset.tuner;
    if (act && tried) acts[act]();
  });
  document.addEventListener("click", (event) => {
    const id = event.target.closest?.("[data-pick]")?.dataset.pick;
    if (id) pick(id);
  });
}

if (place) {
  const views = {
    earlier: () => spectrum.turn(-0.5),
    later: () => spectrum.turn(0.5),
    wider: () => spectrum.zoom(2),
    closer: () => spectrum.zoom(0.5),
    whole: () => spectrum.whole(),
  };
  place.addEventListener("click", (event) => views[event.target.closest("[data-view]")?.dataset.view]?.());
  document.body.addEventListener("live-plan", () => fetchAll());
  document.addEventListener("htmx:after:swap", () => {
    if (tried) wonder(); // the table was drawn anew from the plan
  });
  fetchAll();
}

// --- a scan's file: read here, sent as text

document.getElementById("scan-form")?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const form = event.target;
  const outcomeLine = form.querySelector("[data-outcome]");
  const say = (sentence, refused = false) => {
    outcomeLine.textContent = sentence;
    outcomeLine.classList.toggle("refused", refused);
  };
  const [file] = form.querySelector("input[type=file]").files;
  if (!file) return say(words("radio.no_file"), true);
  if (file.size > LARGEST_FILE) return say(words("radio.too_large"), true);
  const { file: _left, ...fields } = fieldsOf(form);
  const held = await heldIn(form);
  const sent = await send("POST", "/api/v1/radio/scans", { ...fields, text: await file.text() });
  if (sent.state === "refused") return say(words("frame.refused", { detail: sent.problem.detail }), true);
  say(sent.state === "kept" ? words("frame.kept") : sent.answer.sentence);
  if (sent.state === "saved" && !typedSince(form, held)) form.reset();
});
