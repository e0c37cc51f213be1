// Plan: the text is kept as it is typed, looked at for mistakes, saved once, and merged with what others saved.
import { allWaiting, dropDraft, getDraft, putDraft } from "./kept.js";
import { patience, send } from "./outbox.js";
import { showClashes } from "./plan_clashes.js";
import { sectionsOf } from "./plan_text.js";
import { counted, words } from "./words.js";

const ADDRESS = "/api/v1/plan/text";
const DRAFT = "plan-text";
const here = (id) => document.getElementById(id);
const place = here("plan-text");
const plain = here("plan-plain");
const mayEdit = place.dataset.mayEdit === "yes";
const token = () => document.querySelector('meta[name="rollsound-token"]').content;

let base = { revision: Number(place.dataset.revision), text: plain.value };
let saving = null; // the text that is on its way
let mistakes = [];
let surface;
let timers = {};

/** A plain field, where the editor cannot be had. It is locked while a text is on its way. */
function plainSurface() {
  plain.readOnly = !mayEdit;
  plain.addEventListener("input", changed);
  return {
    text: () => plain.value,
    replace(text) { plain.value = text; changed(); },
    sent() { plain.readOnly = true; },
    settled(sent, merged) { plain.readOnly = false; plain.value = merged; changed(); },
    refused() { plain.readOnly = false; },
    mark() {},
    focus: () => plain.focus(),
    goTo(line) {
      const from = plain.value.split("\n").slice(0, line - 1).join("\n").length + (line > 1 ? 1 : 0);
      plain.focus();
      plain.setSelectionRange(from, from);
      plain.scrollTop = Math.max(0, (line - 3) * parseFloat(getComputedStyle(plain).lineHeight));
    },
  };
}

async function mount() {
  let schema = null;
  try {
    const { mountEditor } = await import("./plan_editor.js");
    const holder = document.createElement("div");
    const editor = mountEditor(holder, {
      text: plain.value, label: place.dataset.label, keys: "plan-keys", mayEdit, changed,
      schema: () => (schema ??= fetch("/api/v1/plan/schema").then((answer) => (answer.ok ? answer.json() : (schema = null))).catch(() => (schema = null))),
    });
    place.replaceChildren(holder);
    return editor;
  } catch (fault) {
    console.warn(fault);
    if (mayEdit) tell(words("plan.no_editor"));
    return plainSurface();
  }
}

const dirty = () => surface.text() !== base.text;

function tell(sentence, refused = false) {
  const line = here("plan-state");
  if (!line) return;
  line.textContent = sentence;
  line.classList.toggle("refused", refused);
}

function tellState() {
  if (saving) return;
  tell(dirty() ? words("plan.unsaved") : words("plan.saved_state"));
  here("plan-discard")?.toggleAttribute("hidden", !dirty());
}

function tellOthers(sentence) {
  here("plan-others").hidden = !sentence;
  here("plan-others").textContent = sentence;
}

function tellLast({ revision, person, sentence }) {
  const said = sentence ? words("plan.others_in", { person, sentence }) : "";
  if (said) here("plan-last").textContent = `${said} (${revision})`;
}

let drawn = "";
function drawSections() {
  const found = sectionsOf(surface.text());
  const key = JSON.stringify(found);
  if (key === drawn) return;
  drawn = key;
  here("plan-sections").replaceChildren(...found.filter(({ name }) => name !== "version").map(({ name, line }) => {
    const item = document.createElement("li");
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = name.replaceAll("_", " ");
    button.addEventListener("click", () => surface.goTo(line));
    item.append(button);
    return item;
  }));
}

function changed() {
  if (!surface) return;
  for (const [name, act, pause] of [["keep", keep, 200], ["check", check, 350], ["draw", drawSections, 300]]) {
    clearTimeout(timers[name]);
    timers[name] = setTimeout(act, pause);
  }
  tellState();
}

// What is typed is kept on this device until it is saved.
async function keep() {
  clearTimeout(timers.keep);
  if (!mayEdit) return;
  if (dirty()) await putDraft(DRAFT, { text: surface.text(), revision: base.revision });
  else await dropDraft(DRAFT);
}
addEventListener("pagehide", keep);
document.addEventListener("visibilitychange", () => { if (document.hidden && surface) keep(); });

// ---- mistakes ----
let asked = 0;
async function check() {
  asked += 1;
  const turn = asked;
  try {
    const answer = await fetch("/api/v1/plan/check", {
      method: "POST", body: JSON.stringify({ text: surface.text() }),
      headers: { "Content-Type": "application/json", "X-Rollsound-Token": token() },
    });
    if (answer.ok && turn === asked) drawMistakes((await answer.json()).mistakes); // a later one has been asked: wait for it
  } catch {
    document.addEventListener("rollsound-connected", check, { once: true });
  }
}

