/** The moves, in walking order, one at a time: heard or read, done, ticked. */
import { button, h, put } from "../dom.js";
import { t, tn } from "../lang.js";
import { announce, onward } from "../frame.js";
import { stayAwake } from "../awake.js";
import { walkingOrder } from "../job.js";
import { JobPage } from "../job-page.js";
import { strip } from "../picture.js";
import { schemaForm, settingWords } from "../schema-form.js";
import { canSpeak, handsFree, hush, say } from "../speech.js";
import { choice, choose } from "../store.js";
import { troubles } from "../trouble.js";

/** @import {Row} from "../job.js" */

class Moves extends JobPage {
  row = 0;
  #told = "";

  get words() {
    return t("moves.title");
  }

  begin() {
    stayAwake(this.life);
    this.life.addEventListener("abort", hush);
    this.hear(this.job, "change", () => this.draw());
    this.draw();
    this.aloud();
  }

  draw() {
    if (this.querySelector("details[open] form")) return; // nothing moves under a hand that types
    const { job } = this;
    const rows = job.rows();
    const todo = walkingOrder(job.planter, rows.filter((r) => r.next === "MOVE"), choice("fromRight") === "1");
    if (!todo.some((r) => r.row === this.row)) this.row = todo[0]?.row ?? 0;
    const now = todo.find((r) => r.row === this.row);
    const done = rows.filter((r) => r.next === "READ_AFTER_MOVE").length;
    const told = JSON.stringify([todo.map((r) => [r.row, r.move]), done, job.unsent.length, job.unsent.find((e) => e.trouble)?.id]);
    if (told === this.#told && this.childElementCount > 1) return;
    this.#told = told;
    put(this, troubles(job), strip(job.planter, rows, this.row), now ? this.one(now, todo.length) : this.none(rows),
      todo.length > 1 ? h("section", null, h("h2", null, t("moves.then")), h("ol", { class: "todo" }, todo.filter((r) => r !== now).map((r) =>
        h("li", { "data-state": "MOVE" }, h("b", null, t("row", { n: r.row })), h("span", null, r.move?.say), button(t("moves.thisFirst", { n: r.row }), () => { this.row = r.row; this.#told = ""; this.draw(); this.aloud(); }, { class: "quiet" }))))) : null,
      canSpeak ? button(t(handsFree() ? "moves.quiet" : "moves.aloud"), () => { choose("aloud", handsFree() ? "" : "1"); this.#told = ""; this.draw(); this.aloud(); }, { class: "quiet", "aria-pressed": handsFree() }) : null);
  }

  /** @param {Row} row @param {number} left */
  one(row, left) {
    const move = /** @type {NonNullable<Row["move"]>} */ (row.move);
    const style = this.job.style(row), { inches } = this.job.scale;
    const after = move.settingAfter ? `${settingWords(style, row.setting, inches)} → ${settingWords(style, move.settingAfter, inches)}` : settingWords(style, row.setting, inches);
    const text = move.settingAfter ? settingWords(style, move.settingAfter, inches) : `${move.count} ${move.unit}`;
    return h("section", { class: "panel one" },
      h("p", { class: "soft" }, tn("moves.left", left)), h("h2", { class: "bigrow" }, t("row", { n: row.row })), h("p", { class: "say" }, move.say), h("p", { class: "soft" }, after),
      button(t("moves.done"), () => void this.done(row, { count: move.count, ...(move.settingAfter && row.setting ? { settingAfter: move.settingAfter } : {}) }, text), { class: "go" }),
      h("div", { class: "choices" }, canSpeak ? button(t("moves.say"), () => say(this.aloudWords(row)), { class: "quiet" }) : null),
      style ? this.otherwise(row) : null);
  }

  /** @param {Row} row */
  aloudWords(row) {
    return `${t("row", { n: row.row })}. ${row.move?.say ?? ""}`;
  }

  /** It was left somewhere else than planned. @param {Row} row */
  otherwise(row) {
    const style = /** @type {import("../api.js").Style} */ (this.job.style(row));
    const form = schemaForm(style.settingSchema, row.move?.settingAfter, this.job.scale.inches);
    const details = h("details", null, h("summary", null, t("moves.other")),
      h("form", { novalidate: true, onsubmit: (/** @type {Event} */ e) => {
        e.preventDefault();
        /** @type {string[]} */
        const faults = [];
        const settingAfter = form.read(faults);
        if (faults.length) return;
        details.open = false;
        void this.done(row, { settingAfter }, settingWords(style, settingAfter, this.job.scale.inches));
      } }, form.element, h("button", { class: "quiet" }, t("moves.leftThere"))));
    return details;
  }

  /** @param {Row} row @param {{count?: number, settingAfter?: import("../shapes.js").Values}} done @param {string} text */
  async done(row, done, text) {
    await this.job.addMove(row, done, text);
    announce(t("moves.ticked", { n: row.row }));
    this.aloud();
  }

  aloud() {
    const row = this.job.rows().find((r) => r.row === this.row && r.next === "MOVE");
    if (handsFree()) say(row ? this.aloudWords(row) : t("moves.none"));
  }

  /** @param {Row[]} rows */
  none(rows) {
    const read = this.job.toRead(rows).length;
    return h("div", { class: "next" }, h("p", null, t("moves.none")),
      read ? onward(tn("next.readAgain", read), `${this.job.name}/walk`) : onward(t("plan.back"), this.job.name));
  }
}

customElements.define("rd-moves", Moves);
