/** The walk: one row at a time, large. A reading is kept on this phone before anything else happens with it. */
import { button, h, link, put, select } from "../dom.js";
import { t } from "../lang.js";
import { allWell, announce, explain, onward } from "../frame.js";
import { stayAwake } from "../awake.js";
import { cautionList, openCautions } from "../cautions.js";
import { sectionsOf, walkingOrder } from "../job.js";
import { JobPage } from "../job-page.js";
import { meaning } from "../meaning.js";
import { Pad } from "../pad.js";
import { strip } from "../picture.js";
import { handsFree, hush, say } from "../speech.js";
import { choice, choose, draft, saveDraft } from "../store.js";
import { outbox } from "../outbox.js";
import { troubles } from "../trouble.js";
import { mmTyped } from "../units.js";

/** @import {Entry} from "../outbox.js" */

/** How long the service may take to say what a reading means before the walk goes on without. */
const goOn = 400;
/** The farthest that any reading can be, mm; a slip of the finger, not a depth. */
const farthest = 600;

class Walk extends JobPage {
  row = 0;
  /** The reading made last on this phone. @type {Entry|null} */ last = null;
  /** Where this visit's readings stand in the log, by entry. @type {Map<string, number>} */ revisions = new Map();
  #going = 0;
  /** Whether the last reading is entered and the walk has not gone on yet. */ #waiting = false;
  /** Whether inches are typed here, where that is not as the job is read. @type {boolean|undefined} */ inches;
  pad = new Pad();
  place = {
    trouble: h("div"), strip: h("div"), row: h("div", { class: "rowline" }),
    result: h("div", { class: "result" }), tools: h("div", { class: "tools" }), end: h("div"),
  };

  get words() {
    return t("walk.title");
  }

  begin() {
    const unread = !this.job.rows().some((r) => r.readings > 0 || r.unsent.length);
    if (unread && openCautions(this.job).length) put(this, cautionList(this.job, () => this.start()));
    else this.start();
  }

  start() {
    stayAwake(this.life);
    this.life.addEventListener("abort", hush);
    this.hear(this.job, "change", () => this.draw());
    this.hear(outbox, "sent", (e) => this.revisions.set(e.detail.entry.id, e.detail.answer.events[0]?.revision));
    this.hear(this.pad, "enter", () => void this.enter());
    this.hear(this.pad, "typed", () => this.typed());
    const half = draft(this.half);
    this.row = half?.row ?? 0;
    this.pad.text = half?.text ?? "";
    this.inches = half?.inches;
    this.pad.rule(this.ruled);
    if (!this.row) this.forward();
    put(this, this.place.trouble, this.place.strip, this.place.row, this.place.result, this.place.end, this.pad.element, this.place.tools);
    this.tools();
    this.draw();
    if (matchMedia("(hover: hover)").matches) this.pad.line.focus();
  }

  /** Where what is half typed is kept. */
  get half() {
    return "walk." + this.job.name;
  }

  get ruled() {
    return { inches: this.inches ?? this.job.scale.inches, ruling: this.job.ruling };
  }

  get fromRight() {
    return choice("fromRight") === "1";
  }

  /** A key pressed while the last reading is on its way belongs to the next row. */
  typed() {
    if (this.#waiting && this.pad.text) {
      this.#going++;
      this.#waiting = false;
      this.forward();
      this.draw();
    }
    this.remember();
  }

  remember() {
    saveDraft(this.half, this.pad.text ? { row: this.row, text: this.pad.text, inches: this.inches } : null);
  }

  /** The rows in walking order. */
  get order() {
    return walkingOrder(this.job.planter, this.job.rows(), this.fromRight);
  }

  /** Goes to the next row that waits for a reading, onward from here. */
  forward() {
    const order = this.order;
    const here = order.findIndex((r) => r.row === this.row);
    const ahead = [...order.slice(here + 1), ...order.slice(0, here + 1)];
    const waiting = new Set(this.job.toRead(order).map((r) => r.row));
    this.row = ahead.find((r) => waiting.has(r.row))?.row ?? (this.row || order[0].row);
  }

