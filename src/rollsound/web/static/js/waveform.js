// Draws the waveforms of a take's tracks on one canvas: lanes, flagged spots with shape, colour and word, a place mark.
// Colours are the page's own custom properties; lines are drawn to the device's own pixels.
import { patience } from "./outbox.js";

const FULL = 32767;
const CLOSEST_SAMPLES = 64;
const MOST_COLUMNS = 2400;
const WHOLE = 0.8;

export class Waveform {
  /**
   * @param {HTMLElement} place holds canvas.ruler, canvas.waves and ol.names
   * @param {object} take what the server told of it
   * @param {{trouble: (sentence: string) => void}} tell
   */
  constructor(place, take, tell) {
    this.place = place;
    this.take = take;
    this.tell = tell;
    this.canvas = place.querySelector("canvas.waves");
    this.ruler = place.querySelector("canvas.ruler");
    this.from = 0;
    this.to = take.frames;
    this.at = 0;
    this.track = take.tracks[0];
    this.height = 1;
    this.data = null;
    this.wanted = "";
    this.timer = 0;
    new ResizeObserver(() => this.refresh()).observe(this.canvas);
    new MutationObserver(() => this.draw()).observe(document.documentElement, { attributeFilter: ["data-theme"] });
    matchMedia("print").addEventListener("change", () => this.draw());
  }

  /** Show from one sample to another, inside the take and not closer than can be seen. */
  show(from, to) {
    const span = Math.min(this.take.frames, Math.max(to - from, Math.min(CLOSEST_SAMPLES, this.take.frames)));
    this.from = Math.round(Math.min(Math.max(0, from), this.take.frames - span));
    this.to = this.from + Math.round(span);
    this.draw();
    this.refresh();
  }

  /** Zoom by a factor about a sample. */
  zoom(factor, about = this.at >= this.from && this.at <= this.to ? this.at : (this.from + this.to) / 2) {
    this.show(about - (about - this.from) * factor, about + (this.to - about) * factor);
  }

  /** Move by a part of what is shown. */
  move(part) {
    const by = (this.to - this.from) * part;
    this.show(this.from + by, this.to + by);
  }

  /** Place the mark, and bring it into view. */
  mark(sample) {
    this.at = Math.round(Math.min(Math.max(0, sample), this.take.frames - 1));
    if (this.at < this.from || this.at > this.to) {
      const span = this.to - this.from;
      this.show(this.at - span / 10, this.at - span / 10 + span);
    } else this.draw();
  }

  sampleAt(x) {
    const box = this.canvas.getBoundingClientRect();
    return this.from + ((x - box.left) / Math.max(box.width, 1)) * (this.to - this.from);
  }

  trackAt(y) {
    const box = this.canvas.getBoundingClientRect();
    const lane = Math.floor(((y - box.top) / Math.max(box.height, 1)) * this.take.tracks.length);
    return this.take.tracks[Math.min(Math.max(lane, 0), this.take.tracks.length - 1)];
  }

