// The page of one take: waveforms under hand and keys, and listening from any point.
import { Player, keptLevel } from "./media_player.js";
import { Waveform, elapsed } from "./waveform.js";
import { words } from "./words.js";

const BEFORE_S = 1;
const AFTER_S = 1;
const TAP_PX = 6;
const section = document.querySelector(".picture");
if (section) begin(section);

function begin(section) {
  const take = JSON.parse(section.dataset.picture);
  const find = (what) => section.querySelector(what);
  const lanes = find(".lanes");
  const names = [...lanes.querySelectorAll(".names button")];
  lanes.style.setProperty("--lanes", String(take.tracks.length)); // by script's own door, which no page of others has
  const trouble = (sentence) => { find("[data-trouble]").textContent = sentence; };
  const wave = new Waveform(lanes, take, { trouble });
  const player = new Player(take, { state: playing, trouble: (sentence) => trouble(sentence || words("media.lost")) });
  const level = find("[data-level]");

  function playing(on) {
    find("[data-play-word]").textContent = words(on ? "media.stop" : "media.listen");
    find("[data-do=play]").setAttribute("aria-pressed", String(on));
    if (on) follow();
    else tellAt();
  }

  function follow() {
    if (!player.playing) return;
    wave.mark(player.now());
    tellAt();
    requestAnimationFrame(follow);
  }

  function tellAt() {
    find("[data-at]").textContent = place(wave.at);
    find("[data-on]").textContent = words("media.on_track", { n: wave.track, name: take.names[take.tracks.indexOf(wave.track)] });
    names.forEach((each) => each.setAttribute("aria-pressed", String(Number(each.dataset.track) === wave.track)));
  }

  /** Where a sample lies: time code where the take has one, else time from its start. */
  function place(sample) {
    if (!take.frameRate) return elapsed(sample / take.rate, 0.01);
    const [text, drop] = [take.frameRate.replace(/[^0-9/.]/g, ""), /d/i.test(take.frameRate)];
    const [top, bottom] = text.includes("/") ? text.split("/").map(Number) : exact(Number(text));
    if (drop || !top) return elapsed(sample / take.rate, 0.01);
    const frame = Math.floor(((take.start + sample) * top) / (take.rate * bottom));
    const perSecond = Math.ceil(top / bottom);
    const parts = [Math.floor(frame / perSecond / 3600) % 24, Math.floor(frame / perSecond / 60) % 60, Math.floor(frame / perSecond) % 60, frame % perSecond];
    return parts.map((each) => String(each).padStart(2, "0")).join(":");
  }

  function choose(track) {
    wave.track = track;
    wave.draw();
    tellAt();
    if (player.playing) listen(wave.at);
  }

  function listen(from, to) {
    trouble("");
    wave.mark(from >= take.frames - 1 ? 0 : from);
    player.play(wave.track, wave.at, to);
  }

  function setLevel(percent, keep = true) {
    level.value = String(percent);
    find("[data-level-out]").textContent = words("media.percent", { n: percent });
    player.setLevel(percent, keep);
  }

  const does = {
    play: () => (player.playing ? player.stop() : listen(wave.at)),
    earlier: () => wave.move(-0.5),
    later: () => wave.move(0.5),
    wider: () => wave.zoom(2),
    closer: () => wave.zoom(0.5),
    whole: () => wave.show(0, take.frames),
  };

  section.addEventListener("click", (event) => {
    const button = event.target.closest("[data-do]");
    if (button) does[button.dataset.do]();
    const name = event.target.closest(".names button");
    if (name) choose(Number(name.dataset.track));
  });

  // a spot is shown with a little around it, and heard at no more than the safe level to begin with
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-spot]");
    if (!button) return;
    const [start, length] = [Number(button.dataset.start), Number(button.dataset.length)];
    const from = Math.max(0, start - BEFORE_S * take.rate);
    const to = Math.min(take.frames, start + length + AFTER_S * take.rate);
    setLevel(player.lower());
    player.stop();
    wave.track = Number(button.dataset.track);
    wave.show(from - 0.5 * take.rate, to + 0.5 * take.rate);
    tellAt();
    lanes.scrollIntoView({ block: "nearest" });
    listen(from, to);
  });

  lanes.addEventListener("keydown", (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey) return;
    const span = wave.to - wave.from;
    const row = take.tracks.indexOf(wave.track);
    const keys = {
      ArrowLeft: () => wave.mark(wave.at - span / (event.shiftKey ? 4 : 40)),
      ArrowRight: () => wave.mark(wave.at + span / (event.shiftKey ? 4 : 40)),
      ArrowUp: () => choose(take.tracks[Math.max(0, row - 1)]),
      ArrowDown: () => choose(take.tracks[Math.min(take.tracks.length - 1, row + 1)]),
      Home: () => wave.mark(0),
      End: () => wave.mark(take.frames - 1),
      "+": does.closer,
      "=": does.closer,
      "-": does.wider,
      "−": does.wider,
      " ": does.play,
    };
    const act = keys[event.key];
    if (!act || (event.key === " " && event.target !== lanes)) return;
    event.preventDefault();
    const heard = player.playing;
    act();
    tellAt();
    if (heard && player.playing && event.key.startsWith("Arrow") && ["ArrowLeft", "ArrowRight"].includes(event.key)) listen(wave.at);
  });

  hands(wave, lanes, {
    tap: (sample, track) => {
      wave.track = track;
      wave.mark(sample);
      tellAt();
      if (player.playing) listen(sample);
    },
  });

  level.addEventListener("input", () => setLevel(Number(level.value)));
  find("[data-height]").addEventListener("change", (event) => {
    wave.height = Number(event.target.value);
    wave.draw();
  });
  // the other version opens at the same place
  document.querySelectorAll("[data-keep-view]").forEach((link) =>
    link.addEventListener("click", () => {
      link.hash = `from=${wave.from}&to=${wave.to}&at=${Math.round(wave.at)}&track=${wave.track}`;
    }),
  );
  addEventListener("pagehide", () => player.stop());

  setLevel(keptLevel(), false);
  const view = new URLSearchParams(location.hash.slice(1));
  const number = (name, otherwise) => (/^\d+$/.test(view.get(name) ?? "") ? Number(view.get(name)) : otherwise);
  const track = number("track", take.tracks[0]);
  wave.track = take.tracks.includes(track) ? track : take.tracks[0];
  wave.at = Math.min(number("at", 0), take.frames - 1);
  wave.show(number("from", 0), number("to", take.frames));
  tellAt();
}

