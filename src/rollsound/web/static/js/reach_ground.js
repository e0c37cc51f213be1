// The ground of the page Reach: its measures, places on it, and what is asked of the server about it.
import { words } from "./words.js";

export const el = (id) => document.getElementById(id);
export const place = el("reach");
export const ground = place?.dataset.ground ?? "";
export const share = place?.dataset.share ?? ""; // of the time that sound is to hold, in words
export const may = place?.dataset.may === "yes";
export const field = el("reach-ground");
export const width = Number(field?.dataset.width);
export const depth = Number(field?.dataset.depth);
const LEAST_HIGH_PX = 240; // a long quay is as high as this on a phone too, and moves sideways in its frame

/** Ask about this ground; what goes wrong is told in a sentence of ours. */
export async function ask(path, more = {}) {
  let answer;
  let told;
  try {
    answer = await fetch(`/api/v1/reach/${ground}${path}?${new URLSearchParams(more)}`, { headers: { Accept: "application/json" } });
    told = await answer.json();
  } catch {
    throw new Error(words("reach.lost"));
  }
  if (!answer.ok) throw new Error(told.detail);
  return told;
}

/** Where on the ground a pointer is, in metres; to the decimetre where it is to be read by people. */
export function placeOf(event) {
  const box = field.getBoundingClientRect();
  const round = (value) => Math.round(value * 10) / 10;
  return [round(((event.clientX - box.left) / box.width) * width), round((1 - (event.clientY - box.top) / box.height) * depth)];
}

export const figure = (number) => number.toFixed(1).replace("-", "−");

/** Put a mark over the map. */
export function put(mark, [x, y]) {
  mark.style.left = `${(100 * x) / width}%`;
  mark.style.top = `${100 - (100 * y) / depth}%`;
}

/** Give the ground its form. */
export function shape() {
  field.style.aspectRatio = `${width} / ${depth}`;
  field.style.minWidth = `${Math.round((LEAST_HIGH_PX * width) / depth)}px`;
}

/** Move names that stand over the ground's edge inside, as far as they fit. */
export function keepInside(root) {
  const box = field.getBoundingClientRect();
  const names = [...root.querySelectorAll(".reach-label, .reach-antenna .name")];
  for (const each of names) each.style.marginLeft = "";
  const moves = names.map((each) => {
    const own = each.getBoundingClientRect();
    if (own.left < box.left) return Math.min(box.left - own.left, Math.max(0, box.right - own.right));
    return own.right > box.right ? -Math.min(own.right - box.right, Math.max(0, own.left - box.left)) : 0;
  });
  names.forEach((each, n) => {
    if (moves[n]) each.style.marginLeft = `${moves[n]}px`;
  });
}
