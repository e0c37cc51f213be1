// The same field changed by two people: both values, both names, and a choice for each.
import { words } from "./words.js";

const here = (id) => document.getElementById(id);
const valueText = (value) => (value === undefined || value === null ? words("plan.nothing") : typeof value === "object" ? JSON.stringify(value, null, 1) : String(value));

function side(name, which, head, told, value) {
  const label = document.createElement("label");
  const radio = document.createElement("input");
  radio.type = "radio";
  radio.name = name;
  radio.value = which;
  const choice = document.createElement("b");
  choice.textContent = head;
  const text = document.createElement("span");
  text.className = "plan-value";
  text.textContent = valueText(value);
  const who = document.createElement("span");
  who.className = "soft";
  who.textContent = told;
  label.append(radio, choice, text, who);
  return label;
}

/** Ask which side holds at each clash, then save with the answers. */
export function showClashes(clashes, person, save, back) {
  const panel = here("plan-clashes");
  const form = here("plan-clash-form");
  const outcome = here("plan-clash-outcome");
  outcome.hidden = true;
  here("plan-clash-list").replaceChildren(...clashes.map((clash, number) => {
    const group = document.createElement("fieldset");
    group.className = "plan-clash";
    const legend = document.createElement("legend");
    legend.textContent = clash.field || clash.path.slice(1).replaceAll("/", ", ");
    const at = clash.their_time ? new Date(clash.their_time).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hour12: false }) : "";
    const theirs = clash.their_person ? words("plan.theirs", { person: clash.their_person, at }).replace(/, $/, "") : words("plan.theirs_unknown");
    group.append(
      legend,
      side(`clash-${number}`, "mine", words("plan.keep_mine"), words("plan.mine", { person }), clash.mine),
      side(`clash-${number}`, "theirs", words("plan.keep_theirs"), theirs, clash.theirs),
    );
    return group;
  }));
  form.onsubmit = (event) => {
    event.preventDefault();
    const take = {};
    clashes.forEach((clash, number) => {
      const chosen = form.querySelector(`input[name="clash-${number}"]:checked`);
      if (chosen) take[clash.path] = chosen.value;
    });
    if (Object.keys(take).length < clashes.length) {
      outcome.textContent = words("plan.choose_all");
      outcome.hidden = false;
      return;
    }
    save(take);
  };
  for (const button of form.querySelectorAll("[data-take-all]")) {
    button.onclick = () => {
      for (const radio of form.querySelectorAll(`input[value="${button.dataset.takeAll}"]`)) radio.checked = true;
    };
  }
  here("plan-clash-back").onclick = () => {
    panel.hidden = true;
    back();
  };
  panel.hidden = false;
  panel.focus();
  panel.scrollIntoView({ block: "start" });
}
