// What this device keeps in its own store: changes that wait, and drafts of what is being typed.
// One store a show: what was typed for one show is never sent to another that is served at the same address.
const name = `rollsound-${document.body.dataset.show || "none"}`;
let opened = null;
const memory = { outbox: new Map(), drafts: new Map() };
let order = 0;

function open() {
  opened ??= new Promise((resolve) => {
    let asked;
    try { asked = indexedDB.open(name, 1); } catch { resolve(null); return; }
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("outbox", { keyPath: "order", autoIncrement: true });
      asked.result.createObjectStore("drafts", { keyPath: "name" });
    };
    asked.onsuccess = () => {
      asked.result.onversionchange = () => asked.result.close();
      resolve(asked.result);
    };
    asked.onerror = () => resolve(null); // a browser that keeps nothing (private windows): memory has to do
    asked.onblocked = () => resolve(null);
  });
  return opened;
}

async function inside(store, mode, act) {
  const base = await open();
  if (!base) return act(null, memory[store]);
  return new Promise((resolve, reject) => {
    const transaction = base.transaction(store, mode, { durability: "strict" });
    const asked = act(transaction.objectStore(store), null);
    transaction.oncomplete = () => resolve(asked?.result);
    transaction.onerror = () => reject(transaction.error);
    transaction.onabort = () => reject(transaction.error);
  });
}

export const addWaiting = (entry) =>
  inside("outbox", "readwrite", (store, kept) => {
    if (store) return store.add(entry);
    order += 1;
    kept.set(order, { ...entry, order });
    return { result: order };
  }).then((asked) => (typeof asked === "object" ? asked.result : asked));

export const allWaiting = () =>
  inside("outbox", "readonly", (store, kept) => (store ? store.getAll() : [...kept.values()]));

export const dropWaiting = (at) =>
  inside("outbox", "readwrite", (store, kept) => (store ? store.delete(at) : void kept.delete(at)));

export const putDraft = (draftName, value) =>
  inside("drafts", "readwrite", (store, kept) => {
    const draft = { name: draftName, value, at: Date.now() };
    return store ? store.put(draft) : void kept.set(draftName, draft);
  });

export const getDraft = (draftName) =>
  inside("drafts", "readonly", (store, kept) => (store ? store.get(draftName) : kept.get(draftName)));

export const dropDraft = (draftName) =>
  inside("drafts", "readwrite", (store, kept) => (store ? store.delete(draftName) : void kept.delete(draftName)));
