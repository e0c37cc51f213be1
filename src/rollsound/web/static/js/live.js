// The live stream: news become events on the body ("live-plan"), and a gap is told at the head of the sheet.
import { failingBecause, patience, waiting } from "./outbox.js";
import { notice } from "./notices.js";
import { counted, words } from "./words.js";

const TOPICS = (document.body.dataset.topics || "").split(" ").filter(Boolean);
const SILENCE_MS = 25000;
const LOST_AFTER_MS = 1200;
const banner = document.getElementById("connection");
let source = null;
let last = "";
let boot = "";
let heard = 0;
let lost = false;
let lostTimer = 0;
let shutOut = false;
let because = ""; // why it was shut out, in the server's words

function raise(topic, data) {
  document.body.dispatchEvent(new CustomEvent(`live-${topic}`, { detail: data, bubbles: true }));
}

async function show() {
  if (shutOut) {
    banner.textContent = because || words("frame.shut_out");
    banner.hidden = false;
    globalThis.caches?.delete("pages"); // what this device had seen is forgotten
    return;
  }
  const count = await waiting();
  if (lost) banner.textContent = count ? counted("frame.lost_waiting", count) : words("frame.lost");
  else if (count && failingBecause()) {
    banner.textContent = words(count === 1 ? "frame.held_one" : "frame.held", { n: count, detail: failingBecause() });
  } else if (count) banner.textContent = counted("frame.sending", count);
  banner.hidden = !lost && !count;
  document.documentElement.classList.toggle("lost", lost);
}

function gone() {
  clearTimeout(lostTimer);
  lostTimer = setTimeout(() => {
    if (!lost) {
      lost = true;
      show();
    }
  }, LOST_AFTER_MS);
}

function back() {
  clearTimeout(lostTimer);
  if (lost) lost = false;
  document.dispatchEvent(new Event("rollsound-connected"));
  show();
}

// The time of the machine that serves the show, for pages whose moments must be right on every device.
function tellTime({ now_ms: there }) {
  if (there) document.dispatchEvent(new CustomEvent("rollsound-time", { detail: there - Date.now() }));
}

function remember(event) {
  heard = Date.now();
  if (event.lastEventId) last = event.lastEventId;
}

// The person's role changed in the plan: what this page offers was made for the role before.
function standing(you) {
  if (!you.role || you.role === document.body.dataset.joined) return;
  notice(you.sentence, { label: words("frame.show_anew"), act: () => location.reload() });
}

function open() {
  if (source || shutOut || !("joined" in document.body.dataset)) return;
  source = new EventSource(`/events?after=${encodeURIComponent(last)}`);
  heard = Date.now();
  source.addEventListener("hello", (event) => {
    remember(event);
    const greeting = JSON.parse(event.data);
    tellTime(greeting);
    const anew = greeting.resync || (boot && boot !== greeting.boot);
    boot = greeting.boot;
    if (greeting.version && greeting.version !== document.body.dataset.version) notice(words("frame.new_version"));
    back();
    standing(greeting);
    if (anew) for (const topic of TOPICS) raise(topic, { anew: true });
  });
  source.addEventListener("beat", (event) => {
    remember(event);
    tellTime(JSON.parse(event.data));
  });
  source.addEventListener("you", (event) => {
    remember(event);
    standing(JSON.parse(event.data));
  });
  for (const topic of TOPICS) {
    source.addEventListener(topic, (event) => {
      remember(event);
      raise(topic, JSON.parse(event.data));
    });
  }
  source.onerror = () => {
    gone();
    close();
    setTimeout(look, 1000);
  };
}

function close() {
  source?.close();
  source = null;
}

async function look() {
  if (document.hidden) return;
  try {
    const answer = await fetch("/api/v1/show", { headers: { Accept: "application/json" }, signal: patience(5000) });
    if (answer.status === 401) {
      shutOut = true;
      because = (await answer.json().catch(() => null))?.detail ?? "";
      show();
      return;
    }
  } catch {
    setTimeout(look, 1000);
    return;
  }
  if (source) back(); // a short gap that the stream itself did not notice
  else open();
}

setInterval(() => {
  if (source && Date.now() - heard > SILENCE_MS) {
    gone();
    close();
    look();
  }
}, 5000);

// Browsers open six connections at most: pages that nobody sees leave theirs to the others, and catch up when seen.
document.addEventListener("visibilitychange", () => (document.hidden ? close() : open()));
addEventListener("pagehide", close);
addEventListener("pageshow", open);
addEventListener("offline", gone);
addEventListener("online", look);
document.addEventListener("rollsound-lost", () => {
  gone();
  setTimeout(look, 1000);
});
document.addEventListener("rollsound-shut-out", () => {
  shutOut = true;
  show();
});
document.addEventListener("rollsound-waiting", show);
document.addEventListener("htmx:error", () => { if (!shutOut) gone(); });
if (!document.hidden) open();