  refresh() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.#fetch(), this.data ? 60 : 0);
    this.draw();
  }

  async #fetch() {
    const columns = Math.min(MOST_COLUMNS, Math.round(this.canvas.clientWidth * (devicePixelRatio || 1)));
    if (columns < 2) return;
    const key = `from=${this.from}&to=${this.to}&columns=${columns}`;
    if (key === this.wanted) return;
    this.wanted = key;
    try {
      const answer = await fetch(`/api/v1/media/${this.take.id}/waveform?${key}`, { signal: patience(20000) });
      if (key !== this.wanted) return;
      if (!answer.ok) {
        this.wanted = "";
        const problem = await answer.json().catch(() => ({}));
        this.tell.trouble(problem.detail ?? answer.statusText);
        return;
      }
      this.data = await answer.json();
      this.place.dataset.drawn = String(this.data.tracks.length);
      this.draw();
    } catch {
      if (key === this.wanted) this.wanted = "";
    }
  }

  draw() {
    cancelAnimationFrame(this.frame ?? 0);
    this.frame = requestAnimationFrame(() => this.#draw());
  }

  #draw() {
    const style = getComputedStyle(document.documentElement);
    const colour = (name) => style.getPropertyValue(`--${name}`).trim();
    const [width, height, pen] = sized(this.canvas);
    if (!width) return;
    const lane = height / this.take.tracks.length;
    const x = (sample) => ((sample - this.from) / (this.to - this.from)) * width;
    pen.clearRect(0, 0, width, height);
    pen.fillStyle = colour("sheet");
    pen.fillRect(0, 0, width, height);
    const chosen = this.take.tracks.indexOf(this.track);
    pen.fillStyle = colour("mark");
    pen.globalAlpha = 0.45;
    pen.fillRect(0, chosen * lane, width, lane);
    pen.globalAlpha = 1;
    this.#spans(pen, x, lane, width, colour);
    this.#waves(pen, x, lane, width, colour);
    pen.strokeStyle = colour("line");
    pen.lineWidth = 1;
    pen.beginPath();
    for (let n = 0; n <= this.take.tracks.length; n++) {
      const y = Math.min(Math.round(n * lane) + 0.5, height - 0.5);
      pen.moveTo(0, y);
      pen.lineTo(width, y);
    }
    pen.stroke();
    this.#labels(pen, x, lane, width, colour);
    const at = x(this.at);
    if (at >= 0 && at <= width) {
      pen.strokeStyle = colour("focus");
      pen.lineWidth = 2;
      pen.beginPath();
      pen.moveTo(at, 0);
      pen.lineTo(at, height);
      pen.stroke();
    }
    this.#ruler(colour);
  }

  #waves(pen, x, lane, width, colour) {
    if (!this.data) return;
    const { from_sample: from, to_sample: to, columns, tracks } = this.data;
    const step = (to - from) / columns;
    pen.fillStyle = colour("ink");
    for (const each of tracks) {
      const row = this.take.tracks.indexOf(each.track);
      const middle = (row + 0.5) * lane;
      const scale = ((lane / 2 - 2) * this.height) / FULL;
      const least = 0.75;
      const most = lane / 2 - 1;
      const wide = Math.max(x(from + step) - x(from), 0.6);
      if (step <= 2) {
        // so close that single samples show: a line through them
        pen.strokeStyle = colour("ink");
        pen.lineWidth = 1.25;
        pen.beginPath();
        for (let n = 0; n < each.lows.length; n++) {
          const y = middle - Math.max(-most, Math.min(most, ((each.lows[n] + each.highs[n]) / 2) * scale));
          pen.lineTo(x(from + (n + 0.5) * step), y);
        }
        pen.stroke();
        continue;
      }
      for (let n = 0; n < each.lows.length; n++) {
        const left = x(from + n * step);
        if (left > width || left + wide < 0) continue;
        const top = Math.min(each.highs[n] * scale, most);
        const bottom = Math.max(each.lows[n] * scale, -most);
        pen.fillRect(left, middle - top, wide, Math.max(top - bottom, least));
      }
    }
  }

  #spans(pen, x, lane, width, colour) {
    for (const [track, start, length, , weight] of this.take.spots) {
      const row = this.take.tracks.indexOf(track);
      const left = x(start);
      const right = Math.max(x(start + length), left + 2);
      if (right < 0 || left > width || length > WHOLE * this.take.frames) continue; // of a whole take the word is enough
      pen.fillStyle = colour(`${weight}-bg`);
      pen.fillRect(left, row * lane + 1, right - left, lane - 2);
      pen.fillStyle = colour(weight);
      pen.fillRect(left, (row + 1) * lane - 3, right - left, 3);
    }
  }

  #labels(pen, x, lane, width, colour) {
    pen.font = `600 12px ${getComputedStyle(this.place).fontFamily}`;
    pen.textBaseline = "middle";
    const taken = new Map(); // row -> right ends of the labels that stand there
    const rank = (spot) => (spot[4] === "stop" ? 0 : 2) + (spot[2] > WHOLE * this.take.frames ? 1 : 0);
    const heaviest = [...this.take.spots].sort((a, b) => rank(a) - rank(b) || a[1] - b[1]);
    for (const [track, start, length, kind, weight] of heaviest) {
      const row = this.take.tracks.indexOf(track);
      const whole = length > WHOLE * this.take.frames || (start <= this.from && start + length >= this.to);
      const left = whole ? 2 : x(start);
      if (left > width || x(start + length) < 0) continue;
      const y = row * lane + 10;
      const size = 10;
      const textWidth = pen.measureText(kind).width;
      const begin = Math.min(Math.max(left, 1), width - size - 2);
      const flip = begin + size + 5 + textWidth > width;
      const box = flip ? [begin - 5 - textWidth, begin + size] : [begin, begin + size + 5 + textWidth];
      const others = taken.get(row) ?? [];
      const clear = others.every(([l, r]) => box[1] + 4 < l || box[0] - 4 > r);
      const shapeClear = others.every(([l, r]) => begin + size + 1 < l || begin - 1 > r);
      if (!shapeClear) continue;
      shape(pen, weight, begin, y - size / 2, size, colour);
      if (clear) {
        const textX = flip ? begin - 5 - textWidth : begin + size + 5;
        pen.lineWidth = 4;
        pen.lineJoin = "round";
        pen.strokeStyle = colour("sheet");
        pen.strokeText(kind, textX, y);
        pen.fillStyle = colour(weight);
        pen.fillText(kind, textX, y);
        others.push(box);
      } else others.push([begin, begin + size]);
      taken.set(row, others);
    }
  }

  #ruler(colour) {
    const [width, height, pen] = sized(this.ruler);
    if (!width) return;
    pen.clearRect(0, 0, width, height);
    pen.font = `12px ${getComputedStyle(this.ruler).fontFamily}`;
    pen.textBaseline = "middle";
    const seconds = (this.to - this.from) / this.take.rate;
    const about = seconds / Math.max(2, Math.floor(width / 120));
    const steps = [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1800, 3600];
    const step = steps.find((each) => each >= about) ?? 7200;
    const begin = Math.ceil(this.from / this.take.rate / step);
    const end = this.to / this.take.rate;
    pen.fillStyle = colour("soft");
    pen.strokeStyle = colour("edge");
    pen.beginPath();
    for (let n = begin; n * step <= end; n++) {
      const left = ((n * step * this.take.rate - this.from) / (this.to - this.from)) * width;
      pen.moveTo(Math.round(left) + 0.5, height - 6);
      pen.lineTo(Math.round(left) + 0.5, height);
      const text = elapsed(n * step, step);
      const textWidth = pen.measureText(text).width;
      if (left + textWidth + 3 < width) pen.fillText(text, left + 3, height / 2 - 1);
    }
    pen.stroke();
  }
}

