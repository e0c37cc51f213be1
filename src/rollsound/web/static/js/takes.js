// The page Takes: one large control rolls and cuts, marks go to the take that rolls or was cut last, and the slate goes
// on by itself, all of it also where nothing answers.
import { addLine, changeLine, kept, newLine, nowMs, saidOf, store } from "./daylog.js";
import { waiting } from "./outbox.js";
import { labelAt, labelOfDay, framesOf } from "./timecode.js";
import { words } from "./words.js";

const TYPING = "input,textarea,select,[contenteditable],summary,dialog *";
const ROLLING = `rollsound-rolling-${document.body.dataset.show}`;
const LAST = `rollsound-last-${document.body.dataset.show}`;
const KEYS_OFF = "rollsound-takes-keys-off";
const desk = document.getElementById("takes-desk");
const el = (id) => document.getElementById(id);
const slate = el("takes-slate");
let state = read();
let rolling = restored(ROLLING); // {id, words, timecodeIn, seen, fields}
let last = restored(LAST); // the take that was cut last, likewise
let ahead = null; // what may come next, as this device counts it
let edited = false; // somebody has written on the slate: it is theirs until it rolls
let promise = ""; // the promise that the next wild track keeps

function read() {
  return JSON.parse(el("takes-state").dataset.state);
}

function restored(name) {
  try { return JSON.parse(kept(name) ?? "null"); } catch { return null; }
}

const shown = (field) => slate.elements[field].value.trim();
const named = () => [shown("slate") || shown("kind"), shown("take")].filter(Boolean).join(" / ");
const labelNow = (ms) => (state.jam ? labelAt(ms, { timecode: state.jam.timecode, atMs: state.jam.at_ms }, state.rate) : labelOfDay(ms, state.rate));

function say(sentence, refused = false) {
  const place = el("log-said");
  place.textContent = sentence;
  place.classList.toggle("refused", refused);
}

function put(name, value) {
  if (slate.elements[name].value !== value) slate.elements[name].value = value;
}

function showSlate({ scene, slate: number, take, roll }) {
  put("scene", scene);
  put("slate", number);
  put("take", take);
  if (roll !== undefined) put("sound_roll", roll);
}

// What the server counts ahead is used up here, take by take, so that nothing has to be asked.
function takeOver() {
  ahead = JSON.parse(JSON.stringify(state.ahead));
  if (!edited) {
    put("kind", "take");
    showSlate({ scene: ahead.scene, slate: ahead.slate, take: ahead.take, roll: ahead.roll });
  }
}

function afterCut(kind) {
  edited = false;
  if (kind === "wild track" || kind === "room tone") {
    const list = kind === "wild track" ? ahead.wild : ahead.tone;
    list.shift();
    put("kind", "take");
    showSlate({ scene: ahead.scene, slate: ahead.slate, take: ahead.take });
    return;
  }
  const at = ahead.takes.indexOf(shown("take"));
  const followed = at >= 0 ? ahead.takes[at + 1] : String((Number.parseInt(shown("take"), 10) || 0) + 1);
  ahead.scene = shown("scene");
  ahead.slate = shown("slate");
  ahead.take = followed ?? "";
  put("take", ahead.take);
}

function newSlate() {
  if (rolling) return;
  const used = ahead.setups.indexOf(shown("slate"));
  ahead.setups.splice(0, used + 1);
  const next = ahead.setups.shift() ?? "";
  ahead.takes = Array.from({ length: 60 }, (_, n) => String(n + 1));
  ahead.slate = next;
  ahead.take = "1";
  put("kind", "take");
  showSlate({ scene: shown("scene") || ahead.scene, slate: next, take: "1" });
  edited = true;
  say(words("takes.slate_now", { slate: next }));
}

function setKind(kind) {
  if (rolling) return;
  const wanted = shown("kind") === kind ? "take" : kind;
  put("kind", wanted);
  edited = wanted !== "take";
  if (wanted === "wild track") showSlate({ scene: shown("scene"), slate: "", take: ahead.wild[0] ?? "" });
  else if (wanted === "room tone") showSlate({ scene: shown("scene"), slate: "", take: ahead.tone[0] ?? "" });
  else showSlate({ scene: shown("scene"), slate: ahead.slate, take: ahead.take });
  draw();
}

async function roll() {
  const at = nowMs();
  const fields = { scene: shown("scene"), slate: shown("slate"), take: shown("take"), kind: shown("kind"), sound_roll: shown("sound_roll"), timecode_in: labelNow(at) };
  if (promise && fields.kind === "wild track") fields.promise = promise;
  promise = "";
  for (const name of Object.keys(fields)) if (!fields[name]) delete fields[name];
  rolling = { id: newLine("take"), words: named(), seen: 0, fields, at };
  store(ROLLING, JSON.stringify(rolling));
  draw();
  const mine = rolling;
  const outcome = await addLine("take", fields, state.day, { id: mine.id, at });
  if (outcome.state === "saved") known(mine, outcome);
  if (outcome.state === "refused" && rolling === mine) {
    rolling = null;
    store(ROLLING, null);
  }
  say(saidOf(outcome), outcome.state === "refused");
  draw();
}

async function cut() {
  const mine = rolling;
  const out = labelNow(nowMs());
  mine.fields.timecode_out = out;
  rolling = null;
  last = mine;
  store(ROLLING, null);
  store(LAST, JSON.stringify(last));
  afterCut(mine.fields.kind ?? "take");
  draw();
  await change(mine, { timecode_out: out });
}

function known(take, outcome) {
  const line = outcome.answer?.lines?.find((each) => each.id === take.id);
  if (!line) return;
  take.seen = line.changed;
  take.fields = line.fields;
}

