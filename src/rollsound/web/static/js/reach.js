// The page Reach: a ground whose antennas are dragged, or moved by arrow keys, while the map follows; powers tried; the
// why of a place; two layouts side by side; readings of a walk test entered by touching the map.
import { newestRevision } from "./forms.js";
import { send } from "./outbox.js";
import { words } from "./words.js";
import { ask, depth, el, field, ground, keepInside, may, place, placeOf, put, shape, share, width } from "./reach_ground.js";
import { drawMap } from "./reach_map.js";
import { comparing, tellWhy } from "./reach_why.js";

const FINE = 160;
const COARSE = 56;
const STEP_M = 0.5;
const SMALL_STEP_M = 0.1;
const SETTLED_MS = 220;
// What is tried: by id its place or power, and the revision of the plan that it was tried from.
const tried = { places: new Map(), powers: new Map() };
let drawing = null;
let map = null;
let tapping = false;
let dragging = false;
let late = false; // the plan was changed while something was dragged

const chosen = () => ({
  transmitter: el("reach-transmitter").value,
  layout: el("reach-layout")?.value ?? "",
  at: [...tried.places].map(([id, { at: [x, y] }]) => `${id}:${x.toFixed(2)},${y.toFixed(2)}`).join(";"),
  power: [...tried.powers].map(([id, { mw }]) => `${id}:${mw}`).join(";"),
});

// --- the map: a coarse one while something moves, a fine one when it rests

let asking = false;
let wanted = null;
let settle = 0;

function refresh(columns = FINE) {
  wanted = columns;
  if (!asking) fetchMap();
}

async function fetchMap() {
  asking = true;
  while (wanted) {
    const columns = wanted;
    wanted = null;
    try {
      map = await ask("/map", { ...chosen(), columns });
      el("reach-covered").textContent = words("reach.covered", { share, n: Math.floor(1000 * map.covered) / 10 });
      el("reach-outcome").textContent = "";
      drawMap(el("reach-map"), map);
      place.dataset.drawn = `${map.revision} ${columns}`;
    } catch (error) {
      notNow(error);
    }
  }
  asking = false;
}

function notNow(error) {
  el("reach-outcome").textContent = words("reach.not_now", { detail: error.message });
  place.dataset.drawn = "failed";
}

function moving() {
  refresh(COARSE);
  clearTimeout(settle);
  settle = setTimeout(refresh, SETTLED_MS);
}

// --- marks over the map: antennas, stands, names, readings

function label(text, at, kind) {
  const mark = document.createElement("span");
  mark.className = `reach-label ${kind}`;
  mark.textContent = text;
  mark.setAttribute("aria-hidden", "true");
  put(mark, at);
  return mark;
}

const middle = (points) => [0, 1].map((n) => (Math.min(...points.map((p) => p[n])) + Math.max(...points.map((p) => p[n]))) / 2);

function marks() {
  const focused = document.activeElement?.dataset?.antenna;
  const made = [
    ...drawing.areas.map((each) => label(each.name, middle(each.points_m), "area")),
    ...drawing.stands.map((each) => label(each.name, each.points_m[0], "stand")),
    ...drawing.readings.map((each) => label(each.level_dbm === null ? words("reach.reading_other") : words("reach.reading", { level: each.level_dbm }), [each.x_m, each.y_m], "reading")),
  ];
  const layout = el("reach-layout")?.value ?? "";
  const shown = drawing.antennas.filter((each) => !layout || !each.layouts.length || each.layouts.includes(layout));
  for (const each of shown) {
    const mark = document.createElement(may ? "button" : "span");
    if (may) mark.type = "button";
    mark.className = "reach-antenna";
    mark.dataset.antenna = each.id;
    const sign = document.createElement("span");
    sign.className = "sign";
    sign.setAttribute("aria-hidden", "true");
    const name = document.createElement("span");
    name.className = "name";
    name.textContent = each.name;
    mark.append(sign, name);
    set(mark, each);
    if (may) draggable(mark, each);
    made.push(mark);
  }
  el("reach-marks").replaceChildren(...made);
  keepInside(el("reach-marks"));
  if (focused) markOf(focused)?.focus();
  offered(shown);
}

const markOf = (id) => el("reach-marks").querySelector(`[data-antenna="${CSS.escape(id)}"]`);

// Antennas that lie over each other on a small screen are taken from this list.
function offered(antennas) {
  const select = el("reach-pick");
  if (!select) return;
  const before = select.value;
  const first = select.options[0];
  select.replaceChildren(first, ...antennas.map((each) => new Option(each.name, each.id)));
  select.value = antennas.some((each) => each.id === before) ? before : "";
  inFront(select.value);
}