function drawMistakes(found) {
  mistakes = found.map((each) => ({ ...each, line: each.line || 1 }));
  surface.mark(mistakes);
  here("plan-verdict").textContent = mistakes.length ? counted("plan.verdict_mistakes", mistakes.length) : words("plan.verdict_holds");
  here("plan-mistakes").hidden = !mistakes.length;
  here("plan-mistake-list").replaceChildren(...mistakes.map(({ line, place: where, sentence }) => {
    const item = document.createElement("li");
    const button = document.createElement("button");
    const head = document.createElement("b");
    const text = document.createElement("span");
    button.type = "button";
    head.textContent = words("plan.line", { n: line });
    text.textContent = where && !sentence.startsWith(where) ? `${where}: ${sentence}` : sentence;
    button.append(head, text);
    button.addEventListener("click", () => surface.goTo(line));
    item.append(button);
    return item;
  }));
}

// ---- saving ----
async function save(take = {}) {
  if (saving) return;
  const text = surface.text();
  saving = { text };
  surface.sent(text);
  tell(words("plan.saving"));
  await keep();
  const outcome = await send("PUT", ADDRESS, { text, base_revision: base.revision, take });
  if (outcome.state === "kept" && saving) tell(words("plan.waits"));
}

document.addEventListener("rollsound-sent", (event) => {
  const { entry, outcome } = event.detail;
  // what another page sends is none of this one's text; the live stream tells of it
  if (entry.method === "PUT" && entry.url === ADDRESS && surface && saving?.text === entry.body.text) settle(entry, outcome);
});

async function freshText() {
  for (;;) {
    try {
      const answer = await fetch(ADDRESS, { headers: { Accept: "application/json" }, signal: patience(8000) });
      if (answer.ok) return await answer.json();
    } catch { /* not connected: asked again */ }
    await new Promise((done) => setTimeout(done, 1500));
  }
}

async function settle(entry, outcome) {
  if (outcome.state === "saved") {
    const fresh = await freshText();
    base = fresh;
    saving = null;
    surface.settled(entry.body.text, fresh.text);
    tellOthers("");
    here("plan-clashes").hidden = true;
    await keep();
    drawSections();
    check();
    tellState();
    const sentence = outcome.answer?.sentence;
    tellLast({ revision: fresh.revision, person: place.dataset.person, sentence });
    if (!dirty()) tell(sentence ? words("plan.saved", { sentence }) : words("plan.saved_same"));
    return;
  }
  saving = null;
  surface.refused();
  const { clashes, mistakes: found, detail } = outcome.problem;
  if (clashes?.length) {
    here("plan-verdict").textContent = counted("plan.verdict_clash", clashes.length);
    showClashes(clashes, place.dataset.person, save, () => surface.focus());
    tell(words("plan.unsaved"));
  } else if (found?.length) {
    drawMistakes(found);
    tell(words("plan.mistakes_first"), true);
    surface.goTo(mistakes[0].line);
  } else tell(words("plan.refused", { detail }), true);
}

// ---- what others save ----
document.body.addEventListener("live-plan", async (event) => {
  if (!surface) return;
  if (saving) {
    setTimeout(lookForLost, 1500);
    return;
  }
  const fresh = await freshText();
  if (saving || fresh.revision === base.revision) return;
  if (dirty()) {
    const { person, sentence } = event.detail ?? {};
    if (person && fresh.text !== base.text) tellOthers(words("plan.others", { person, sentence }));
    return;
  }
  base = fresh;
  surface.replace(fresh.text);
  tellLast({ revision: fresh.revision, ...event.detail });
  tellState();
});

/** Another window of this browser may have sent what waited here. */
async function lookForLost() {
  if (!saving || (await allWaiting()).some((each) => each.url === ADDRESS)) return;
  const sent = saving.text;
  await new Promise((done) => setTimeout(done, 800));
  if (saving?.text === sent) {
    saving = null;
    surface.refused();
    tellState();
  }
}

// ---- beginning ----
async function begin() {
  const draft = mayEdit ? await getDraft(DRAFT) : null;
  surface = await mount();
  if (draft && draft.value.text !== base.text) {
    const revision = Math.min(draft.value.revision, base.revision);
    base = { revision, text: revision === base.revision ? base.text : null };
    surface.replace(draft.value.text);
    tellOthers(words("plan.restored"));
  } else if (draft) dropDraft(DRAFT);
  drawSections();
  tellState();
  const waits = (await allWaiting()).find((each) => each.method === "PUT" && each.url === ADDRESS);
  if (waits) {
    saving = { text: waits.body.text };
    surface.sent(waits.body.text);
    tell(words("plan.waits"));
  }
  if (mayEdit) check();
  if (Number(place.dataset.atLine)) surface.goTo(Number(place.dataset.atLine));
  place.dataset.ready = "yes";
}

here("plan-save")?.addEventListener("click", () => save());
here("plan-discard-now")?.addEventListener("click", async () => {
  if (saving) return;
  base = await freshText();
  surface.replace(base.text, { undoable: true });
  here("plan-discard").open = false;
  tellOthers("");
  keep();
  check();
});
here("plan-text").addEventListener("keydown", (event) => {
  if ((event.ctrlKey || event.metaKey) && event.key === "s" && mayEdit) {
    event.preventDefault();
    save();
  }
});
begin();
