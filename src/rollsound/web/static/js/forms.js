// Forms that send themselves through the outbox, and fields whose text is kept while it is typed.
//   <form data-send="PUT /api/v1/people/mina" data-keep="person-mina">   <button data-send="POST /api/v1/undo" data-body="{}">
import { dropDraft, getDraft, putDraft } from "./kept.js";
import { notice } from "./notices.js";
import { patience, send } from "./outbox.js";
import { words } from "./words.js";

const FIELDS = "input[name],select[name],textarea[name]";

const changed = (field) =>
  field.tagName === "SELECT" ? [...field.options].some((each) => each.selected !== each.defaultSelected)
    : field.type === "checkbox" || field.type === "radio" ? field.checked !== field.defaultChecked
      : field.type === "hidden" || field.value !== field.defaultValue;

/**
 * The fields of a form as one object; data-type says number, boolean or json; empty numbers are left out. A form with
 * data-changed-only tells those alone that somebody changed, and what is hidden in it.
 */
export function fieldsOf(form) {
  const body = {};
  const all = !("changedOnly" in form.dataset);
  for (const field of form.querySelectorAll(FIELDS)) {
    if (field.disabled || (field.type === "radio" && !field.checked)) continue;
    if (!all && !changed(field)) continue;
    const type = field.dataset.type ?? (field.type === "checkbox" ? "boolean" : "");
    if (type === "boolean") body[field.name] = field.checked;
    else if (type === "number") { if (field.value !== "") body[field.name] = Number(field.value); }
    else if (type === "json") body[field.name] = JSON.parse(field.value);
    else body[field.name] = field.value;
  }
  return body;
}

function say(form, sentence, refused = false) {
  const place = form.querySelector?.("[data-outcome]") ?? document.querySelector(`[data-outcome-of="${form.id}"]`);
  if (!place) {
    if (refused) notice(sentence);
    return;
  }
  place.textContent = sentence;
  place.removeAttribute("data-said");
  place.classList.toggle("refused", refused);
  place.toggleAttribute("hx-morph-skip", Boolean(sentence)); // the part it stands in may be fetched anew at once
}

/** What a form holds now, to be told from what it holds later; a draft of it that is still to be kept is kept first. */
export async function heldIn(form) {
  if (timers.has(form)) {
    clearTimeout(timers.get(form));
    await keep(form);
  }
  return JSON.stringify(valuesOf(form));
}

/** Whether somebody has typed something else since a form held this. */
export const typedSince = (form, held) => held !== undefined && JSON.stringify(valuesOf(form)) !== held;

/** The sentence of a clash. From now on the form's change is made from the plan as it is: sent again, it holds. */
async function clashed(form, problem) {
  const base = form.querySelector?.("[name=base_revision]");
  if (!problem.clashes || !("changedOnly" in form.dataset) || !base) return words("frame.refused", { detail: problem.detail });
  try {
    base.value = String(await newestRevision());
    return words("frame.clash_again", { detail: problem.detail });
  } catch {
    return words("frame.refused", { detail: problem.detail });
  }
}

/** The plan's revision as it is now. */
export async function newestRevision() {
  const answer = await fetch("/api/v1/show", { headers: { Accept: "application/json" }, signal: patience(5000) });
  if (!answer.ok) throw new Error(String(answer.status));
  return (await answer.json()).revision;
}

async function settle(form, outcome, held) {
  const since = typedSince(form, held);
  if (outcome.state === "saved") {
    const told = outcome.answer?.sentence || words("frame.saved");
    if (!since) form.removeAttribute("hx-morph-skip");
    say(form, since ? words("frame.saved_since", { sentence: told.replace(/\.?$/, ".") }) : told);
    form.querySelector?.("[data-outcome]")?.setAttribute("data-said", "saved");
    if ("reset" in form.dataset && !since) form.reset();
    if (form.dataset.then) document.body.dispatchEvent(new CustomEvent(form.dataset.then, { detail: outcome.answer }));
  } else if (outcome.state === "kept") {
    const because = outcome.problem?.detail;
    say(form, because ? words("frame.kept_because", { detail: because }) : words("frame.kept"));
  } else say(form, await clashed(form, outcome.problem), true);
  form.dispatchEvent(new CustomEvent("sent", { detail: { ...outcome, since }, bubbles: true }));
}