async function change(take, fields) {
  const outcome = await changeLine(take.id, fields, take.seen);
  if (outcome.state === "saved") known(take, outcome);
  say(saidOf(outcome), outcome.state === "refused");
  draw();
}

// Marks belong to the take that rolls, else to the one that was cut last.
const marked = () => rolling ?? last;

async function mark(name) {
  const take = marked();
  if (!take) return;
  const fields = {};
  if (name === "circled") fields.circled = !take.fields.circled;
  else fields.kind = take.fields.kind === name ? "take" : name;
  Object.assign(take.fields, fields);
  draw();
  await change(take, fields);
}

async function note(text) {
  const take = marked();
  if (!take || !text) return;
  const whole = [take.fields.note, text].filter(Boolean).join(" ");
  take.fields.note = whole;
  draw();
  await change(take, { note: whole });
}

function draw() {
  const button = el("takes-roll");
  button.textContent = words(rolling ? "takes.cut" : "takes.roll");
  button.classList.toggle("rolling", Boolean(rolling));
  el("takes-now").textContent = rolling
    ? words("takes.rolling", { what: rolling.words, since: rolling.fields.timecode_in ?? "" })
    : words("takes.next", { what: named() });
  const take = marked();
  el("takes-marked").textContent = take ? words("takes.marks_of", { what: take.words }) : words("takes.marks_none");
  for (const each of desk.querySelectorAll("[data-mark]")) {
    each.disabled = !take;
    const on = take && (each.dataset.mark === "circled" ? take.fields.circled : take.fields.kind === each.dataset.mark);
    each.setAttribute("aria-pressed", String(Boolean(on)));
  }
  for (const each of desk.querySelectorAll("[data-note]")) each.disabled = !take;
  for (const each of desk.querySelectorAll("[data-kind]")) each.setAttribute("aria-pressed", String(shown("kind") === each.dataset.kind));
  el("takes-note-send").disabled = !take;
  for (const each of slate.elements) each.disabled = Boolean(rolling);
}

// The server knows of takes that others rolled and cut. While changes of ours wait it does not know of ours.
async function settle() {
  state = read();
  if (await waiting() || Math.max(rolling?.seen ?? 0, last?.seen ?? 0) > state.number) return;
  const there = state.rolling;
  if (there && there.id !== rolling?.id) rolling = { id: there.id, words: there.words, seen: there.changed, fields: there.fields };
  else if (!there && rolling) {
    rolling = null;
    store(ROLLING, null);
  }
  if (rolling && there) Object.assign(rolling, { seen: there.changed, fields: there.fields });
  last = state.last ? { id: state.last.id, words: state.last.words, seen: state.last.changed, fields: state.last.fields } : null;
  store(LAST, last ? JSON.stringify(last) : null);
  takeOver();
  draw();
}

function tick() {
  const text = labelNow(nowMs());
  const clock = el("takes-clock");
  if (!document.hidden && clock.textContent !== text) clock.textContent = text;
  requestAnimationFrame(tick);
}

const act = {
  r: () => (rolling ? cut() : roll()),
  c: () => mark("circled"),
  f: () => mark("false start"),
  x: () => mark("no good"),
  n: newSlate,
  w: () => setKind("wild track"),
  t: () => setKind("room tone"),
  "/": () => el("takes-note").focus(),
};

if (desk) {
  el("takes-roll").addEventListener("click", act.r);
  el("takes-new").addEventListener("click", newSlate);
  desk.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (button?.dataset.mark) mark(button.dataset.mark);
    if (button?.dataset.note) note(button.dataset.note);
    if (button?.dataset.kind) setKind(button.dataset.kind);
  });
  slate.addEventListener("input", () => {
    edited = true;
    draw();
  });
  slate.addEventListener("submit", (event) => event.preventDefault());
  el("takes-note-form").addEventListener("submit", (event) => {
    event.preventDefault();
    note(el("takes-note").value.trim());
    el("takes-note").value = "";
  });
  const keys = el("takes-keys");
  keys.checked = kept(KEYS_OFF) === null;
  keys.addEventListener("change", () => store(KEYS_OFF, keys.checked ? null : "off"));
  document.addEventListener("keydown", (event) => {
    if (!keys.checked || event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
    if (event.target.closest?.(TYPING) && event.target.type !== "checkbox") return;
    const found = act[event.key.toLowerCase()];
    if (!found) return;
    event.preventDefault();
    found();
  });
  document.addEventListener("click", (event) => {
    const kept = event.target.closest("[data-keeps]");
    if (!kept || rolling) return;
    if (shown("kind") !== "wild track") setKind("wild track");
    promise = kept.dataset.keeps;
    say(words("takes.keeps", { what: kept.dataset.text }));
  });
  el("takes-jam").addEventListener("submit", async (event) => {
    event.preventDefault();
    const at = nowMs();
    const field = el("takes-jam-code");
    if (framesOf(field.value, state.rate) === null) {
      say(words("takes.no_code", { text: field.value, rate: state.rate.name }), true);
      return;
    }
    const fields = { device: state.clock, source: el("takes-jam-source").value.trim(), timecode: field.value.trim() };
    if (!fields.source) delete fields.source;
    state.jam = { timecode: fields.timecode, at_ms: at };
    field.value = "";
    say(saidOf(await addLine("jam", fields, state.day, { at })));
  });
  document.addEventListener("htmx:after:swap", settle);
  document.addEventListener("rollsound-sent", ({ detail: { entry, outcome } }) => {
    // What waited and was sent by another page, or long after it was asked for.
    for (const take of [rolling, last]) if (take && (entry.body?.id === take.id || entry.url.endsWith(`/${take.id}`))) known(take, outcome);
  });
  takeOver();
  settle();
  draw();
  tick();
}
