// Changes leave through here: kept on the device first, sent in their order, each with a key of its own, so that one
// that is sent twice counts once. Without a connection they wait, and go when it is back.
// A server that fails (a full disk, a fault) has not refused: the change waits as well. What is refused while nobody
// is there to be told stays on the device, in a list at the head of the sheet, until the person discards it. What the
// server fails at again and again can be discarded there too, for all others wait behind it.
// All pages of a browser share what waits, and any of them may send it: whichever does tells the others.
import { addWaiting, allWaiting, dropDraft, dropWaiting, getDraft, putDraft } from "./kept.js";
import { words } from "./words.js";

const LONGEST_PAUSE_MS = 30000;
const PATIENCE_MS = 20000;
const REFUSED = "refused changes";
const LONGEST_SHOWN = 160;
// Answers to "not now": asked too early, too often, or too slowly. All from 500 on are the server's own failing.
const NOT_NOW = [408, 425, 429];
const waitingFor = new Map(); // key -> those who want to know what became of it
const ownAt = new Map(); // "address field" -> the revision at which this device itself changed it
const others = globalThis.BroadcastChannel ? new BroadcastChannel(`rollsound-outbox-${document.body.dataset.show}`) : null;
let draining = null;
let pause = 1000;
let timer = 0;
let shutOut = false;
let failing = ""; // what the server says is wrong with it
let stuck = null; // the change at which it fails; all others wait behind it

/** A signal that gives a request up after a while; AbortSignal.timeout is not there on older tablets. */
export function patience(ms) {
  const given = new AbortController();
  setTimeout(() => given.abort(), ms);
  return given.signal;
}

/** A key that no other change has; crypto.randomUUID is not there on plain http. */
export function newKey() {
  return Array.from(crypto.getRandomValues(new Uint8Array(16)), (each) => each.toString(16).padStart(2, "0")).join("");
}

/**
 * Send a change. Resolves after the first attempt: {state: "saved", answer}, {state: "refused", problem} or
 * {state: "kept", problem?}: it waits here and will be sent.
 * @param {string} method
 * @param {string} url
 * @param {unknown} body an object is sent as JSON, a string as text; undefined sends nothing
 * @param {{draft?: string, held?: string, own?: boolean}} more draft: the kept draft that is done with once this is
 *   saved, unless it is no longer what the form held; own: the body has nothing but what the person changed, so that it
 *   was made knowing what the same device changed at this address before
 */
export async function send(method, url, body, more = {}) {
  const entry = { key: newKey(), method, url, body, draft: more.draft ?? "", held: more.held, own: more.own ?? false, at: Date.now() };
  const outcome = new Promise((resolve) => waitingFor.set(entry.key, resolve)); // before anybody can send it
  await addWaiting(entry);
  await tell();
  drain();
  return outcome;
}

/** How many changes wait. */
export async function waiting() {
  return (await allWaiting()).length;
}

/** Why changes wait although the server answers; empty when it takes them. */
export function failingBecause() {
  return failing;
}

/** Try now: the connection is back. */
export function hurry() {
  pause = 1000;
  clearTimeout(timer);
  drain();
}

function drain() {
  draining ??= alone(run).finally(() => {
    draining = null;
  });
  return draining;
}

const alone = (act) => (navigator.locks ? navigator.locks.request("rollsound-outbox", act) : act());

async function run() {
  for (;;) {
    const [entry] = await allWaiting();
    if (!entry || shutOut) break;
    const outcome = await attempt(entry);
    failing = outcome.state === "kept" ? (outcome.problem?.detail ?? "") : "";
    await setStuck(outcome.failed ? entry : null);
    if (outcome.state === "kept") {
      for (const waits of await allWaiting()) answer(waits, outcome);
      clearTimeout(timer);
      timer = setTimeout(drain, Math.max(pause, outcome.pauseMs ?? 0));
      pause = Math.min(pause * 2, LONGEST_PAUSE_MS);
      break;
    }
    pause = 1000;
    if (outcome.state === "refused" && !waitingFor.has(entry.key)) {
      await changeRefused((all) => [...all.filter((each) => each.key !== entry.key), { ...entry, problem: outcome.problem }]);
    }
    await dropWaiting(entry.order);
    if (outcome.state === "saved") {
      remember(entry, outcome);
      if (entry.draft) await dropHeld(entry);
      await changeRefused((all) => all.filter((each) => !replaces(entry, each)));
    }
    ended(entry, outcome);
    others?.postMessage({ entry, outcome });
  }
  await tell();
}

// What somebody has typed since is a draft of something else.
async function dropHeld(entry) {
  const draft = entry.held === undefined ? null : await getDraft(entry.draft);
  if (!draft || JSON.stringify(draft.value) === entry.held) await dropDraft(entry.draft);
}

const fieldsIn = (entry) => Object.keys(entry.body ?? {}).filter((name) => name !== "base_revision");

function remember(entry, outcome) {
  const { revision } = outcome.answer ?? {};
  if (!entry.own || !Number.isInteger(revision)) return;
  for (const name of fieldsIn(entry)) ownAt.set(`${entry.url} ${name}`, revision);
}

