// The page Rig: a changeover is flipped, a path lit or a failure tried by touching the drawing or by choosing from a
// list; what that means is asked of the server, and nothing is saved. The drawing is made larger and moved here.
import { notice } from "./notices.js";
import "./to_row.js";
import { words } from "./words.js";

const CLOSER = 1.3;
const LEAST = 0.1;
const MOST = 3;
const READABLE = 0.6; // on a narrow screen it opens no smaller than can be read
const NEAR_PX = [0, 5, 10, 15];
const DRAGGED_PX = 5;
const KEY_PX = 80;
const asked = () => document.getElementById("rig-asked");
const frame = () => document.getElementById("rig-frame");
const picture = () => frame()?.querySelector("svg");
const value = (name) => asked()?.elements.namedItem(name);
let zoom = 0; // none yet
let touched = "";

const ask = (name) => document.body.dispatchEvent(new CustomEvent(name));

function show() {
  const query = new URLSearchParams();
  for (const name of ["with", "source", "failed"]) if (value(name).value) query.set(name, value(name).value);
  history.replaceState(null, "", `${location.pathname}?${query}`);
  ask("rig-asked");
}

// --- flips

function flip(button) {
  const group = button.closest("[data-changeover]");
  const before = group.querySelector("[aria-pressed=true]");
  if (before === button) return;
  for (const each of group.querySelectorAll("[data-position]")) {
    const on = each === button;
    each.setAttribute("aria-pressed", String(on));
    each.classList.toggle("main", on);
  }
  const chosen = [...asked().querySelectorAll("[data-changeover]")].map(
    (each) => `${each.dataset.changeover}=${each.querySelector("[aria-pressed=true]").dataset.position}`,
  );
  value("with").value = chosen.join(", ");
  value("flip").value = [group.dataset.changeover, before?.dataset.position ?? "", button.dataset.position].join(":");
  ask("rig-flipped");
  show();
}

function choose(name, chosen) {
  value(name).value = chosen;
  value(name === "source" ? "failed" : "source").value = ""; // one at a time: both at once tell neither
  show();
}

// --- the drawing: how large, and what of it

const own = (name) => Number(picture().getAttribute("viewBox").split(" ")[name === "width" ? 2 : 3]);

function sized() {
  const svg = picture();
  if (!svg) return;
  if (!zoom) zoom = Math.min(1, Math.max(fitting(), READABLE));
  svg.setAttribute("width", String(Math.round(own("width") * zoom)));
  svg.removeAttribute("height");
}

const fitting = () => frame().clientWidth / own("width");

function zoomed(wanted, at) {
  const box = frame();
  const rect = box.getBoundingClientRect();
  const x = (at?.x ?? rect.left + box.clientWidth / 2) - rect.left;
  const y = (at?.y ?? rect.top + box.clientHeight / 2) - rect.top;
  const before = zoom;
  zoom = Math.min(Math.max(wanted, Math.min(LEAST, fitting())), MOST);
  sized();
  box.scrollLeft = ((box.scrollLeft + x) * zoom) / before - x;
  box.scrollTop = ((box.scrollTop + y) * zoom) / before - y;
}

const zooms = {
  in: () => zoomed(zoom * CLOSER),
  out: () => zoomed(zoom / CLOSER),
  whole: () => zoomed(fitting()),
  full: () => zoomed(1),
};

// What lies under a finger: a piece, else the nearest line.
function under(x, y) {
  for (const far of NEAR_PX) {
    for (const [dx, dy] of [[0, 0], [0, far], [0, -far], [far, 0], [-far, 0]]) {
      const hit = document.elementFromPoint(x + dx, y + dy)?.closest?.(".rig-frame [data-piece], .rig-frame [data-link]");
      if (hit) return hit;
    }
  }
  return null;
}

function button(text, act, chosen) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "btn";
  made.textContent = text;
  made.addEventListener("click", () => act(chosen));
  return made;
}

function touch(hit) {
  const bar = document.getElementById("rig-touched");
  for (const each of frame().querySelectorAll("[data-picked]")) each.removeAttribute("data-picked");
  bar.hidden = !hit;
  touched = "";
  if (!hit) return;
  const { piece, link } = hit.dataset;
  const what = piece ? `piece:${piece}` : `link:${link}`;
  touched = what;
  hit.setAttribute("data-picked", "");
  const option = [...value("failed").options].find((each) => each.value === what);
  bar.querySelector("[data-touched]").textContent = option?.textContent ?? hit.querySelector("title")?.textContent ?? "";
  const acts = [];
  const sources = piece ? (JSON.parse(document.getElementById("rig-choose").dataset.sources)[piece] ?? []) : [];
  for (const id of sources) {
    const name = [...value("source").options].find((each) => each.value === id)?.textContent ?? id;
    acts.push(button(words("rig.light", { name }), (chosen) => choose("source", chosen), id));
  }
  if (option) acts.push(button(words("rig.fail"), (chosen) => choose("failed", chosen), what));
  const [listed, id] = piece ? ["pieces", piece] : ["links", link];
  if (document.getElementById("rig-form")) acts.push(button(words("rig.edit"), () => edit(listed, id), ""));
  bar.querySelector("[data-acts]").replaceChildren(...acts);
}

// One pointer drags (a finger scrolls by itself), two bring it closer.
const pointers = new Map();
let from = null;
let pinch = null;

const spread = () => {
  const [one, other] = [...pointers.values()];
  return Math.hypot(one.x - other.x, one.y - other.y);
};
const between = () => {
  const [one, other] = [...pointers.values()];
  return { x: (one.x + other.x) / 2, y: (one.y + other.y) / 2 };
};

