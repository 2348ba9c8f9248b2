/**
 * One job as this phone knows it: what the service said last, and over it what waits in the outbox. Others'
 * events arrive by themselves while it is open.
 */
import { Unreachable, ask, follow, get, mayOnlyRead, styles } from "./api.js";
import { choice } from "./store.js";
import { keep, kept } from "./store.js";
import { outbox } from "./outbox.js";
import { linesPerInch, typed } from "./units.js";

/** @import {Style} from "./api.js" */
/** @import {Fixture, Job, JobEvent, Planter, RowState, Values} from "./shapes.js" */
/** @import {Entry} from "./outbox.js" */
/** @import {Scale} from "./units.js" */

/** What a row asks for next, with what this phone has not sent yet taken into account. */
/** @typedef {Omit<RowState, "next"> & {next: RowState["next"] | "UNSENT", unsent: Entry[]}} Row */

/** The longest pause before a watch that broke is tried again, ms. */
const longest = 15_000;
/** The steps that a reading answers. */
const toRead = new Set(["READ", "READ_AGAIN", "READ_AFTER_MOVE"]);

export class OpenJob extends EventTarget {
  /** @type {Job} */
  job;
  /** @type {Planter} */
  planter;
  /** @type {Fixture|undefined} */
  fixture;
  /** @type {Map<string, Style>} */
  styles;
  /** Whether this phone may only read. */
  reader = false;
  /** Whether others' events arrive at once. */
  live = false;
  #watch = new AbortController();
  #ended = new AbortController();

  /** @param {Job} job @param {JobEvent} opening @param {Map<string, Style>} styles */
  constructor(job, opening, styles) {
    super();
    this.job = job;
    this.planter = /** @type {Planter} */ (opening.opened?.planter);
    this.fixture = opening.opened?.fixture;
    this.styles = styles;
  }

  /** @param {string} name @param {AbortSignal} life ends its listening */
  static async open(name, life) {
    const first = get(name);
    const [job, log, all, reader] = await Promise.all([first, get(`${name}/events?pageSize=1`), first.then((job) => styles(job.lengthUnit)), mayOnlyRead()]);
    const open = new OpenJob(job, log.events[0], all);
    open.reader = reader;
    open.#listen(life);
    return open;
  }

