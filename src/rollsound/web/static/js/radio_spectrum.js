// Draws the spectrum on one canvas: television and used spectrum, scans, products, carriers with a head for each use,
// and where the picked one may go. Colours are the page's own custom properties; nothing is told by colour alone.
const PAD = { left: 8, right: 8, top: 30, bottom: 26 };
const NARROWEST_HZ = 500_000;
const NEAR_PX = 24;
const LOW_DBM = -120;
const HIGH_DBM = -20;
const STEPS_HZ = [25e3, 50e3, 100e3, 200e3, 500e3, 1e6, 2e6, 5e6, 10e6, 20e6, 50e6, 100e6];

export class Spectrum {
  /**
   * @param {HTMLCanvasElement} canvas
   * @param {(id: string, hz: number) => void} moved a carrier is dragged
   * @param {(id: string) => void} picked a carrier is touched
   * @param {{scan: string, threshold: string, products: string, free: string}} words
   */
  constructor(canvas, moved, picked, words) {
    this.canvas = canvas;
    this.words = words;
    this.carriers = [];
    this.behind = null;
    this.free = null;
    this.picked = "";
    this.from = 0;
    this.to = 1;
    this.#drag(moved, picked);
    new ResizeObserver(() => this.draw()).observe(canvas);
    new MutationObserver(() => this.draw()).observe(document.documentElement, { attributeFilter: ["data-theme"] });
    matchMedia("print").addEventListener("change", () => this.draw());
  }

  /** What lies behind the carriers, as the server told it. */
  setBehind(behind) {
    const first = !this.behind;
    this.behind = behind;
    if (first) this.whole();
    else this.draw();
  }

  whole() {
    if (!this.behind?.high_hz) return;
    const room = 0.02 * (this.behind.high_hz - this.behind.low_hz);
    this.show(this.behind.low_hz - room, this.behind.high_hz + room);
  }

  show(from, to) {
    const low = this.behind.low_hz - 5e6;
    const high = this.behind.high_hz + 5e6;
    const span = Math.min(high - low, Math.max(to - from, NARROWEST_HZ));
    this.from = Math.min(Math.max(from, low), high - span);
    this.to = this.from + span;
    this.draw();
  }

  zoom(factor) {
    const chosen = this.carriers.find((each) => each.id === this.picked)?.hz;
    const about = chosen >= this.from && chosen <= this.to ? chosen : (this.from + this.to) / 2;
    this.show(about - (about - this.from) * factor, about + (this.to - about) * factor);
  }

  turn(part) {
    const by = (this.to - this.from) * part;
    this.show(this.from + by, this.to + by);
  }

  /** Bring a carrier into view, with its neighbours. */
  near(hz, spanHz) {
    if (this.to - this.from > spanHz || hz < this.from || hz > this.to) this.show(hz - spanHz / 2, hz + spanHz / 2);
  }

  x(hz) {
    return PAD.left + ((hz - this.from) / (this.to - this.from)) * (this.width - PAD.left - PAD.right);
  }

  hz(x) {
    return this.from + ((x - PAD.left) / (this.width - PAD.left - PAD.right)) * (this.to - this.from);
  }