document.addEventListener("pointerdown", (event) => {
  const box = frame();
  if (!box?.contains(event.target) || event.button) return;
  pointers.set(event.pointerId, { x: event.clientX, y: event.clientY });
  from = { x: event.clientX, y: event.clientY, left: box.scrollLeft, top: box.scrollTop, moved: false };
  if (pointers.size === 2) pinch = { spread: spread(), zoom };
});
document.addEventListener("pointermove", (event) => {
  if (!pointers.has(event.pointerId)) return;
  pointers.set(event.pointerId, { x: event.clientX, y: event.clientY });
  if (pointers.size === 2 && pinch) {
    zoomed((pinch.zoom * spread()) / pinch.spread, between());
    from = null;
  } else if (from) {
    const [dx, dy] = [event.clientX - from.x, event.clientY - from.y];
    from.moved ||= Math.hypot(dx, dy) > DRAGGED_PX;
    if (!from.moved || event.pointerType !== "mouse") return;
    frame().classList.add("held");
    frame().scrollLeft = from.left - dx;
    frame().scrollTop = from.top - dy;
  }
});
for (const kind of ["pointerup", "pointercancel"]) {
  document.addEventListener(kind, (event) => {
    if (!pointers.delete(event.pointerId)) return;
    if (pointers.size < 2) pinch = null;
    frame()?.classList.remove("held");
    if (kind === "pointerup" && from && !from.moved) touch(under(event.clientX, event.clientY));
    from = null;
  });
}
document.addEventListener("touchmove", (event) => {
  if (event.touches.length > 1 && frame()?.contains(event.target)) event.preventDefault(); // the page stays as large as it is
}, { passive: false });
document.addEventListener("wheel", (event) => {
  if (!event.ctrlKey || !frame()?.contains(event.target)) return;
  event.preventDefault();
  zoomed(zoom * Math.exp(-event.deltaY / 300), { x: event.clientX, y: event.clientY });
}, { passive: false });
document.addEventListener("keydown", (event) => {
  if (event.target !== frame() || event.ctrlKey || event.altKey || event.metaKey) return;
  const moves = { ArrowLeft: [-KEY_PX, 0], ArrowRight: [KEY_PX, 0], ArrowUp: [0, -KEY_PX], ArrowDown: [0, KEY_PX] };
  if (event.key === "+" || event.key === "=") zooms.in();
  else if (event.key === "-") zooms.out();
  else if (event.key === "0") zooms.whole();
  else if (moves[event.key]) frame().scrollBy(...moves[event.key]);
  else return;
  event.preventDefault();
});

// Bring what is lit or struck out into view.
function lookAt() {
  const svg = picture();
  const marked = svg?.querySelector("g.failed, path.failed") ?? svg?.querySelector("g.lit");
  if (!marked) return;
  const box = frame().getBoundingClientRect();
  const at = marked.getBoundingClientRect();
  frame().scrollLeft += at.left + at.width / 2 - box.left - box.width / 2;
  frame().scrollTop += at.top + at.height / 2 - box.top - box.height / 2;
}

// --- the form of one item

async function edit(listed, id = "") {
  closed(); // what was typed there is kept as a draft
  const place = document.getElementById("rig-form");
  await globalThis.htmx.ajax("GET", `/pages/rig/part/form?${new URLSearchParams({ listed, id })}`, { target: place, swap: "outerMorph" });
  const title = document.getElementById("rig-form-title");
  if (title) title.focus();
  else notice(words("rig.not_now"));
}

function closed() {
  document.getElementById("rig-form").replaceChildren();
}

// --- everything that is touched

document.addEventListener("click", (event) => {
  const at = (selector) => event.target.closest?.(selector);
  const position = at("[data-position]");
  if (position) return flip(position);
  const size = at("[data-zoom]");
  if (size) return zooms[size.dataset.zoom]();
  const fails = at("[data-fail]");
  if (fails) {
    choose("failed", fails.dataset.fail);
    document.getElementById("rig-picture-title").scrollIntoView({ block: "start", behavior: "instant" });
    return undefined;
  }
  if (at("#rig-all")) {
    value("all").value = "1";
    return ask("rig-all");
  }
  const edited = at("[data-edit]");
  if (edited) return edit(edited.dataset.edit, edited.dataset.id);
  if (at("[data-close]")) return closed();
  return undefined;
});
document.addEventListener("change", (event) => {
  if (event.target.matches("#rig-source, #rig-failed")) choose(event.target.name, event.target.value);
});
document.addEventListener("submit", (event) => {
  if (event.target.id === "rig-asked") event.preventDefault();
});
document.body.addEventListener("rig-closed", closed);
document.body.addEventListener("rig-anew", () => location.reload());

let told = value("flip")?.value ?? "";
let shown = frame()?.closest("#rig-now").dataset.shows;
document.addEventListener("htmx:after:swap", () => {
  const wired = document.querySelector("#rig-answer[data-wired]");
  if (Boolean(frame()) !== Boolean(wired)) return location.reload(); // a rig came into the plan, or went
  if (!frame()) return undefined;
  const flipped = value("flip").value;
  if (flipped !== told && document.querySelector(".rig-sentence")) {
    told = flipped;
    document.getElementById("rig-change").scrollIntoView({ block: "nearest", behavior: "instant" });
  }
  sized();
  const now = frame().closest("#rig-now").dataset.shows;
  if (now !== shown) {
    shown = now;
    lookAt();
    touch(null);
  } else if (touched) {
    const [kind, id] = touched.split(":");
    touch(frame().querySelector(`[data-${kind}="${CSS.escape(id)}"]`));
  }
  return undefined;
});
addEventListener("resize", () => picture() && sized());
if (frame()) {
  sized();
  lookAt();
  frame().dataset.ready = "";
}
