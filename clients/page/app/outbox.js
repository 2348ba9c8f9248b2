/**
 * What was done and is not yet in the log. Written to disk first, sent in order for each job, taken out when the
 * service has acknowledged it. A refusal stops its job's line until the technician decides.
 */
import { Refusal, ask, trouble, uuid } from "./api.js";
import { within } from "./store.js";

/** @import {Trouble} from "./api.js" */
/** @import {AppendResponse} from "./shapes.js" */
/** @typedef {"reading"|"move"|"tick"|"strike"|"note"|"parts"|"inspection"} Kind */
/**
 * What waits to be sent. `follows` names the entry whose event's revision the body's `afterMove` becomes once that is known.
 * `undone`: strike it as soon as it is in the log.
 * @typedef {{seq?: number, id: string, job: string, kind: Kind, row: number, path: string, body: any, text: string,
 *   at: string, follows?: string, undone?: boolean, trouble?: Trouble}} Entry
 */

class Outbox extends EventTarget {
  /** All that waits, in order. @type {Entry[]} */
  entries = [];
  /** Why sending stopped for everyone: the key is missing or may not write, or the store is damaged. @type {Refusal | null} */
  halted = null;
  #sending = false;
  #again = false;
  #pause = 0;
  /** @type {ReturnType<typeof setTimeout>|undefined} */
  #timer;
  #others = new BroadcastChannel("rowdatum");

  /** Reads what an earlier visit left, and begins to send. */
  async start() {
    await this.#read();
    addEventListener("online", () => this.send());
    document.addEventListener("visibilitychange", () => { if (!document.hidden) this.send(); });
    this.#others.onmessage = () => this.#read();
    this.send();
  }

  /** @param {CustomEvent} [sent] told in the same step, so that nobody sees a thing neither waiting nor done */
  async #read(sent) {
    this.entries = (await within("outbox", "readonly", (s) => /** @type {IDBRequest<Entry[]>} */ (s.getAll()))) ?? [];
    if (sent) this.dispatchEvent(sent);
    this.dispatchEvent(new Event("change"));
  }

  /** @param {CustomEvent} [sent] */
  async #changed(sent) {
    await this.#read(sent);
    this.#others.postMessage("changed");
  }

  /** What waits for one job. @param {string} job */
  of(job) {
    return this.entries.filter((e) => e.job === job);
  }

  /**
   * Puts a write in line; it is on disk when this returns.
   * @param {string} job @param {Kind} kind @param {string} verb @param {number} row @param {object} body @param {string} text
   * @param {{follows?: string}} [more]
   */
  async add(job, kind, verb, row, body, text, more = {}) {
    const id = uuid();
    const at = new Date().toISOString();
    /** @type {Entry} */
    const entry = { id, job, kind, row, path: `${job}:${verb}`, body: { ...body, requestId: id, eventTime: at }, text, at, ...more };
    await within("outbox", "readwrite", (s) => s.add(entry));
    await this.#changed();
    this.send();
    return entry;
  }

  /**
   * Takes back what may not be sent yet: it is struck in the log as soon as it is there.
   * @param {Entry} entry
   */
  undo(entry) {
    return this.#rewrite(entry, (e) => { e.undone = true; });
  }

  /** Sends an entry again with another body, under another id. @param {Entry} entry @param {(body: any) => void} change */
  async resend(entry, change) {
    await this.#rewrite(entry, (e) => {
      e.body.requestId = uuid();
      delete e.trouble;
      change(e.body);
    });
    this.send();
  }

  /** @param {Entry} entry */
  async drop(entry) {
    await within("outbox", "readwrite", (s) => { s.delete(/** @type {number} */ (entry.seq)); });
    await this.#changed();
    this.send();
  }

  /** Lets all of it go. */
  async clear() {
    await within("outbox", "readwrite", (s) => { s.clear(); });
    this.halted = null;
    await this.#changed();
  }

  /** @param {Entry} entry @param {(e: Entry) => void} change */
  async #rewrite(entry, change) {
    await within("outbox", "readwrite", (s) => {
      const got = s.get(/** @type {number} */ (entry.seq));
      got.onsuccess = () => {
        if (!got.result) return; // sent meanwhile
        change(got.result);
        s.put(got.result);
      };
    });
    await this.#changed();
  }

  /** Sends what can be sent, now. */
  async send() {
    if (this.#sending) {
      this.#again = true;
      return;
    }
    this.#sending = true;
    clearTimeout(this.#timer);
    try {
      do {
        this.#again = false;
        await this.#sendAll();
      } while (this.#again);
      this.#pause = 0;
    } catch {
      this.#pause = Math.min(30_000, this.#pause * 2 || 1_000);
      this.#timer = setTimeout(() => this.send(), this.#pause);
    } finally {
      this.#sending = false;
      this.dispatchEvent(new Event("change"));
    }
  }

  async #sendAll() {
    const stuck = new Set();
    for (;;) {
      const entry = this.entries.find((e) => e.trouble || stuck.has(e.job) ? (stuck.add(e.job), false) : true);
      if (!entry) return;
      if (!(await this.#sendOne(entry))) stuck.add(entry.job);
    }
  }

  /** Whether the job's next may follow. @param {Entry} entry */
  async #sendOne(entry) {
    try {
      /** @type {AppendResponse} */
      const answer = await ask("POST", entry.path, entry.body);
      this.halted = null;
      await this.#acknowledged(entry, answer);
      return true;
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      if (error.status === 401 || error.reason === "STORE_DAMAGED") { // no fault of this entry: none is taken
        this.halted = error;
        throw error;
      }
      await this.#rewrite(entry, (e) => { e.trouble = trouble(error); });
      return false;
    }
  }

  /** Takes the entry out and tells those that follow it its revision, in one step. @param {Entry} entry @param {AppendResponse} answer */
  async #acknowledged(entry, answer) {
    const revision = answer.events[0]?.revision ?? 0;
    const body = { strikes: [{ revision }], person: entry.body.person };
    await within("outbox", "readwrite", (s) => {
      const all = s.getAll();
      all.onsuccess = () => {
        const now = all.result.find((/** @type {Entry} */ e) => e.seq === entry.seq);
        s.delete(/** @type {number} */ (entry.seq));
        for (const e of all.result) {
          if (e.follows !== entry.id) continue;
          for (const one of e.body.readings ?? e.body.moves) one.afterMove = revision;
          delete e.follows;
          s.put(e);
        }
        if (!now?.undone) return;
        const id = uuid();
        s.add({ id, job: entry.job, kind: "strike", row: entry.row, path: `${entry.job}:strikeEvents`, body: { ...body, requestId: id }, text: entry.text, at: entry.at });
      };
    });
    await this.#changed(new CustomEvent("sent", { detail: { entry, answer } }));
  }
}

export const outbox = new Outbox();
