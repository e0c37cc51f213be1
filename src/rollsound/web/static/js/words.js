// The words of scripts come from the server's catalogue, with the page.
const all = JSON.parse(document.body.dataset.words || "{}");

/** The words of a key, with {values} put in. */
export function words(key, values = {}) {
  const found = all[key];
  if (found === undefined) throw new Error(`no words for ${key}`);
  return found.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? String(values[name]) : whole));
}

/** The words of a key for a number of things. */
export function counted(key, n) {
  return n === 1 && all[`${key}_one`] !== undefined ? words(`${key}_one`) : words(key, { n });
}
