// Draws a map of reach on a canvas: bands of margin, a hatch where sound holds for too little of the time, and a line
// where that begins. Between the points of the grid it is drawn as it runs on.
const FROM_DB = -40;
const DB_STEP = 0.5;
const BANDS_DB = [0, 10, 20, 30];
const SHADES = [0.06, 0.18, 0.34, 0.52, 0.72];
const MOST_PX = 900;

function bytes(text) {
  const raw = atob(text);
  const made = new Uint8Array(raw.length);
  for (let n = 0; n < raw.length; n += 1) made[n] = raw.charCodeAt(n);
  return made;
}

function rgb(text) {
  const number = parseInt(text.trim().slice(1), 16);
  return [number >> 16, (number >> 8) & 255, number & 255];
}

/** Put a map, as the server told it, on a canvas. */
export function drawMap(canvas, map) {
  const style = getComputedStyle(document.documentElement);
  const colour = (name) => rgb(style.getPropertyValue(`--${name}`));
  const paper = colour("paper");
  const most = colour("series-1");
  const stop = colour("stop");
  const ink = colour("ink");
  const shades = SHADES.map((part) => paper.map((each, n) => Math.round(each + (most[n] - each) * part)));
  const wide = Math.min(Math.max(canvas.clientWidth, 1), MOST_PX);
  const high = Math.max(1, Math.round((wide * canvas.clientHeight) / Math.max(canvas.clientWidth, 1)));
  const margin = bytes(map.margin);
  const nines = bytes(map.nines);
  const { columns, rows, enough: least } = map;
  canvas.width = wide;
  canvas.height = high;
  const g = canvas.getContext("2d", { willReadFrequently: true }); // only ever filled with ready pixels
  const image = g.createImageData(wide, high);
  const { data } = image;
  const held = new Uint8Array(wide * high);
  for (let y = 0; y < high; y += 1) {
    const v = Math.min(Math.max(((high - y - 0.5) / high) * rows - 0.5, 0), rows - 1);
    const row = Math.min(Math.floor(v), Math.max(rows - 2, 0));
    const up = rows > 1 ? v - row : 0;
    for (let x = 0; x < wide; x += 1) {
      const u = Math.min(Math.max(((x + 0.5) / wide) * columns - 0.5, 0), columns - 1);
      const column = Math.min(Math.floor(u), Math.max(columns - 2, 0));
      const right = columns > 1 ? u - column : 0;
      const at = row * columns + column;
      const next = columns > 1 ? 1 : 0;
      const above = rows > 1 ? columns : 0;
      const mix = (values) =>
        (values[at] * (1 - right) + values[at + next] * right) * (1 - up) +
        (values[at + above] * (1 - right) + values[at + above + next] * right) * up;
      const db = FROM_DB + DB_STEP * mix(margin);
      let band = 0;
      while (band < BANDS_DB.length && db >= BANDS_DB[band]) band += 1;
      const enough = mix(nines) >= least;
      const n = y * wide + x;
      held[n] = enough ? 1 : 0;
      let [r, green, b] = shades[band];
      if (!enough && (x + y) % 9 < 2) [r, green, b] = stop;
      else if ((x && held[n] !== held[n - 1]) || (y && held[n] !== held[n - wide])) [r, green, b] = ink;
      data[4 * n] = r;
      data[4 * n + 1] = green;
      data[4 * n + 2] = b;
      data[4 * n + 3] = 255;
    }
  }
  g.putImageData(image, 0, 0);
}
