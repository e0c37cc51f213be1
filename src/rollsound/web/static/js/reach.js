// The page Reach: a ground whose antennas are dragged, or moved by arrow keys, while the map follows; powers tried; the
// why of a place; two layouts side by side; readings of a walk test entered by touching the map.
import { send } from "./outbox.js";
import { words } from "./words.js";
import { drawMap } from "./reach_map.js";

const FINE = 160;
const COARSE = 56;
const STEP_M = 0.5;
const SMALL_STEP_M = 0.1;
const SETTLED_MS = 220;
const el = (id) => document.getElementById(id);
const place = el("reach");
const ground = place?.dataset.ground ?? "";
const may = place?.dataset.may === "yes";
const field = el("reach-ground");
const width = Number(field?.dataset.width);
const depth = Number(field?.dataset.depth);
const tried = { places: new Map(), powers: new Map() };
let drawing = null;
let map = null;
let tapping = false;

async function ask(path, more = {}) {
  const answer = await fetch(`/api/v1/reach/${ground}${path}?${new URLSearchParams(more)}`, { headers: { Accept: "application/json" } });
  const told = await answer.json();
  if (!answer.ok) throw new Error(told.detail);
  return told;
}

const chosen = () => ({
  transmitter: el("reach-transmitter").value,
  layout: el("reach-layout")?.value ?? "",
  at: [...tried.places].map(([id, [x, y]]) => `${id}:${x.toFixed(2)},${y.toFixed(2)}`).join(";"),
  power: [...tried.powers].map(([id, mw]) => `${id}:${mw}`).join(";"),
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
      el("reach-covered").textContent = words("reach.covered", { n: Math.floor(1000 * map.covered) / 10 });
      el("reach-outcome").textContent = "";
      drawMap(el("reach-map"), map);
      place.dataset.drawn = `${map.revision} ${columns}`;
    } catch (error) {
      el("reach-outcome").textContent = words("reach.not_now", { detail: error.message });
      place.dataset.drawn = "failed";
    }
  }
  asking = false;
}

function moving() {
  refresh(COARSE);
  clearTimeout(settle);
  settle = setTimeout(refresh, SETTLED_MS);
}

// --- marks over the map: antennas, stands, names, readings

function put(mark, [x, y]) {
  mark.style.left = `${(100 * x) / width}%`;
  mark.style.top = `${100 - (100 * y) / depth}%`;
}

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
    ...drawing.readings.map((each) => label(words("reach.reading", { level: each.level_dbm ?? "" }), [each.x_m, each.y_m], "reading")),
  ];
  const layout = el("reach-layout")?.value ?? "";
  for (const each of drawing.antennas) {
    if (layout && each.layouts.length && !each.layouts.includes(layout)) continue;
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
  if (focused) el("reach-marks").querySelector(`[data-antenna="${focused}"]`)?.focus();
}

const at = (antenna) => tried.places.get(antenna.id) ?? [antenna.x_m, antenna.y_m];

function set(mark, antenna) {
  const [x, y] = at(antenna);
  put(mark, [x, y]);
  mark.classList.toggle("tried", tried.places.has(antenna.id));
  if (may) mark.setAttribute("aria-label", words("reach.at", { name: antenna.name, x: x.toFixed(1), y: y.toFixed(1) }));
}

function moveTo(mark, antenna, [x, y]) {
  const inside = (value, most) => Math.round(Math.min(Math.max(value, 0), most) * 100) / 100;
  tried.places.set(antenna.id, [inside(x, width), inside(y, depth)]);
  set(mark, antenna);
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
    mark.setPointerCapture(event.pointerId);
  });
  mark.addEventListener("pointermove", (event) => {
    if (!off) return;
    const box = field.getBoundingClientRect();
    moveTo(mark, antenna, [((event.clientX - box.left - off[0]) / box.width) * width, (1 - (event.clientY - box.top - off[1]) / box.height) * depth]);
  });
  for (const end of ["pointerup", "pointercancel"]) mark.addEventListener(end, () => { off = null; });
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
    ...[...tried.places].map(([id, [x, y]]) => `${drawing.antennas.find((each) => each.id === id)?.name ?? id} ${x.toFixed(1)}, ${y.toFixed(1)} m`),
    ...[...tried.powers].map(([id, mw]) => words("reach.power_tried", { name: nameOf(id), power: mw })),
  ];
  el("reach-tried").hidden = !parts.length;
  el("reach-tried").querySelector("[data-tried-what]").textContent = words("reach.tried", { what: parts.join("; ") });
}