  #drag(moved, picked) {
    const canvas = this.canvas;
    let held = "";
    let panFrom = null;
    canvas.addEventListener("pointerdown", (event) => {
      const x = event.offsetX;
      const near = this.carriers
        .filter((each) => each.hz !== null && each.movable)
        .map((each) => ({ each, far: Math.abs(this.x(each.hz) - x) - (each.id === this.picked ? 8 : 0) }))
        .sort((one, other) => one.far - other.far)[0];
      canvas.setPointerCapture(event.pointerId);
      if (near && near.far <= NEAR_PX) {
        held = near.each.id;
        if (held !== this.picked) picked(held);
      } else panFrom = { x, from: this.from, to: this.to };
    });
    canvas.addEventListener("pointermove", (event) => {
      if (held) moved(held, this.hz(event.offsetX));
      else if (panFrom) {
        const by = ((panFrom.x - event.offsetX) / Math.max(this.width, 1)) * (panFrom.to - panFrom.from);
        this.show(panFrom.from + by, panFrom.to + by);
      }
    });
    for (const end of ["pointerup", "pointercancel"]) {
      canvas.addEventListener(end, () => {
        held = "";
        panFrom = null;
      });
    }
  }

  draw() {
    const canvas = this.canvas;
    const ratio = devicePixelRatio || 1;
    this.width = canvas.clientWidth;
    this.height = canvas.clientHeight;
    if (!this.behind || !this.width) return;
    canvas.width = Math.round(this.width * ratio);
    canvas.height = Math.round(this.height * ratio);
    const g = canvas.getContext("2d");
    g.scale(ratio, ratio);
    const style = getComputedStyle(document.documentElement);
    this.colour = (name) => style.getPropertyValue(`--${name}`).trim();
    this.font = style.getPropertyValue("--text").trim();
    this.mono = style.getPropertyValue("--mono").trim();
    this.foot = this.height - PAD.bottom;
    g.clearRect(0, 0, this.width, this.height);
    this.#channels(g);
    this.#occupied(g);
    this.#scans(g);
    this.#products(g);
    this.#free(g);
    this.#axis(g);
    this.#carriers(g);
  }

  #channels(g) {
    g.font = `12px ${this.font}`;
    g.textAlign = "center";
    g.textBaseline = "middle";
    for (const each of this.behind.channels) {
      const [left, right] = [this.x(each.low_hz), this.x(each.high_hz)];
      if (right < 0 || left > this.width) continue;
      g.strokeStyle = this.colour("line");
      g.lineWidth = 1;
      g.strokeRect(Math.round(left) + 0.5, 0.5, Math.round(right - left), 17);
      if (right - left > 20) {
        g.fillStyle = this.colour("soft");
        g.fillText(each.name, Math.min(Math.max((left + right) / 2, left + 8), right - 8), 9);
      }
    }
  }

  #occupied(g) {
    for (const each of this.behind.occupied) {
      const [left, right] = [this.x(each.low_hz), Math.max(this.x(each.high_hz), this.x(each.low_hz) + 2)];
      if (right < 0 || left > this.width) continue;
      g.save();
      g.beginPath();
      g.rect(left, PAD.top - 10, right - left, this.foot - PAD.top + 10);
      g.clip();
      g.strokeStyle = this.colour("edge");
      g.globalAlpha = 0.55;
      g.lineWidth = 1;
      g.beginPath();
      const high = this.foot - PAD.top + 10;
      for (let x = Math.floor((left - high) / 9) * 9; x < right; x += 9) {
        g.moveTo(x, this.foot);
        g.lineTo(x + high, PAD.top - 10);
      }
      g.stroke();
      g.restore();
    }
  }

  #level(dbm) {
    const part = (Math.min(Math.max(dbm, LOW_DBM), HIGH_DBM) - LOW_DBM) / (HIGH_DBM - LOW_DBM);
    return this.foot - part * (this.foot - PAD.top) * 0.75;
  }

  #scans(g) {
    for (const scan of this.behind.scans) {
      g.strokeStyle = this.colour("series-5");
      g.lineWidth = 1.2;
      g.beginPath();
      let pen = false;
      scan.freqs_hz.forEach((hz, n) => {
        const x = this.x(hz);
        if (x < -50 || x > this.width + 50) {
          pen = false;
          return;
        }
        if (pen) g.lineTo(x, this.#level(scan.levels_dbm[n]));
        else g.moveTo(x, this.#level(scan.levels_dbm[n]));
        pen = true;
      });
      g.stroke();
      const y = Math.round(this.#level(scan.threshold_dbm)) + 0.5;
      g.setLineDash([5, 4]);
      g.beginPath();
      g.moveTo(PAD.left, y);
      g.lineTo(this.width - PAD.right, y);
      g.stroke();
      g.setLineDash([]);
      g.font = `12px ${this.font}`;
      g.textAlign = "right";
      g.textBaseline = "bottom";
      g.fillStyle = this.colour("soft");
      g.fillText(`${this.words.threshold} ${scan.threshold_dbm} dBm`, this.width - PAD.right, y - 2);
    }
  }

  // Where the picked one may go, as a band at the foot; the rest of its range is paper.
  #free(g) {
    if (!this.free) return;
    const { freqs_hz: freqs, margins_hz: margins } = this.free;
    const step = freqs.length > 1 ? freqs[1] - freqs[0] : 25e3;
    g.fillStyle = this.colour("series-3");
    const top = this.foot - 7;
    let begun = null;
    for (let n = 0; n <= freqs.length; n += 1) {
      const open = n < freqs.length && margins[n] >= 0;
      if (open && begun === null) begun = freqs[n];
      if (begun !== null && (!open || freqs[n] - freqs[Math.max(n - 1, 0)] > 1.5 * step)) {
        const left = this.x(begun - step / 2);
        const right = this.x(freqs[n - 1] + step / 2);
        if (right > 0 && left < this.width) g.fillRect(left, top, Math.max(right - left, 1), 7);
        begun = open ? freqs[n] : null;
      }
    }
    g.font = `12px ${this.font}`;
    g.textAlign = "left";
    g.textBaseline = "bottom";
    const first = freqs.find((hz, n) => margins[n] >= 0 && this.x(hz) >= PAD.left);
    if (first === undefined || this.x(first) > this.width - 90) return;
    const at = [this.x(first), this.foot - 56]; // over the products
    g.lineWidth = 4;
    g.strokeStyle = this.colour("paper");
    g.strokeText(this.words.free, ...at);
    g.fillText(this.words.free, ...at);
    g.fillRect(at[0] - 2, at[1] - 12, 1, top - at[1] + 12);
  }

  #products(g) {
    const { bins, of_two: two, of_three: three, bin_hz: bin } = this.behind;
    const columns = new Map();
    bins.forEach((each, n) => {
      const x = Math.round(this.x((each + 0.5) * bin));
      if (x < 0 || x > this.width) return;
      columns.set(x, (columns.get(x) ?? 0) + 2 * two[n] + three[n]);
    });
    g.fillStyle = this.colour("series-4");
    for (const [x, count] of columns) g.fillRect(x, this.foot - 8, 1, -Math.min(4 + 5 * Math.log2(1 + count), 44));
  }

  #axis(g) {
    g.strokeStyle = this.colour("line-strong");
    g.lineWidth = 1;
    g.beginPath();
    g.moveTo(0, this.foot + 0.5);
    g.lineTo(this.width, this.foot + 0.5);
    g.stroke();
    const least = (80 / this.width) * (this.to - this.from);
    const step = STEPS_HZ.find((each) => each >= least) ?? 100e6;
    g.font = `12px ${this.mono}`;
    g.textAlign = "center";
    g.textBaseline = "top";
    g.fillStyle = this.colour("soft");
    for (let hz = Math.ceil(this.from / step) * step; hz <= this.to; hz += step) {
      const x = this.x(hz);
      g.fillRect(Math.round(x), this.foot, 1, 5);
      const text = (hz / 1e6).toFixed(step >= 1e6 ? 0 : 3);
      if (x > 24 && x < this.width - 24) g.fillText(text, x, this.foot + 8);
    }
  }

  #carriers(g) {
    const placed = this.carriers.filter((each) => each.hz !== null);
    placed.sort((one, other) => one.hz - other.hz);
    let free = -Infinity;
    for (const each of placed) {
      const x = Math.round(this.x(each.hz)); // on whole pixels, so that thin lines stay sharp
      if (x < -10 || x > this.width + 10) continue;
      const own = each.id === this.picked;
      const colour = each.weight === "stop" ? this.colour("stop") : own ? this.colour("link") : this.colour("ink");
      g.strokeStyle = colour;
      g.fillStyle = colour;
      g.lineWidth = own ? 4 : 2;
      const top = PAD.top + 16;
      g.beginPath();
      g.moveTo(x, this.foot);
      g.lineTo(x, top);
      g.stroke();
      this.#head(g, each.kind, x, top - 6, own || each.weight === "stop");
      g.font = `${own ? "700 " : ""}12px ${this.font}`;
      const half = g.measureText(each.name).width / 2;
      const at = Math.min(Math.max(x, half + 2), this.width - half - 2);
      if (own || at - half > free) {
        g.textAlign = "center";
        g.textBaseline = "bottom";
        g.lineWidth = 4;
        g.strokeStyle = this.colour("paper");
        g.strokeText(each.name, at, top - 13);
        g.fillText(each.name, at, top - 13);
        free = at + half + 6;
      }
    }
  }

  #head(g, kind, x, y, filled) {
    g.beginPath();
    if (kind === "boom" || kind === "plant") g.rect(x - 4.5, y - 4.5, 9, 9);
    else if (kind === "monitor" || kind === "talkback") {
      g.moveTo(x, y - 5.5);
      g.lineTo(x + 5.5, y + 4.5);
      g.lineTo(x - 5.5, y + 4.5);
      g.closePath();
    } else g.arc(x, y, 4.5, 0, 2 * Math.PI);
    g.lineWidth = 1.8;
    if (filled) g.fill();
    else {
      const ink = g.fillStyle;
      g.fillStyle = this.colour("paper");
      g.fill();
      g.fillStyle = ink;
    }
    g.stroke();
  }
}