// Two changes of one field that waited together: the second was made knowing the first, which is no clash with it.
function bodyOf(entry) {
  const base = entry.body?.base_revision;
  if (!entry.own || !Number.isInteger(base)) return entry.body;
  const own = fieldsIn(entry).map((name) => ownAt.get(`${entry.url} ${name}`) ?? 0);
  if (!own.length) return entry.body;
  return { ...entry.body, base_revision: Math.max(base, Math.min(...own)) };
}

function answer(entry, outcome) {
  const resolve = waitingFor.get(entry.key);
  waitingFor.delete(entry.key);
  resolve?.(outcome);
  return Boolean(resolve);
}

function ended(entry, outcome) {
  const asked = answer(entry, outcome);
  document.dispatchEvent(new CustomEvent("rollsound-sent", { detail: { entry, outcome, awaited: asked } }));
  return asked;
}

// Another page of this browser sent a change, or discarded one.
others?.addEventListener("message", async ({ data: { entry, outcome } }) => {
  if (stuck?.key === entry.key) stuck = null;
  if (outcome.state === "saved") remember(entry, outcome);
  // it is told where it was made, so the list at the head need not
  if (ended(entry, outcome)) await changeRefused((all) => all.filter((each) => each.key !== entry.key));
  else await showRefused();
  await tell();
});

async function setStuck(entry) {
  if (stuck?.key === entry?.key) return;
  stuck = entry;
  await showRefused();
}

/** Give up a change that the server fails at; its text stays in the form it came from. */
async function discard(entry) {
  await alone(async () => {
    if (!(await allWaiting()).some((each) => each.key === entry.key)) return; // it went through meanwhile
    await dropWaiting(entry.order);
    failing = "";
    stuck = null;
    const outcome = { state: "refused", problem: { status: 0, detail: words("frame.discarded") } };
    ended(entry, outcome);
    others?.postMessage({ entry, outcome });
  });
  await showRefused();
  await tell();
  hurry();
}

// Corrected at the same place and taken: nothing is left of the refused one to decide.
function replaces(saved, refused) {
  if (saved.draft && saved.draft === refused.draft) return true;
  return saved.method === "PUT" && refused.method === "PUT" && saved.url === refused.url;
}

async function changeRefused(change) {
  const act = async () => {
    const before = (await getDraft(REFUSED))?.value ?? [];
    const after = change(before);
    if (before.length || after.length) await putDraft(REFUSED, after);
  };
  await (navigator.locks ? navigator.locks.request("rollsound-refused", act) : act());
  await showRefused();
}

async function showRefused() {
  const lines = ((await getDraft(REFUSED))?.value ?? []).map((entry) => {
    const line = document.createElement("p");
    const text = document.createElement("span");
    const shown = saidIn(entry);
    const key = shown ? "frame.not_accepted_of" : "frame.not_accepted";
    text.textContent = words(key, { detail: entry.problem.detail, what: shown });
    const forget = () => changeRefused((all) => all.filter((each) => each.key !== entry.key));
    line.append(text, button(words("frame.refused_discard"), "btn", forget));
    return line;
  });
  if (stuck) lines.push(stuckLine(stuck));
  document.getElementById("refused").replaceChildren(...lines);
}

/** What a person wrote in a change, as far as it can be shown in a line. */
function saidIn(entry) {
  const what = typeof entry.body === "string" ? entry.body : Object.values(entry.body ?? {}).filter((each) => typeof each === "string" && each).join(", ");
  return what.length > LONGEST_SHOWN ? `${what.slice(0, LONGEST_SHOWN)}…` : what;
}

function stuckLine(entry) {
  const more = document.createElement("details");
  const head = document.createElement("summary");
  head.textContent = words("frame.stuck");
  const lost = document.createElement("p");
  const shown = saidIn(entry);
  lost.textContent = shown ? words("frame.stuck_lost_of", { what: shown }) : words("frame.stuck_lost");
  const perhaps = document.createElement("p");
  perhaps.textContent = words("frame.stuck_perhaps");
  more.append(head, lost, perhaps, button(words("frame.stuck_discard"), "btn stop", () => discard(entry)));
  return more;
}

function button(label, kind, act) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = kind;
  made.textContent = label;
  made.addEventListener("click", act);
  return made;
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
      body: entry.body === undefined ? undefined : asText ? entry.body : JSON.stringify(bodyOf(entry)),
      signal: patience(PATIENCE_MS),
    });
  } catch {
    document.dispatchEvent(new Event("rollsound-lost"));
    return { state: "kept" };
  }
  let answered = null;
  try {
    if (response.status !== 204) answered = await response.json();
  } catch {
    if (response.ok) return { state: "kept" }; // cut off in the middle: the key makes asking again safe
  }
  if (response.status >= 500 || NOT_NOW.includes(response.status)) {
    const askedMs = 1000 * (Number(response.headers.get("Retry-After")) || 1); // it may be a date, which is no number
    const problem = answered?.detail ? answered : { status: response.status, detail: words("frame.server_failed") };
    return { state: "kept", problem, failed: response.status >= 500, pauseMs: Math.min(askedMs, LONGEST_PAUSE_MS) };
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
document.addEventListener("visibilitychange", showRefused); // another page may have discarded some
showRefused();
setTimeout(hurry, 0); // what an earlier visit left waiting