function putBack() {
  tried.places.clear();
  tried.powers.clear();
  showPower();
  marks();
  tellTried();
  refresh();
}

async function keep() {
  const changes = [
    ...[...tried.places].map(([id, [x, y]]) => [`/api/v1/reach/${ground}/antennas/${id}`, { x_m: x, y_m: y }]),
    ...[...tried.powers].map(([id, mw]) => [`/api/v1/radio/transmitters/${id}`, { power_mw: mw }]),
  ];
  for (const [url, body] of changes) {
    const outcome = await send("PUT", url, body);
    if (outcome.state === "refused") {
      el("reach-outcome").textContent = words("frame.refused", { detail: outcome.problem.detail });
      return;
    }
    if (outcome.state === "kept") {
      el("reach-outcome").textContent = words("frame.kept");
      return;
    }
  }
  tried.places.clear();
  tried.powers.clear();
  tellTried();
  await load();
}

function showPower() {
  const select = el("reach-transmitter");
  const box = el("reach-power-label");
  if (!box) return;
  box.hidden = !select.value;
  const now = tried.powers.get(select.value) ?? select.selectedOptions[0]?.dataset.power;
  if (now !== undefined && now !== "") el("reach-power").value = String(now);
}

// --- why, and walk tests: a place that is touched

function placeOf(event) {
  const box = field.getBoundingClientRect();
  const round = (value) => Math.round(value * 10) / 10;
  return [round(((event.clientX - box.left) / box.width) * width), round((1 - (event.clientY - box.top) / box.height) * depth)];
}

const figure = (number) => number.toFixed(1).replace("-", "−");

function cells(row, kinds) {
  const made = document.createElement("tr");
  row.forEach((text, n) => {
    const cell = document.createElement(n ? "td" : "th");
    if (!n) cell.scope = "row";
    if (kinds[n]) cell.className = kinds[n];
    cell.textContent = text;
    made.append(cell);
  });
  return made;
}

async function tellWhy(x, y) {
  const terms = el("why-terms");
  el("why-x").value = x;
  el("why-y").value = y;
  try {
    const told = await ask("/why", { ...chosen(), x, y });
    const share = told.share > 0.9999 ? 99.99 : Math.floor(1000 * told.share) / 10;
    el("why-at").textContent = words("reach.why", { transmitter: told.name, x, y, margin: figure(told.margin_db), share });
    const statuses = JSON.parse(terms.dataset.status);
    terms.replaceChildren(
      ...told.budgets.sort((one, other) => other.margin_db - one.margin_db).map((budget, n) => {
        const table = document.createElement("table");
        table.className = "reach-why-table";
        const caption = document.createElement("caption");
        const name = drawing.antennas.find((each) => each.id === budget.antenna)?.name ?? budget.antenna;
        caption.textContent = terms.dataset.antenna.replace("{antenna}", name).replace("{distance}", budget.distance_m);
        const head = document.createElement("thead");
        const line = document.createElement("tr");
        for (const [text, kind] of [[terms.dataset.term, ""], [terms.dataset.db, "n"], [terms.dataset.source, ""]]) {
          const cell = document.createElement("th");
          cell.scope = "col";
          cell.className = kind;
          cell.textContent = text;
          line.append(cell);
        }
        head.append(line);
        const body = document.createElement("tbody");
        for (const term of budget.terms) {
          const source = [term.source, statuses[term.status] ?? term.status].filter(Boolean).join(", ");
          body.append(cells([term.name, figure(term.db), source], ["", "n", "soft"]));
        }
        for (const [key, value] of [["level", budget.level_dbm], ["noise", budget.noise_dbm], ["needed", budget.needed_db], ["margin", budget.margin_db]]) {
          body.append(cells([terms.dataset[key], figure(value), ""], ["", "n", ""]));
        }
        if (!n) {
          table.append(caption, head, body);
          return table;
        }
        const folded = document.createElement("details"); // the best antenna decides; the others are one touch away
        const summary = document.createElement("summary");
        summary.textContent = caption.textContent;
        table.append(head, body);
        folded.append(summary, table);
        return folded;
      }),
    );
  } catch (error) {
    el("why-at").textContent = words("reach.not_now", { detail: error.message });
    terms.replaceChildren();
  }
}