  /** @param {AbortSignal} life */
  #listen(life) {
    if (life.aborted) return;
    const signal = AbortSignal.any ? AbortSignal.any([life, this.#ended.signal]) : life;
    life.addEventListener("abort", () => this.#close());
    outbox.addEventListener("change", () => this.#told(), { signal });
    outbox.addEventListener("sent", (/** @type {any} */ e) => { if (e.detail.entry.job === this.name) this.take(e.detail.answer.job); }, { signal });
    document.addEventListener("visibilitychange", () => { if (!document.hidden) void this.#wake(); }, { signal });
    addEventListener("online", () => void this.#wake(), { signal });
    void this.#follow();
  }

  get name() {
    return this.job.name;
  }

  get state() {
    return /** @type {NonNullable<Job["state"]>} */ (this.job.state);
  }

  /** Whether nothing can be written to it from here. */
  get closed() {
    return this.reader || this.job.stage !== "OPEN";
  }

  /** The lines to an inch that readings are told in: those of the fixture, or the coarsest that are no coarser. */
  get ruling() {
    return linesPerInch(this.fixture?.resolutionMm);
  }

  /** How this job's lengths are shown: as the service's own words say them. @returns {Scale} */
  get scale() {
    return { inches: this.job.lengthUnit === "IN", ruling: this.ruling };
  }

  /** Takes a newer job. @param {Job} job */
  take(job) {
    if (!job.state || job.revision < this.job.revision) return;
    this.job = job;
    void keep(this.name, job);
    this.#told();
  }

  #told() {
    this.dispatchEvent(new Event("change"));
  }

  /** Asks for the job anew. */
  async refresh() {
    try {
      this.take(await ask("GET", this.name));
    } catch { /* the watch tells, when the network is back */ }
  }

  /** Back from elsewhere, or the network is: what happened meanwhile, now. */
  async #wake() {
    if (!this.live) void this.#follow();
    await this.refresh();
  }

  async #follow() {
    this.#watch.abort();
    const watch = this.#watch = new AbortController();
    for (let pause = 1_000; this.job.stage === "OPEN" && !watch.signal.aborted; pause = Math.min(pause * 2, longest)) {
      await follow(this.name, this.job.revision, watch.signal, ({ job }) => {
        pause = 500;
        this.#alive(true);
        if (job) this.take(job);
      });
      if (watch.signal.aborted) return;
      this.#alive(false);
      await new Promise((done) => setTimeout(done, pause));
    }
  }

  /** @param {boolean} live */
  #alive(live) {
    if (this.live === live) return;
    this.live = live;
    if (live) outbox.send();
    this.#told();
  }

  #close() {
    this.#ended.abort();
    this.#watch.abort();
  }

  /** What waits to be sent for this job. */
  get unsent() {
    return outbox.of(this.name);
  }

  /** Every row, with what was done to it on this phone since. @returns {Row[]} */
  rows() {
    const waiting = this.unsent.filter((e) => !e.undone);
    return this.state.rows.map((row) => {
      const unsent = waiting.filter((e) => e.row === row.row);
      return { ...row, next: nextOf(row, unsent), unsent };
    });
  }

  /** @param {number} number @returns {Row} */
  row(number) {
    return /** @type {Row} */ (this.rows().find((r) => r.row === number));
  }

  /** The style of a row's mechanism. @param {{mechanism: string}} row */
  style(row) {
    const mechanism = this.planter.mechanisms.find((m) => m.id === row.mechanism);
    return mechanism && this.styles.get(mechanism.style);
  }

  /** @param {Row} row @param {number} value @param {"IN"|"MM"} unit */
  addReading(row, value, unit) {
    const move = row.unsent.findLast((e) => e.kind === "move");
    const reading = { row: row.row, value, unit, afterMove: row.lastMove };
    return outbox.add(this.name, "reading", "addReadings", row.row, { readings: [reading], person: choice("person") },
      typed(value, unit, this.ruling), move ? { follows: move.id } : {});
  }

  /**
   * A move that was done: as planned, or to where the handle really stands.
   * @param {Row} row @param {{count?: number, settingAfter?: Values}} done @param {string} text
   */
  addMove(row, done, text) {
    const before = row.unsent.findLast((e) => e.kind === "move");
    const setting = before ? before.body.moves[0].settingAfter : row.setting;
    const move = { row: row.row, ...(setting ? { settingBefore: setting } : { afterMove: row.lastMove }), ...done };
    return outbox.add(this.name, "move", "addMoves", row.row, { moves: [move], person: choice("person") }, text,
      before && !setting ? { follows: before.id } : {});
  }

  /** @param {string[]} cautions @param {string} text */
  tickCautions(cautions, text) {
    return outbox.add(this.name, "tick", "tickCautions", 0, { ticks: cautions.map((caution) => ({ caution })), person: choice("person") }, text);
  }

  /** @param {number} row @param {number} revision @param {string} text */
  strike(row, revision, text) {
    return outbox.add(this.name, "strike", "strikeEvents", row, { strikes: [{ revision }], person: choice("person") }, text);
  }

  /** The rows that wait for a reading, in walking order. @param {Row[]} [rows] */
  toRead(rows = this.rows()) {
    return rows.filter((r) => toRead.has(r.next));
  }

  /** All events so far, the newest last. @returns {Promise<JobEvent[]>} */
  async events() {
    const path = `${this.name}/events`;
    try {
      const out = [];
      for (let token = ""; ; ) {
        const page = await ask("GET", `${path}?pageSize=1000${token && "&pageToken=" + encodeURIComponent(token)}`);
        out.push(...page.events);
        if (!(token = page.nextPageToken)) break;
      }
      void keep(path, out);
      return out;
    } catch (error) {
      const last = error instanceof Unreachable ? await kept(path) : null;
      if (!last) throw error;
      return last;
    }
  }
}

/** @param {JobEvent} e */
export function rowOf(e) {
  return e.reading?.row ?? e.move?.row ?? e.partChange?.row ?? e.inspection?.row ?? e.note?.row ?? 0;
}

/** @param {RowState} row @param {Entry[]} unsent */
function nextOf(row, unsent) {
  const done = unsent.filter((e) => e.kind === "move" || e.kind === "reading").at(-1);
  if (!done) return row.next;
  if (done.kind === "move") return "READ_AFTER_MOVE";
  return toRead.has(row.next) || row.next === "MOVE" ? "UNSENT" : row.next;
}

/**
 * Rows in the order they are walked: rank by rank, section by section, from one end.
 * @template {{row: number}} R
 * @param {Planter} planter @param {R[]} rows @param {boolean} fromRight
 */
export function walkingOrder(planter, rows, fromRight) {
  const rank = new Map(planter.rows.map((r) => [r.row, r.rank === "REAR" ? 1 : 0]));
  return [...rows].sort((a, b) => (rank.get(a.row) ?? 0) - (rank.get(b.row) ?? 0) || (fromRight ? b.row - a.row : a.row - b.row));
}

/** The sections, at least one. @param {Planter} planter @returns {{title: string, firstRow: number, lastRow: number}[]} */
export function sectionsOf(planter) {
  const numbers = planter.rows.map((r) => r.row).sort((a, b) => a - b);
  return planter.sections?.length ? [...planter.sections].sort((a, b) => a.firstRow - b.firstRow) : [{ title: "", firstRow: numbers[0], lastRow: numbers[numbers.length - 1] }];
}