/** Stop is a filled square, watch an outlined triangle: never colour alone. */
function shape(pen, weight, x, y, size, colour) {
  pen.fillStyle = colour("sheet");
  pen.fillRect(x - 1, y - 1, size + 2, size + 2);
  pen.fillStyle = pen.strokeStyle = colour(weight);
  if (weight === "stop") {
    pen.fillRect(x, y, size, size);
    return;
  }
  pen.lineWidth = 1.6;
  pen.beginPath();
  pen.moveTo(x + size / 2, y + 1);
  pen.lineTo(x + size - 0.5, y + size - 1);
  pen.lineTo(x + 0.5, y + size - 1);
  pen.closePath();
  pen.stroke();
}

function sized(canvas) {
  const ratio = devicePixelRatio || 1;
  const width = canvas.clientWidth;
  const height = canvas.clientHeight;
  if (canvas.width !== Math.round(width * ratio) || canvas.height !== Math.round(height * ratio)) {
    canvas.width = Math.round(width * ratio);
    canvas.height = Math.round(height * ratio);
  }
  const pen = canvas.getContext("2d");
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  return [width, height, pen];
}

/** Seconds from the take's start, as fine as the step needs. */
export function elapsed(seconds, step = 1) {
  const minutes = Math.floor(seconds / 60 + 1e-9);
  const digits = step >= 1 ? 0 : Math.min(3, Math.ceil(-Math.log10(step) - 1e-9));
  const rest = Math.max(0, seconds - 60 * minutes).toFixed(digits);
  return `${minutes}:${rest.padStart(digits ? digits + 3 : 2, "0")}`;
}
