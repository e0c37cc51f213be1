// Changes leave through here: kept on the device first, sent in their order, each with a key of its own, so that one
// that is sent twice counts once. Without a connection they wait, and go when it is back.
import { addWaiting, allWaiting, dropDraft, dropWaiting } from "./kept.js";
import { notice } from "./notices.js";
import { words } from "./words.js";

const LONGEST_PAUSE_MS = 30000;
const PATIENCE_MS = 20000;
const waitingFor = new Map(); // order -> those who want to know what became of it
let draining = null;
let pause = 1000;
let timer = 0;
let shutOut = false;

/** A key that no other change has; crypto.randomUUID is not there on plain http. */
export function newKey() {
  return Array.from(crypto.getRandomValues(new Uint8Array(16)), (each) => each.toString(16).padStart(2, "0")).join("");
}

/**
 * Send a change. Resolves after the first attempt: {state: "saved", answer}, {state: "refused", problem} or
 * {state: "kept"}: it waits here and will be sent.
 * @param {string} method
 * @param {string} url
 * @param {unknown} body an object is sent as JSON, a string as text; undefined sends nothing
 * @param {{draft?: string}} more draft: the kept draft that is done with once this is saved
 */
export async function send(method, url, body, more = {}) {
  const entry = { key: newKey(), method, url, body, draft: more.draft ?? "", at: Date.now() };
  const order = await addWaiting(entry);
  const outcome = new Promise((resolve) => waitingFor.set(order, resolve));
  await tell();
  drain();
  return outcome;
}

/** How many changes wait. */
export async function waiting() {
  return (await allWaiting()).length;
}

/** Try now: the connection is back. */
export function hurry() {
  pause = 1000;
  clearTimeout(timer);
  drain();
}

function drain() {
  draining ??= (navigator.locks ? navigator.locks.request("rollsound-outbox", run) : run()).finally(() => {
    draining = null;
  });
  return draining;
}

async function run() {
  for (;;) {
    const [entry] = await allWaiting();
    if (!entry || shutOut) break;
    const outcome = await attempt(entry);
    if (outcome.state === "kept") {
      for (const waits of await allWaiting()) answer(waits.order, outcome);
      clearTimeout(timer);
      timer = setTimeout(drain, Math.max(pause, outcome.pauseMs ?? 0));
      pause = Math.min(pause * 2, LONGEST_PAUSE_MS);
      break;
    }
    pause = 1000;
    await dropWaiting(entry.order);
    if (outcome.state === "saved" && entry.draft) await dropDraft(entry.draft);
    const asked = answer(entry.order, outcome);
    if (outcome.state === "refused" && !asked) notice(words("frame.not_sent", { detail: outcome.problem.detail }));
    document.dispatchEvent(new CustomEvent("rollsound-sent", { detail: { entry, outcome } }));
  }
  await tell();
}

function answer(order, outcome) {
  const resolve = waitingFor.get(order);
  waitingFor.delete(order);
  resolve?.(outcome);
  return resolve !== undefined;
}

async function attempt(entry) {
  const asText = typeof entry.body === "string";
  let response;
  try {
    response = await fetch(entry.url, {
      method: entry.method,
      headers: {
        "X-Rollsound-Token": document.querySelector('meta[name="rollsound-token"]').content,
        "Idempotency-Key": entry.key,
        Accept: "application/json",
        ...(entry.body === undefined ? {} : { "Content-Type": asText ? "text/plain; charset=utf-8" : "application/json" }),
      },
      body: entry.body === undefined ? undefined : asText ? entry.body : JSON.stringify(entry.body),
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
  } catch {
    document.dispatchEvent(new Event("rollsound-lost"));
    return { state: "kept" };
  }
  if ([425, 429, 502, 503, 504].includes(response.status)) {
    return { state: "kept", pauseMs: 1000 * Number(response.headers.get("Retry-After") || 1) };
  }
  let answered = null;
  try {
    if (response.status !== 204) answered = await response.json();
  } catch {
    if (response.ok) return { state: "kept" }; // cut off in the middle: the key makes asking again safe
  }
  if (response.ok) return { state: "saved", answer: answered };
  if (response.status === 401) {
    shutOut = true;
    document.dispatchEvent(new Event("rollsound-shut-out"));
    return { state: "kept" };
  }
  return { state: "refused", problem: answered ?? { status: response.status, detail: response.statusText } };
}

async function tell() {
  document.dispatchEvent(new CustomEvent("rollsound-waiting", { detail: await waiting() }));
}

addEventListener("online", hurry);
document.addEventListener("rollsound-connected", hurry);
setTimeout(hurry, 0); // what an earlier visit left waiting