function inFront(id) {
  for (const each of el("reach-marks").querySelectorAll(".reach-antenna")) each.classList.toggle("picked", each.dataset.antenna === id);
}

const at = (antenna) => tried.places.get(antenna.id)?.at ?? [antenna.x_m, antenna.y_m];

function set(mark, antenna) {
  const [x, y] = at(antenna);
  put(mark, [x, y]);
  mark.classList.toggle("tried", tried.places.has(antenna.id));
  if (may) mark.setAttribute("aria-label", words("reach.at", { name: antenna.name, x: x.toFixed(1), y: y.toFixed(1) }));
}

function moveTo(mark, antenna, [x, y]) {
  const inside = (value, most) => Math.round(Math.min(Math.max(value, 0), most) * 100) / 100;
  const base = tried.places.get(antenna.id)?.base ?? drawing.revision;
  tried.places.set(antenna.id, { at: [inside(x, width), inside(y, depth)], base });
  set(mark, antenna);
  keepInside(mark);
  tellTried();
  moving();
}

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

function draggable(mark, antenna) {
  let off = null;
  mark.addEventListener("pointerdown", (event) => {
    const box = field.getBoundingClientRect();
    const [x, y] = at(antenna);
    off = [event.clientX - box.left - (x / width) * box.width, event.clientY - box.top - (1 - y / depth) * box.height];
    dragging = true;
    mark.setPointerCapture(event.pointerId);
  });
  mark.addEventListener("pointermove", (event) => {
    if (!off) return;
    const box = field.getBoundingClientRect();
    moveTo(mark, antenna, [((event.clientX - box.left - off[0]) / box.width) * width, (1 - (event.clientY - box.top - off[1]) / box.height) * depth]);
  });
  const end = () => {
    off = null;
    dragging = false;
    if (late) load().catch(notNow);
  };
  for (const name of ["pointerup", "pointercancel"]) mark.addEventListener(name, end);
  mark.addEventListener("focus", () => inFront(antenna.id));
  mark.addEventListener("keydown", (event) => {
    const way = ARROWS[event.key];
    if (event.key === "Escape") putBack();
    if (!way) return;
    event.preventDefault();
    const step = event.shiftKey ? SMALL_STEP_M : STEP_M;
    const [x, y] = at(antenna);
    moveTo(mark, antenna, [x + way[0] * step, y + way[1] * step]);
  });
}

// --- what is tried, and keeping it

function nameOf(transmitter) {
  return drawing.transmitters[transmitter] ?? transmitter;
}

function tellTried() {
  if (!may) return;
  const parts = [
    ...[...tried.places].map(([id, { at: [x, y] }]) => `${drawing.antennas.find((each) => each.id === id)?.name ?? id} ${x.toFixed(1)}, ${y.toFixed(1)} m`),
    ...[...tried.powers].map(([id, { mw }]) => words("reach.power_tried", { name: nameOf(id), power: mw })),
  ];
  el("reach-tried").hidden = !parts.length;
  el("reach-tried").querySelector("[data-tried-what]").textContent = words("reach.tried", { what: parts.join("; ") });
  if (parts.length) tellKept("");
}

function tellKept(sentence, refused = false) {
  el("reach-kept").textContent = sentence;
  el("reach-kept").classList.toggle("refused", refused);
}

function putBack() {
  tried.places.clear();
  tried.powers.clear();
  showPower();
  marks();
  tellTried();
  refresh();
}

const underWay = new Set(); // addresses of what was kept here and is still to be sent

/** What is tried, as changes: where each is sent, and what the drawing has when it is. */
function changes() {
  const moved = [...tried.places].map(([id, now]) => ({
    from: tried.places,
    id,
    now,
    url: `/api/v1/reach/${ground}/antennas/${id}`,
    body: { x_m: now.at[0], y_m: now.at[1], base_revision: now.base },
    draw() {
      const antenna = drawing.antennas.find((each) => each.id === id);
      if (antenna) [antenna.x_m, antenna.y_m] = now.at;
    },
  }));
  const powered = [...tried.powers].map(([id, now]) => ({
    from: tried.powers,
    id,
    now,
    url: `/api/v1/radio/transmitters/${id}`,
    body: { power_mw: now.mw, base_revision: now.base },
    draw() {
      if (drawing.powers[id]) drawing.powers[id].now_mw = now.mw;
    },
  }));
  return [...moved, ...powered];
}

