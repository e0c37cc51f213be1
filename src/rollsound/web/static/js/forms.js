// Forms that send themselves through the outbox, and fields whose text is kept while it is typed.
//   <form data-send="PUT /api/v1/people/mina" data-keep="person-mina">   <button data-send="POST /api/v1/undo" data-body="{}">
import { dropDraft, getDraft, putDraft } from "./kept.js";
import { notice } from "./notices.js";
import { send } from "./outbox.js";
import { words } from "./words.js";

const FIELDS = "input[name],select[name],textarea[name]";

/** The fields of a form as one object; data-type says number, boolean or json; empty numbers are left out. */
export function fieldsOf(form) {
  const body = {};
  for (const field of form.querySelectorAll(FIELDS)) {
    if (field.disabled || (field.type === "radio" && !field.checked)) continue;
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

function settle(form, outcome) {
  if (outcome.state === "saved") {
    form.removeAttribute("hx-morph-skip");
    say(form, outcome.answer?.sentence || words("frame.saved"));
    form.querySelector?.("[data-outcome]")?.setAttribute("data-said", "saved");
    if ("reset" in form.dataset) form.reset();
    if (form.dataset.then) document.body.dispatchEvent(new CustomEvent(form.dataset.then, { detail: outcome.answer }));
  } else if (outcome.state === "kept") {
    const because = outcome.problem?.detail;
    say(form, because ? words("frame.kept_because", { detail: because }) : words("frame.kept"));
  } else say(form, words("frame.refused", { detail: outcome.problem.detail }), true);
  form.toggleAttribute("data-waits", outcome.state === "kept");
  form.dispatchEvent(new CustomEvent("sent", { detail: outcome, bubbles: true }));
}

async function sendFrom(form, body) {
  const [method, url] = form.dataset.send.split(" ");
  if (form.matches("[aria-busy=true]")) return;
  form.setAttribute("aria-busy", "true");
  try {
    settle(form, await send(method, url, body, { draft: form.dataset.keep }));
  } finally {
    form.removeAttribute("aria-busy");
  }
}

// What waited here and was sent later is told at its form too.
document.addEventListener("rollsound-sent", (event) => {
  const { entry, outcome } = event.detail;
  if (!entry.draft) return;
  const form = document.querySelector(`[data-waits][data-keep="${CSS.escape(entry.draft)}"]`);
  if (form) settle(form, outcome);
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
  putDraft(kept.dataset.keep, valuesOf(kept));
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
