// Plays one track: short stretches one after another, so that a drive that is pulled costs one sentence and no fault.
// It starts at a safe level; the level chosen is kept for this session only.
import { patience } from "./outbox.js";

const STRETCH_S = 4;
const AHEAD_S = 6;
const SAFE = 20;
const KEY = "rollsound-level";

/** The level that listening starts at, in percent. */
export function keptLevel() {
  const kept = Number(sessionStorage.getItem(KEY) ?? SAFE);
  return Number.isFinite(kept) && kept >= 0 && kept <= 100 ? kept : SAFE;
}

export class Player {
  /**
   * @param {{id: string, frames: number, rate: number}} take
   * @param {{state: (playing: boolean) => void, trouble: (sentence: string) => void}} tell
   */
  constructor(take, tell) {
    this.take = take;
    this.tell = tell;
    this.level = keptLevel();
    this.context = null;
    this.run = 0;
    this.playing = false;
  }

  /** Set the level in percent; the ear hears it as the square, so that the low end has room. */
  setLevel(percent, keep = true) {
    this.level = percent;
    if (keep) sessionStorage.setItem(KEY, String(percent));
    if (this.gain) this.gain.gain.setTargetAtTime(this.#gain(), this.context.currentTime, 0.02);
  }

  /** A spot may be far louder than what was heard before: never begin it above the safe level. */
  lower() {
    if (this.level > SAFE) this.setLevel(SAFE);
    return this.level;
  }

  /** Listen to a track from a sample on, up to another (the end when left out). */
  async play(track, from, to = this.take.frames) {
    this.stop();
    const run = ++this.run;
    const Context = globalThis.AudioContext ?? globalThis.webkitAudioContext;
    try {
      this.context ??= new Context({ sampleRate: this.take.rate }); // at the file's own rate stretches join without a seam
    } catch {
      this.context ??= new Context();
    }
    await this.context.resume();
    if (run !== this.run) return;
    this.gain = this.context.createGain();
    this.gain.gain.value = this.#gain();
    this.gain.connect(this.context.destination);
    this.playing = true;
    this.from = from;
    this.to = Math.min(to, this.take.frames);
    this.startsAt = 0;
    this.tell.state(true);
    let next = from;
    while (next < this.to && run === this.run) {
      const seconds = Math.min(STRETCH_S, (this.to - next) / this.take.rate);
      const sound = await this.#fetch(track, next, seconds, run);
      if (run !== this.run) return;
      if (!sound) {
        this.stop();
        return;
      }
      const source = this.context.createBufferSource();
      source.buffer = sound;
      source.connect(this.gain);
      if (!this.startsAt) this.startsAt = this.context.currentTime + 0.05;
      source.start(Math.max(this.startsAt + (next - from) / this.take.rate, this.context.currentTime));
      next += Math.max(1, Math.round(seconds * this.take.rate));
      await this.#until(() => this.#heard() > (next - from) / this.take.rate - AHEAD_S, run);
    }
    await this.#until(() => this.#heard() >= (this.to - from) / this.take.rate, run);
    if (run === this.run) this.stop();
  }

  stop() {
    this.run++;
    if (this.gain) {
      const gain = this.gain;
      gain.gain.setTargetAtTime(0, this.context.currentTime, 0.01); // no click at the end
      setTimeout(() => gain.disconnect(), 80);
      this.gain = null;
    }
    if (this.playing) {
      this.playing = false;
      this.tell.state(false);
    }
  }

  /** The sample heard now. */
  now() {
    return this.playing ? Math.min(this.to, this.from + Math.max(0, this.#heard()) * this.take.rate) : this.from;
  }

  #gain() {
    return (this.level / 100) ** 2;
  }

  #heard() {
    return this.startsAt ? this.context.currentTime - this.startsAt : 0;
  }

  async #until(true_, run) {
    while (run === this.run && !true_()) await new Promise((resolve) => setTimeout(resolve, 50));
  }

  async #fetch(track, from, seconds, run) {
    const url = `/api/v1/media/${this.take.id}/listen?track=${track}&from=${Math.round(from)}&seconds=${seconds}`;
    try {
      const answer = await fetch(url, { signal: patience(20000) });
      if (!answer.ok) {
        const problem = await answer.json().catch(() => ({}));
        if (run === this.run) this.tell.trouble(problem.detail ?? answer.statusText);
        return null;
      }
      return await this.context.decodeAudioData(await answer.arrayBuffer());
    } catch {
      if (run === this.run) this.tell.trouble("");
      return null;
    }
  }
}