/** Rates that are written short: 23.976 and its kin are exact thousandths of 1001. */
function exact(rate) {
  const whole = Math.round(rate);
  return Math.abs(rate - whole) < 1e-6 ? [whole, 1] : [Math.ceil(rate) * 1000, 1001];
}

/** Drag to move, tap to place, pinch or turn the wheel with Ctrl to zoom. */
function hands(wave, lanes, tell) {
  const down = new Map();
  let moved = 0;
  let pinch = 0;
  const canvas = wave.canvas;
  const gap = () => {
    const [a, b] = [...down.values()];
    return Math.max(20, Math.abs(a.x - b.x));
  };
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    down.set(event.pointerId, { x: event.clientX, y: event.clientY });
    if (down.size === 1) moved = 0;
    if (down.size === 2) pinch = gap();
    lanes.focus({ preventScroll: true });
  });
  canvas.addEventListener("pointermove", (event) => {
    const before = down.get(event.pointerId);
    if (!before) return;
    const by = event.clientX - before.x;
    down.set(event.pointerId, { x: event.clientX, y: event.clientY });
    if (down.size === 2) {
      const now = gap();
      const middle = [...down.values()].reduce((sum, each) => sum + each.x, 0) / 2;
      wave.zoom(pinch / now, wave.sampleAt(middle));
      pinch = now;
      moved = TAP_PX + 1;
      return;
    }
    moved += Math.abs(by);
    if (moved > TAP_PX) wave.move(-by / Math.max(canvas.clientWidth, 1));
  });
  const up = (event) => {
    if (!down.delete(event.pointerId)) return;
    if (event.type === "pointerup" && moved <= TAP_PX && !down.size) tell.tap(wave.sampleAt(event.clientX), wave.trackAt(event.clientY));
  };
  canvas.addEventListener("pointerup", up);
  canvas.addEventListener("pointercancel", up);
  canvas.addEventListener("wheel", (event) => {
    if (event.ctrlKey) {
      event.preventDefault();
      wave.zoom(event.deltaY > 0 ? 1.25 : 0.8, wave.sampleAt(event.clientX));
    } else if (Math.abs(event.deltaX) > Math.abs(event.deltaY)) {
      event.preventDefault();
      wave.move(event.deltaX / Math.max(canvas.clientWidth, 1));
    }
  }, { passive: false });
}
