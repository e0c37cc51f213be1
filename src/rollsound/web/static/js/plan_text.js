// Texts by their lines: what differs between two of them, and which part of the plan a line belongs to.
const MOST_CELLS = 4e6;

const linesOf = (text) => text.split(/(?<=\n)/);

/** What leads from one text to another: [{from, to, insert}] in the first one's positions, whole lines cut to what differs. */
export function differences(old, young) {
  if (old === young) return [];
  const left = linesOf(old), right = linesOf(young);
  let head = 0;
  while (head < left.length && head < right.length && left[head] === right[head]) head += 1;
  let tail = 0;
  while (tail < Math.min(left.length, right.length) - head && left[left.length - 1 - tail] === right[right.length - 1 - tail]) tail += 1;
  const a = left.slice(head, left.length - tail), b = right.slice(head, right.length - tail);
  const start = left.slice(0, head).join("").length;
  return hunks(a, b).map((hunk) => trimmed(a, b, hunk, start)).filter((each) => each.from < each.to || each.insert);
}

/** Stretches [from, to, from, to] of lines that differ, by the longest common run of lines. */
function hunks(a, b) {
  if (a.length * b.length > MOST_CELLS || !a.length || !b.length) return [[0, a.length, 0, b.length]];
  const width = b.length + 1;
  const table = new Uint32Array((a.length + 1) * width);
  for (let i = a.length - 1; i >= 0; i -= 1) {
    for (let j = b.length - 1; j >= 0; j -= 1) {
      table[i * width + j] = a[i] === b[j] ? table[(i + 1) * width + j + 1] + 1 : Math.max(table[(i + 1) * width + j], table[i * width + j + 1]);
    }
  }
  const found = [];
  let i = 0, j = 0;
  while (i < a.length || j < b.length) {
    const from = i, at = j;
    while ((i < a.length || j < b.length) && !(i < a.length && j < b.length && a[i] === b[j])) {
      if (j >= b.length || (i < a.length && table[(i + 1) * width + j] >= table[i * width + j + 1])) i += 1;
      else j += 1;
    }
    if (i > from || j > at) found.push([from, i, at, j]);
    while (i < a.length && j < b.length && a[i] === b[j]) { i += 1; j += 1; }
  }
  return found;
}

function trimmed(a, b, [from, to, at, end], start) {
  let gone = a.slice(from, to).join(""), come = b.slice(at, end).join("");
  let position = start + a.slice(0, from).join("").length;
  let head = 0;
  while (head < gone.length && head < come.length && gone[head] === come[head]) head += 1;
  position += head;
  gone = gone.slice(head);
  come = come.slice(head);
  let tail = 0;
  while (tail < gone.length && tail < come.length && gone[gone.length - 1 - tail] === come[come.length - 1 - tail]) tail += 1;
  return { from: position, to: position + gone.length - tail, insert: come.slice(0, come.length - tail) };
}

/** A line's own parts: whether it begins a list's item, where its name begins, and what stands there. */
export function partsOf(line) {
  const [, space, dash, rest] = /^(\s*)(-\s+|-$)?(.*)$/.exec(line);
  return { dash: dash !== undefined, dashAt: space.length, at: space.length + (dash?.length ?? 0), rest };
}

export const nameIn = (rest) => /^"?([\w-]+)"?\s*:(\s|$)/.exec(rest)?.[1];

/** The names that lead to a line, "[]" for a list's item: ["people", "[]"] for the lines of a person. */
export function pathAt(lines, row) {
  const path = [];
  const here = partsOf(lines[row]);
  let limit = here.at, loose = false;
  const item = (parts) => {
    path.unshift("[]");
    limit = parts.dashAt;
    loose = true; // a list may stand as far left as its name
  };
  if (here.dash) item(here);
  for (let i = row - 1; i >= 0 && (limit > 0 || loose); i -= 1) {
    if (!lines[i].trim() || lines[i].trimStart().startsWith("#")) continue;
    const parts = partsOf(lines[i]);
    const name = nameIn(parts.rest);
    if (parts.dash) {
      if (parts.at < limit && name) {
        path.unshift(name);
        item(parts);
      } else if (parts.at === limit && !loose) item(parts);
    } else if (name && (parts.at < limit || (loose && parts.at === limit))) {
      path.unshift(name);
      limit = parts.at;
      loose = false;
    }
  }
  return path;
}

/** The parts of the plan that stand at the left edge: [{name, line}], lines from 1. */
export function sectionsOf(text) {
  return text.split("\n").flatMap((line, row) => (/^[a-z_]+:/.test(line) ? [{ name: line.slice(0, line.indexOf(":")), line: row + 1 }] : []));
}