  /** @param {number} row */
  goTo(row) {
    this.#going++;
    this.#waiting = false;
    this.row = row;
    this.pad.text = "";
    this.remember();
    this.draw();
  }

  draw() {
    const { job, place } = this;
    const rows = job.rows();
    const left = job.toRead(rows).length;
    put(place.trouble, troubles(job));
    put(place.strip, strip(job.planter, rows, this.row));
    this.drawRow(rows, left);
    this.drawResult(rows);
    this.pad.element.hidden = job.closed;
    this.pad.line.setAttribute("aria-label", t("walk.reading", { n: this.row, unit: this.ruled.inches ? t("unit.in") : "mm" }));
    put(place.end, left === 0 && !job.closed ? this.finished(rows) : null);
  }

  /** @param {import("../job.js").Row[]} rows @param {number} left */
  drawRow(rows, left) {
    const order = this.order, here = order.findIndex((r) => r.row === this.row);
    const state = rows.find((r) => r.row === this.row);
    const section = sectionsOf(this.job.planter).find((s) => s.firstRow <= this.row && this.row <= s.lastRow);
    const told = JSON.stringify([this.row, left, state?.next, state?.why, state?.unsent.length]);
    if (this.place.row.dataset.told === told) return; // a list that is open stays open
    this.place.row.dataset.told = told;
    const pick = select(order.map((r) => [String(r.row), t("row", { n: r.row })]), String(this.row), (v) => this.goTo(Number(v)), { "aria-label": t("walk.which"), class: "big" });
    const step = (/** @type {number} */ by) => this.goTo(order[(here + by + order.length) % order.length].row);
    put(this.place.row,
      button("‹", () => step(-1), { "aria-label": t("walk.before") }),
      h("div", { class: "which" }, pick, h("small", null, [section?.title, state && state.next !== "READ" && t(`next.${state.next}`), left > 0 && t("walk.left", { n: left })].filter(Boolean).join(" · "))),
      button("›", () => step(1), { "aria-label": t("walk.after") }));
  }

  /** What the last reading means. @param {import("../job.js").Row[]} rows */
  drawResult(rows) {
    const last = this.last;
    if (!last) {
      const now = rows.find((r) => r.row === this.row);
      put(this.place.result, now && ["READ_AGAIN", "READ_AFTER_MOVE"].includes(now.next) ? h("p", { class: "soft" }, now.why) : h("p", { class: "soft" }, t("walk.start")));
      this.place.result.dataset.state = "none";
      return;
    }
    const row = /** @type {import("../job.js").Row} */ (rows.find((r) => r.row === last.row));
    const waiting = outbox.entries.find((e) => e.id === last.id);
    const reading = last.body.readings[0];
    const meant = waiting ? { state: "kept", head: t("walk.kept"), text: offline(row, mmTyped(reading.value, reading.unit)) } : meaning(row, this.job.scale);
    this.place.result.dataset.state = meant.state;
    const again = row.row === this.row && row.next === "READ_AGAIN" && !waiting && !last.undone;
    put(this.place.result,
      h("p", { class: "what" }, h("span", null, `${t("row", { n: last.row })} · ${last.text}`), h("b", null, last.undone ? t("walk.struck") : meant.head)),
      last.undone ? null : button(t("walk.undo"), () => void this.undo(last), { class: "quiet" }),
      meant.text && !last.undone ? h("p", { class: "why" }, meant.text) : null,
      again ? button(t("walk.leave"), () => this.leave(), { class: "quiet" }) : null);
  }

  /** Goes on although the row asks to be read again. */
  leave() {
    this.forward();
    this.goTo(this.row);
  }