function tapMode(on) {
  tapping = on;
  const button = el("walk-tap");
  button.setAttribute("aria-pressed", String(on));
  button.textContent = on ? button.dataset.tapping : button.dataset.tap;
  field.classList.toggle("tapping", on);
}

async function load() {
  drawing = await ask("");
  marks();
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
  el("reach-power")?.addEventListener("change", (event) => {
    tried.powers.set(el("reach-transmitter").value, Number(event.target.value));
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
      tellWhy(x, y);
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
    tellWhy(Number(el("why-x").value), Number(el("why-y").value));
  });
  el("walk-tap")?.addEventListener("click", () => {
    tapMode(!tapping);
    if (tapping) place.scrollIntoView({ block: "start", behavior: "instant" });
  });
  el("walk-form")?.addEventListener("sent", (event) => {
    if (event.detail.state !== "saved") return;
    for (const id of ["walk-x", "walk-y", "walk-level", "walk-note"]) el(id).value = "";
  });
  el("reach-compare")?.addEventListener("submit", async (event) => {
    event.preventDefault();
    const [first, second] = [el("compare-first").value, el("compare-second").value];
    const sides = el("reach-sides");
    try {
      const told = await ask("/compare", { first, second, transmitter: el("reach-transmitter").value });
      el("compare-outcome").textContent = "";
      sides.hidden = false;
      const maps = [[first, told.first], [second, told.second]].map(([name, side]) => {
        const figureOf = document.createElement("figure");
        const canvas = document.createElement("canvas");
        canvas.setAttribute("role", "img");
        canvas.setAttribute("aria-label", sides.dataset.alt.replace("{name}", name));
        canvas.style.aspectRatio = `${width} / ${depth}`;
        const caption = document.createElement("figcaption");
        caption.textContent = `${name}. ${words("reach.covered", { n: Math.floor(1000 * side.covered) / 10 })}`;
        figureOf.append(canvas, caption);
        return [figureOf, canvas, side];
      });
      sides.replaceChildren(...maps.map(([each]) => each));
      for (const [, canvas, side] of maps) drawMap(canvas, side);
      el("reach-differences").replaceChildren(
        ...told.differences.map((each) => {
          const line = document.createElement("li");
          line.textContent = `${each.sentence[0].toUpperCase()}${each.sentence.slice(1)}`;
          return line;
        }),
      );
    } catch (error) {
      el("compare-outcome").textContent = words("reach.not_now", { detail: error.message });
      sides.hidden = true;
    }
  });
  const redraw = () => map && drawMap(el("reach-map"), map);
  field.style.aspectRatio = `${width} / ${depth}`;
  new ResizeObserver(redraw).observe(field);
  new MutationObserver(redraw).observe(document.documentElement, { attributeFilter: ["data-theme"] });
  document.body.addEventListener("live-plan", () => load().catch(() => {}));
  showPower();
  load().catch((error) => {
    el("reach-outcome").textContent = words("reach.not_now", { detail: error.message });
    place.dataset.drawn = "failed";
  });
}
