// The page Reach: every term between a place and the receiver, and two layouts side by side.
import { words } from "./words.js";
import { drawMap } from "./reach_map.js";
import { ask, depth, el, figure, share, width } from "./reach_ground.js";

function cells(row, kinds) {
  const made = document.createElement("tr");
  row.forEach((text, n) => {
    const cell = document.createElement(n ? "td" : "th");
    if (!n) cell.scope = "row";
    if (kinds[n]) cell.className = kinds[n];
    cell.textContent = text;
    made.append(cell);
  });
  return made;
}

/** Tell the terms of a place: of what is chosen, by the antennas of a drawing. */
export async function tellWhy(x, y, chosen, antennas) {
  const terms = el("why-terms");
  el("why-x").value = x;
  el("why-y").value = y;
  try {
    const told = await ask("/why", { ...chosen, x, y });
    const share = told.share > 0.9999 ? 99.99 : Math.floor(1000 * told.share) / 10;
    el("why-at").textContent = words("reach.why", { transmitter: told.name, x, y, margin: figure(told.margin_db), share });
    const statuses = JSON.parse(terms.dataset.status);
    terms.replaceChildren(
      ...told.budgets.sort((one, other) => other.margin_db - one.margin_db).map((budget, n) => {
        const table = document.createElement("table");
        table.className = "reach-why-table";
        const caption = document.createElement("caption");
        const name = antennas.find((each) => each.id === budget.antenna)?.name ?? budget.antenna;
        caption.textContent = terms.dataset.antenna.replace("{antenna}", name).replace("{distance}", budget.distance_m);
        const head = document.createElement("thead");
        const line = document.createElement("tr");
        for (const [text, kind] of [[terms.dataset.term, ""], [terms.dataset.db, "n"], [terms.dataset.source, ""]]) {
          const cell = document.createElement("th");
          cell.scope = "col";
          cell.className = kind;
          cell.textContent = text;
          line.append(cell);
        }
        head.append(line);
        const body = document.createElement("tbody");
        for (const term of budget.terms) {
          const source = [term.source, statuses[term.status] ?? term.status].filter(Boolean).join(", ");
          body.append(cells([term.name, figure(term.db), source], ["", "n", "soft"]));
        }
        for (const [key, value] of [["level", budget.level_dbm], ["noise", budget.noise_dbm], ["needed", budget.needed_db], ["margin", budget.margin_db]]) {
          body.append(cells([terms.dataset[key], figure(value), ""], ["", "n", ""]));
        }
        if (!n) {
          table.append(caption, head, body);
          return table;
        }
        const folded = document.createElement("details"); // the best antenna decides; the others are one touch away
        const summary = document.createElement("summary");
        summary.textContent = caption.textContent;
        table.append(head, body);
        folded.append(summary, table);
        return folded;
      }),
    );
  } catch (error) {
    el("why-at").textContent = words("reach.not_now", { detail: error.message });
    terms.replaceChildren();
  }
}

/** Show two layouts side by side when asked. */
export function comparing() {
  el("reach-compare")?.addEventListener("submit", async (event) => {
    event.preventDefault();
    const [first, second] = [el("compare-first").value, el("compare-second").value];
    const sides = el("reach-sides");
    try {
      const told = await ask("/compare", { first, second, transmitter: el("reach-transmitter").value });
      el("compare-outcome").textContent = "";
      sides.hidden = false;
      const maps = [[first, told.first], [second, told.second]].map(([name, side]) => {
        const figureOf = document.createElement("figure");
        const canvas = document.createElement("canvas");
        canvas.setAttribute("role", "img");
        canvas.setAttribute("aria-label", sides.dataset.alt.replace("{name}", name));
        canvas.style.aspectRatio = `${width} / ${depth}`;
        const caption = document.createElement("figcaption");
        caption.textContent = `${name}. ${words("reach.covered", { share, n: Math.floor(1000 * side.covered) / 10 })}`;
        figureOf.append(canvas, caption);
        return [figureOf, canvas, side];
      });
      sides.replaceChildren(...maps.map(([each]) => each));
      for (const [, canvas, side] of maps) drawMap(canvas, side);
      el("reach-differences").replaceChildren(
        ...told.differences.map((each) => {
          const line = document.createElement("li");
          line.textContent = `${each.sentence[0].toUpperCase()}${each.sentence.slice(1)}`;
          return line;
        }),
      );
    } catch (error) {
      el("compare-outcome").textContent = words("reach.not_now", { detail: error.message });
      sides.hidden = true;
    }
  });
}