  async enter() {
    const value = this.pad.value;
    const unit = this.ruled.inches ? "IN" : "MM";
    if (!Number.isFinite(value) || Math.abs(mmTyped(value, unit)) > farthest) {
      if (this.pad.text) explain(new Error(this.pad.wrong || t("form.number")));
      else announce(t("form.number"));
      this.pad.element.classList.add("wrong");
      setTimeout(() => this.pad.element.classList.remove("wrong"), 600);
      return;
    }
    allWell();
    const row = this.job.row(this.row);
    const turn = ++this.#going;
    this.#waiting = true;
    this.pad.text = "";
    this.last = await this.job.addReading(row, value, unit); // on disk
    this.remember();
    this.draw();
    const settled = await this.answered(this.last);
    const now = this.job.row(row.row);
    this.tell(now, settled);
    if (turn !== this.#going) return; // the technician went on
    this.#waiting = false;
    if (!(settled && now.next === "READ_AGAIN")) {
      this.forward();
      this.draw();
    }
  }

  /** Whether the service answered, within the time of a breath. @param {Entry} entry @returns {Promise<boolean>} */
  answered(entry) {
    return new Promise((resolve) => {
      const done = (/** @type {boolean} */ yes) => { outbox.removeEventListener("sent", heard); clearTimeout(late); resolve(yes); };
      const heard = (/** @type {any} */ e) => { if (e.detail.entry.id === entry.id) done(true); };
      const late = setTimeout(() => done(false), navigator.onLine ? goOn : 0);
      outbox.addEventListener("sent", heard);
      if (!outbox.entries.some((e) => e.id === entry.id)) done(true);
    });
  }

  /** @param {import("../job.js").Row} row @param {boolean} settled */
  tell(row, settled) {
    const { head, text } = settled ? meaning(row, this.job.scale) : { head: t("walk.kept"), text: "" };
    const words = `${t("row", { n: row.row })}: ${head}. ${text}`;
    announce(words);
    if (handsFree()) say(words);
  }

  /** Strikes a reading; nothing is erased. @param {Entry} entry */
  async undo(entry) {
    const waiting = outbox.entries.find((e) => e.id === entry.id);
    entry.undone = true;
    if (waiting) await outbox.undo(waiting);
    else await this.job.strike(entry.row, this.revisions.get(entry.id) ?? 0, entry.text);
    this.goTo(entry.row);
    announce(t("walk.struck"));
  }

  /** Nothing is left to read. @param {import("../job.js").Row[]} rows */
  finished(rows) {
    const moves = rows.some((r) => r.next === "MOVE");
    const plan = !moves && (rows.some((r) => r.next === "PLAN") || !this.job.state.plan);
    const [words, where] = moves ? [t("next.moves"), "moves"] : plan ? [t("next.plan"), "plan"] : [t("next.sign"), "sign"];
    return h("div", { class: "next" }, h("p", null, t("walk.all")), onward(words, `${this.job.name}/${where}`));
  }

  tools() {
    const draw = () => {
      const inches = this.ruled.inches;
      put(this.place.tools,
        button(t(inches ? "walk.useMm" : "walk.useIn"), () => { this.inches = !inches; this.pad.text = ""; this.pad.rule(this.ruled); draw(); this.draw(); }, { class: "quiet" }),
        button(t(this.fromRight ? "walk.fromLeft" : "walk.fromRight"), () => { choose("fromRight", this.fromRight ? "" : "1"); this.row = 0; this.forward(); draw(); this.goTo(this.row); }, { class: "quiet" }),
        sectionsOf(this.job.planter).filter((s) => s.title).map((s) => button(s.title, () => this.goTo(this.fromRight ? s.lastRow : s.firstRow), { class: "quiet" })),
        link(t("walk.job"), `#/${this.job.name}`));
    };
    draw();
  }
}

/**
 * What can be said of a typed number without the service: a comparison with the row's own range, where there is one.
 * @param {import("../job.js").Row} row @param {number} mm
 */
function offline(row, mm) {
  const { evenNumberFromMm: from, evenNumberToMm: to } = row;
  if (from === undefined || to === undefined || row.readings > 0 && row.next !== "READ_AFTER_MOVE" || row.unsent.some((e) => e.kind === "move")) return t("walk.later");
  return t(from <= mm && mm <= to ? "walk.seemsEven" : "walk.seemsOff");
}

customElements.define("rd-walk", Walk);