async function keep() {
  const buttons = el("reach-tried").querySelectorAll("button");
  for (const each of buttons) each.disabled = true;
  const sent = changes();
  const outcomes = await Promise.all(sent.map(({ url, body }) => send("PUT", url, body, { own: true })));
  let sentence = words("frame.saved");
  let refused = false;
  for (const [n, change] of sent.entries()) {
    const { state, problem } = outcomes[n];
    if (state === "refused") {
      if (!refused) sentence = await refusal(change, problem);
      refused = true;
      continue;
    }
    if (change.from.get(change.id) === change.now) change.from.delete(change.id); // it may have been moved on since
    change.draw();
    if (state !== "kept") continue;
    underWay.add(change.url);
    if (!refused) sentence = words("frame.kept");
  }
  for (const each of buttons) each.disabled = false;
  tellTried();
  tellKept(sentence, refused);
  if (underWay.size || refused) {
    marks();
    showPower();
    refresh();
  } else await load().catch(notNow);
}

async function refusal(change, problem) {
  if (problem.clashes) {
    try {
      change.now.base = await newestRevision();
      return words("frame.clash_again", { detail: problem.detail });
    } catch { /* told as any other */ }
  }
  return words("frame.refused", { detail: problem.detail });
}

document.addEventListener("rollsound-sent", ({ detail: { entry, outcome } }) => {
  if (!underWay.delete(entry.url)) return;
  if (outcome.state === "refused") tellKept(words("frame.refused", { detail: outcome.problem.detail }), true);
  else if (!underWay.size) tellKept(words("frame.saved"));
});

function showPower() {
  const id = el("reach-transmitter").value;
  const box = el("reach-power-label");
  const its = drawing?.powers[id];
  if (!box) return;
  box.hidden = !its;
  if (!its) return;
  const now = tried.powers.get(id)?.mw ?? its.now_mw;
  const select = el("reach-power");
  const options = its.offered_mw.map((mw) => new Option(words("reach.power_of", { power: mw }), String(mw)));
  if ([...select.options].map((each) => each.value).join() !== options.map((each) => each.value).join()) select.replaceChildren(...options);
  select.value = String(now);
}

// --- why, and walk tests: a place that is touched

const why = (x, y) => tellWhy(x, y, chosen(), drawing?.antennas ?? []);

function tapMode(on) {
  tapping = on;
  const button = el("walk-tap");
  button.setAttribute("aria-pressed", String(on));
  button.textContent = on ? button.dataset.tapping : button.dataset.tap;
  field.classList.toggle("tapping", on);
}

// A drag is not torn: what changed meanwhile is drawn when the pointer is up.
async function load() {
  late = dragging;
  if (late) return;
  const told = await ask("");
  late = dragging;
  if (late) return;
  drawing = told;
  marks();
  showPower();
  refresh();
}

if (place) {
  el("reach-transmitter").addEventListener("change", () => {
    showPower();
    refresh();
  });
  el("reach-layout")?.addEventListener("change", () => {
    marks();
    refresh();
  });
  el("reach-pick")?.addEventListener("change", (event) => {
    const mark = markOf(event.target.value);
    mark?.scrollIntoView({ block: "nearest", inline: "center" });
    mark?.focus({ preventScroll: true });
  });
  el("reach-power")?.addEventListener("change", (event) => {
    tried.powers.set(el("reach-transmitter").value, { mw: Number(event.target.value), base: drawing.revision });
    tellTried();
    refresh();
  });
  el("reach-tried")?.addEventListener("click", (event) => {
    const act = event.target.closest("[data-reach]")?.dataset.reach;
    if (act === "keep") keep();
    if (act === "back") putBack();
  });
  field.addEventListener("click", (event) => {
    if (event.target.closest(".reach-antenna")) return;
    const [x, y] = placeOf(event);
    if (!tapping) {
      why(x, y);
      return;
    }
    el("walk-x").value = x;
    el("walk-y").value = y;
    el("walk-form").dispatchEvent(new Event("input", { bubbles: true }));
    tapMode(false);
    el("walk-level").focus();
  });
  el("why-form").addEventListener("submit", (event) => {
    event.preventDefault();
    why(Number(el("why-x").value), Number(el("why-y").value));
  });
  el("walk-tap")?.addEventListener("click", () => {
    tapMode(!tapping);
    if (tapping) place.scrollIntoView({ block: "start", behavior: "instant" });
  });
  el("walk-form")?.addEventListener("sent", (event) => {
    if (event.detail.state !== "saved" || event.detail.since) return; // another reading may stand there by now
    for (const id of ["walk-x", "walk-y", "walk-level", "walk-note"]) el(id).value = "";
  });
  comparing();
  const redraw = () => map && drawMap(el("reach-map"), map);
  shape();
  new ResizeObserver(() => {
    redraw();
    keepInside(el("reach-marks"));
  }).observe(field);
  new MutationObserver(redraw).observe(document.documentElement, { attributeFilter: ["data-theme"] });
  document.body.addEventListener("live-plan", () => load().catch(notNow));
  load().catch(notNow);
}