// How many changes of a form wait.
function waits(form, more) {
  const count = Number(form.dataset.waits ?? 0) + more;
  if (count > 0) form.dataset.waits = String(count);
  else delete form.dataset.waits;
}

async function sendFrom(form, body) {
  const [method, url] = form.dataset.send.split(" ");
  if (form.matches("[aria-busy=true]")) return;
  form.setAttribute("aria-busy", "true");
  try {
    const held = await heldIn(form);
    const own = !form.matches("form") || "changedOnly" in form.dataset;
    const outcome = await send(method, url, body, { draft: form.dataset.keep, held, own });
    if (outcome.state === "kept") waits(form, 1);
    await settle(form, outcome, held);
  } finally {
    form.removeAttribute("aria-busy");
  }
}

// What waited here and was sent later is told at its form too.
document.addEventListener("rollsound-sent", (event) => {
  const { entry, outcome, awaited } = event.detail;
  if (!entry.draft || awaited) return;
  const form = document.querySelector(`[data-waits][data-keep="${CSS.escape(entry.draft)}"]`);
  if (!form) return;
  waits(form, -1);
  settle(form, outcome, entry.held);
});

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("form[data-send]")) return;
  event.preventDefault();
  sendFrom(form, fieldsOf(form));
});

document.addEventListener("click", (event) => {
  const button = event.target.closest?.("button[data-send]");
  if (!button) return;
  event.preventDefault();
  sendFrom(button, button.dataset.body === undefined ? undefined : JSON.parse(button.dataset.body));
});

// What is typed is kept at once; a part that is fetched anew leaves a form alone that somebody types in.
const timers = new Map();

function valuesOf(kept) {
  if (!kept.matches("form,fieldset")) return { "": kept.value };
  const values = {};
  for (const field of kept.querySelectorAll(FIELDS)) {
    if (field.type === "checkbox") values[field.name] = field.checked;
    else if (field.type !== "radio" || field.checked) values[field.name] = field.value;
  }
  return values;
}

function keep(kept) {
  timers.delete(kept);
  return putDraft(kept.dataset.keep, valuesOf(kept));
}

document.addEventListener("input", (event) => {
  const kept = event.target.closest?.("[data-keep]");
  if (!kept) return;
  kept.setAttribute("hx-morph-skip", "");
  if (kept.querySelector("[data-said]")) say(kept, ""); // what is typed now is not saved
  clearTimeout(timers.get(kept));
  timers.set(kept, setTimeout(keep, 150, kept));
});

addEventListener("pagehide", () => {
  for (const [kept, timer] of [...timers]) {
    clearTimeout(timer);
    keep(kept);
  }
});

document.addEventListener("reset", (event) => {
  const kept = event.target.closest?.("[data-keep]");
  if (!kept) return;
  clearTimeout(timers.get(kept));
  kept.removeAttribute("hx-morph-skip");
  dropDraft(kept.dataset.keep);
});

function put(kept, values) {
  let changed = false;
  const fields = kept.matches("form,fieldset") ? [...kept.querySelectorAll(FIELDS)] : [kept];
  for (const field of fields) {
    const value = values[kept === field ? "" : field.name];
    if (value === undefined) continue;
    if (field.type === "checkbox") {
      changed ||= field.checked !== value;
      field.checked = value;
    } else if (field.type === "radio") {
      changed ||= field.value === value && !field.checked;
      field.checked = field.value === value;
    } else if (field.value !== value) {
      changed = true;
      field.value = value;
    }
  }
  return changed;
}

/** Put kept drafts back into the fields under a root. */
export async function restoreDrafts(root) {
  const fields = [...root.querySelectorAll("[data-keep]")];
  if (root.matches?.("[data-keep]")) fields.push(root);
  for (const kept of fields) {
    if (kept.dataset.restored !== undefined) continue;
    kept.dataset.restored = "";
    const draft = await getDraft(kept.dataset.keep);
    if (!draft || kept.hasAttribute("hx-morph-skip") || !put(kept, draft.value)) continue;
    kept.setAttribute("hx-morph-skip", "");
    say(kept, words("frame.restored"));
    kept.dispatchEvent(new CustomEvent("restored", { bubbles: true }));
  }
}

restoreDrafts(document.body);
document.addEventListener("htmx:after:swap", () => restoreDrafts(document.body));
