// Time code labels, counted exactly: {numerator, denominator, nominal, drop} is a rate.
// Drop-frame skips labels 00 and 01 (four of them at nominal 60) each minute but every tenth; SMPTE ST 12-1.

const two = (n) => String(n).padStart(2, "0");
const FORM = /^\s*(\d{1,2})[:;.,](\d{1,2})[:;.,](\d{1,2})([:;.,])(\d{1,3})\s*$/;

/** Frames from 00:00:00:00 to a label; null when the label does not exist at the rate. */
export function framesOf(label, rate) {
  const form = FORM.exec(label);
  if (!form) return null;
  const [hours, minutes, seconds, frames] = [form[1], form[2], form[3], form[5]].map(Number);
  if (hours > 23 || minutes > 59 || seconds > 59 || frames >= rate.nominal) return null;
  const dropped = rate.drop ? rate.nominal / 15 : 0;
  if (dropped && frames < dropped && seconds === 0 && minutes % 10) return null;
  const whole = hours * 60 + minutes;
  return rate.nominal * (whole * 60 + seconds) + frames - dropped * (whole - Math.floor(whole / 10));
}

/** The label so many frames after 00:00:00:00, around midnight. */
export function labelOf(count, rate) {
  const dropped = rate.drop ? rate.nominal / 15 : 0;
  const day = rate.nominal * 86400 - dropped * 1296;
  let frames = ((count % day) + day) % day;
  if (rate.drop) {
    const ten = rate.nominal * 600 - 9 * dropped;
    const first = rate.nominal * 60;
    const tens = Math.floor(frames / ten);
    const rest = frames % ten;
    const minutes = rest < first ? 0 : Math.floor((rest - first) / (first - dropped)) + 1;
    frames += dropped * (9 * tens + minutes);
  }
  const seconds = Math.floor(frames / rate.nominal);
  const mark = rate.drop ? ";" : ":";
  return `${two(Math.floor(seconds / 3600) % 24)}:${two(Math.floor(seconds / 60) % 60)}:${two(seconds % 60)}${mark}${two(frames % rate.nominal)}`;
}

/** The label of a clock that was jammed to `label` at `jammedMs`, at `atMs`. */
export function labelAt(atMs, jam, rate) {
  const passed = Math.floor(((atMs - jam.atMs) * rate.numerator) / (rate.denominator * 1000));
  return labelOf((framesOf(jam.timecode, rate) ?? 0) + passed, rate);
}

/** The time of day as a label, where nothing was jammed: hours, minutes and seconds are the clock's own. */
export function labelOfDay(atMs, rate) {
  const at = new Date(atMs);
  const frames = Math.floor((at.getMilliseconds() * rate.nominal) / 1000);
  const skipped = rate.drop && at.getSeconds() === 0 && at.getMinutes() % 10 && frames < rate.nominal / 15;
  const shown = skipped ? rate.nominal / 15 : frames; // a label that drop-frame does not have
  return `${two(at.getHours())}:${two(at.getMinutes())}:${two(at.getSeconds())}${rate.drop ? ";" : ":"}${two(shown)}`;
}
