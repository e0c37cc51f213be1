// What may be written at a place of the plan: names by its schema, chosen words, and the ids that the text itself has.
import { nameIn, partsOf, pathAt } from "./plan_text.js";

/** Fields that name something by its id, and the list it is found in. */
const REFERS_TO = { site: "sites", moves: "sites", day: "schedule/days" };

function plain(schema, node) {
  let here = node;
  for (let step = 0; here && step < 10; step += 1) {
    if (here.$ref) here = schema.$defs?.[here.$ref.split("/").pop()];
    else if (here.anyOf) here = { ...here, ...here.anyOf.find((each) => each.type !== "null"), anyOf: undefined };
    else break;
  }
  return here;
}

/** The schema of a place; undefined where the schema knows none. */
export function schemaAt(schema, path) {
  let here = plain(schema, schema);
  for (const step of path) here = plain(schema, step === "[]" ? here?.items : here?.properties?.[step]);
  return here;
}

/** Every id in the text, by its list. */
export function idsOf(lines) {
  const found = {};
  lines.forEach((line, row) => {
    const id = /^"?id"?:\s*"?([a-z0-9][a-z0-9-]*)"?/.exec(partsOf(line).rest)?.[1];
    if (!id) return;
    const list = pathAt(lines, row).filter((step) => step !== "[]").join("/");
    (found[list] ??= []).push(id);
  });
  return found;
}

function besides(lines, row) {
  const { at } = partsOf(lines[row]);
  const found = new Set();
  const look = (step) => {
    for (let i = row + step; i >= 0 && i < lines.length; i += step) {
      if (!lines[i].trim() || lines[i].trimStart().startsWith("#")) continue;
      const parts = partsOf(lines[i]);
      if (step > 0 && parts.dash && parts.dashAt < at) break;
      if (parts.at < at) break;
      if (parts.at === at) found.add(nameIn(parts.rest));
      if (step < 0 && parts.dash && parts.at === at) break;
    }
  };
  if (!partsOf(lines[row]).dash) look(-1);
  look(1);
  return found;
}

/** What may stand at a place: {from, options} with ``from`` counted in the line, or null. */
export function optionsAt(schema, lines, row, column) {
  const before = lines[row].slice(0, column);
  if (before.trimStart().startsWith("#")) return null;
  const parts = partsOf(lines[row]);
  const begun = /^(\s*(?:-\s+)?)([\w-]*)$/.exec(before);
  if (begun) {
    const node = schemaAt(schema, pathAt(lines, row));
    const taken = besides(lines, row);
    const options = Object.entries(node?.properties ?? {}).filter(([name]) => !taken.has(name)).map(([name, each]) => {
      const known = plain(schema, each) ?? {};
      const deeper = known.type === "object" || known.type === "array";
      return { label: name, apply: deeper ? `${name}:` : `${name}: `, detail: known.examples?.[0], info: known.description, type: "property" };
    });
    return options.length ? { from: begun[1].length, options } : null;
  }
  const name = nameIn(parts.rest);
  if (!name) return null;
  const from = /[^\s,[\]"]*$/.exec(before).index;
  let known = schemaAt(schema, [...pathAt(lines, row), name]);
  if (known?.type === "array") known = plain(schema, known.items);
  const words = REFERS_TO[name] ? idsOf(lines)[REFERS_TO[name]] ?? [] : known?.enum ?? (known?.const !== undefined ? [known.const] : known?.examples ?? []);
  return words.length ? { from, options: words.map((word) => ({ label: String(word), type: REFERS_TO[name] ? "variable" : "enum" })) } : null;
}
