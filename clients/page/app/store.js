/** What this phone keeps by itself: the outbox, and the last answers, in IndexedDB; small choices in localStorage. */

/** @type {Promise<IDBDatabase>|undefined} */
let opened;

function database() {
  opened ??= new Promise((resolve, reject) => {
    const ask = indexedDB.open("rowdatum", 1);
    ask.onupgradeneeded = () => {
      ask.result.createObjectStore("outbox", { keyPath: "seq", autoIncrement: true });
      ask.result.createObjectStore("kept");
    };
    ask.onsuccess = () => resolve(ask.result);
    ask.onerror = () => reject(ask.error);
  });
  return opened;
}

/**
 * Does work in one transaction and waits until it is on disk; the result is work's.
 * @template T
 * @param {"outbox"|"kept"} name @param {IDBTransactionMode} mode @param {(store: IDBObjectStore) => IDBRequest<T>|void} work
 * @returns {Promise<T|undefined>}
 */
export async function within(name, mode, work) {
  const db = await database();
  return new Promise((resolve, reject) => {
    const tx = db.transaction(name, mode, mode === "readwrite" && name === "outbox" ? { durability: "strict" } : {});
    const request = work(tx.objectStore(name));
    tx.oncomplete = () => resolve(request ? request.result : undefined);
    tx.onabort = tx.onerror = () => reject(tx.error);
  });
}

/** Keeps the last answer of a path. @param {string} path @param {unknown} value */
export async function keep(path, value) {
  await within("kept", "readwrite", (s) => s.put(value, path)).catch(() => {}); // a full disk loses no work here
}

/** @param {string} path @returns {Promise<any>} */
export function kept(path) {
  return within("kept", "readonly", (s) => s.get(path)).catch(() => undefined);
}

/** A small choice of this phone; "" where none was made. @param {string} name */
export function choice(name) {
  try { return localStorage.getItem("rowdatum." + name) ?? ""; } catch { return ""; }
}

/** @param {string} name @param {string} value "" forgets it */
export function choose(name, value) {
  try {
    if (value) localStorage.setItem("rowdatum." + name, value);
    else localStorage.removeItem("rowdatum." + name);
  } catch { /* a browser that keeps nothing still works */ }
}

/** What is half typed, so that a reload loses nothing. @param {string} name @returns {any} */
export function draft(name) {
  try { return JSON.parse(choice("draft." + name) || "null"); } catch { return null; }
}

/** @param {string} name @param {unknown} value null forgets it */
export function saveDraft(name, value) {
  choose("draft." + name, value === null ? "" : JSON.stringify(value));
}

/** What is this phone's own and not the shop's. */
const ours = ["language", "look", "unit"].map((name) => "rowdatum." + name);

/** Forgets the shop: its last answers, who held the phone, what was half typed. */
export async function forget() {
  await within("kept", "readwrite", (s) => { s.clear(); });
  try {
    for (const name of Object.keys(localStorage)) if (name.startsWith("rowdatum.") && !ours.includes(name)) localStorage.removeItem(name);
  } catch { /* a browser that keeps nothing has nothing to forget */ }
}
