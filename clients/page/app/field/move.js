/** In the field: how the planter was left, and what to do to every row to plant deeper or shallower. */
import { button, h, link, put, select, field } from "../dom.js";
import { dated, listed, ranges, t, tn } from "../lang.js";
import { Unreachable, get, network, styles } from "../api.js";
import { allWell, announce, explain, onward, title } from "../frame.js";
import { apart } from "../meaning.js";
import { Pad } from "../pad.js";
import { profile } from "../picture.js";
import { settingWords } from "../schema-form.js";
import { canSpeak, handsFree, hush, say } from "../speech.js";
import { bothLengths, decimal, fineLength, length, mmTyped, spoken } from "../units.js";
import { FieldPage, factList, noNumber, warned, whose } from "./page.js";

/** @import {Style} from "../api.js" */
/** @import {Planter} from "../shapes.js" */
/** @import {Scale} from "../units.js" */

class FieldView extends FieldPage {
  /** @type {Planter} */ planter = /** @type {any} */ (undefined);
  /** @type {Map<string, Style>} */ styles = new Map();
  /** "" is deeper. */ way = "";
  /** Those of the index card, for where there is no network. @type {any[]} */ kept = [];
  pad = new Pad();
  answer = h("div");
  /** How lengths are shown. @type {Scale} */ scale = { inches: false, ruling: 16 };
  /** How the change is typed. @type {Scale} */ typing = this.scale;

  async begin() {
    const first = get(this.planterName);
    const [planter, card, all] = await Promise.all([first, get(`${this.planterName}:indexCard`), first.then((p) => styles(p.lengthUnit))]);
    this.planter = planter;
    this.styles = all;
    this.scale = this.typing = spoken(card);
    this.kept = card.fieldMoves ?? [];
    title(t("field.title"), planter.name);
    this.life.addEventListener("abort", hush);
    this.hear(this.pad, "enter", () => void this.look());
    this.hear(this.pad, "typed", () => put(this.answer));
    this.pad.rule(this.typing);
    this.pad.line.setAttribute("aria-label", t("field.change"));
    const draw = () => put(this, whose(planter), h("section", { class: "panel" }, h("h2", null, t("field.move")),
      field(t("field.way"), select([["", t("planter.deeper")], ["-", t("planter.shallower")]], this.way, (v) => { this.way = v; this.anew(); })), this.pad.element,
      button(t(this.typing.inches ? "field.useMm" : "field.useIn"), () => { this.typing = { ...this.typing, inches: !this.typing.inches }; this.pad.text = ""; this.pad.rule(this.typing); put(this.answer); draw(); }, { class: "quiet" })),
      this.answer, this.card(card), onward(t("digs.title"), `${planter.name}/digs`));
    draw();
  }

  /** The answer to another question must not stand beside this one. */
  anew() {
    const asked = this.answer.childElementCount > 0;
    put(this.answer);
    if (asked) void this.look();
  }

  /** Asks what the typed change takes. */
  async look() {
    const { inches } = this.typing;
    const typed = mmTyped(this.pad.value, inches ? "IN" : "MM"), asked = () => this.pad.text + this.way, now = asked();
    if (!Number.isFinite(typed)) return explain(noNumber(t("field.change"), this.pad.wrong));
    try {
      const mm = this.way ? -typed : typed;
      const move = await get(`${this.planterName}:fieldMove?deltaMm=${mm}`).catch((error) => this.keptMove(mm, error));
      if (asked() !== now) return;
      allWell();
      this.show(move);
    } catch (error) {
      put(this.answer);
      explain(error, (field) => (field === "deltaMm" ? t("field.change") : field));
    }
  }

  /** The common changes are kept with the planter. @param {number} mm @param {unknown} error */
  keptMove(mm, error) {
    if (!(error instanceof Unreachable) || error.status || !this.kept.length) throw error;
    const found = this.kept.find((m) => Math.abs(m.deltaMm - mm) < 0.06); // as finely as mm are shown
    if (!found) throw new Error(t("field.away", { list: listed([...new Set(this.kept.map((m) => length(Math.abs(m.deltaMm), this.scale)))]) }));
    return found;
  }

  /** @param {import("../shapes.js").FieldMove} move */
  show(move) {
    const scale = this.scale;
    const left = new Map(this.planter.rows.map((r) => [r.row, r.asLeftMm]));
    const known = [...left.values()].every((mm) => mm !== undefined);
    const stems = move.rows.map((r) => ({ row: r.row, before: known ? left.get(r.row) : undefined, after: r.depthMm, state: r.outOfTravel ? "OFF" : r.trimmedOnly ? "UNSURE" : "MOVE" }));
    put(this.answer, h("section", { class: "panel one" }, h("h2", null, this.changeWords(move.deltaMm)),
      move.mechanisms.map((g) => h("div", { class: "count" }, h("p", { class: "bigrow" }, this.countWords(g)), h("p", null, `${this.mechanismWords(g.mechanism)} · ${tn("rows.numbered", g.rows.length, { rows: ranges(g.rows) })}`))),
      move.mechanisms.length ? null : h("p", null, t("field.nothing")),
      move.reached ? null : h("p", { class: "hint" }, t("field.notReached", { change: this.changeWords(move.meanChangeMm) })),
      network.up === false ? h("p", { class: "hint" }, t("field.kept")) : null,
      warned(move.cautions),
      canSpeak ? button(t("moves.say"), () => say(this.aloud(move)), { class: "quiet" }) : null,
      known ? h("figure", null, profile(this.planter, stems, { scale, label: t("field.picture") }), h("figcaption", null, t("field.caption"))) : null,
      factList([[t("field.mean"), this.changeWords(move.meanChangeMm)], [t("field.spread"), known && bothLengths(move.spreadAfterMm, scale)]]),
      h("details", null, h("summary", null, t("job.rows")), h("ul", { class: "rows" }, move.rows.map((r) => h("li", { "data-state": r.outOfTravel ? "OFF" : "" }, h("b", null, t("row", { n: r.row })), h("span", null, this.rowWords(r)),
        h("small", null, r.outOfTravel ? t("field.end") : r.trimmedOnly ? t("field.trimmed") : settingWords(this.styleOf(r.row), r.settingAfter, this.scale.inches))))))));
    this.answer.scrollIntoView({ block: "start" });
    announce(this.aloud(move));
    if (handsFree()) say(this.aloud(move));
  }

  /** What a row will do, give or take twice its standard uncertainty, as on the sheet. @param {import("../shapes.js").FieldRowMove} r */
  rowWords(r) {
    if (r.changeMm === 0) return t("field.stays");
    return `${this.changeWords(r.changeMm)}${r.uncertaintyMm ? ` ± ${fineLength(2 * r.uncertaintyMm, this.scale)}` : ""}`;
  }

  /** @param {import("../shapes.js").FieldMove} move */
  aloud(move) {
    return move.mechanisms.map((g) => `${tn("rows.numbered", g.rows.length, { rows: ranges(g.rows) })}: ${this.countWords(g)}.`).join(" ") || t("field.nothing");
  }

  /** @param {import("../shapes.js").GroupMove} group */
  countWords(group) {
    const count = `${decimal(Math.abs(group.count))} ${group.unit}`;
    return group.count ? t(group.count > 0 ? "field.deeper" : "field.shallower", { change: count }) : t("field.leave");
  }

  /** @param {number} mm */
  changeWords(mm) {
    const size = bothLengths(Math.abs(mm), this.scale);
    return t(mm < 0 ? "field.shallower" : "field.deeper", { change: size });
  }

  /** @param {string} id */
  mechanismWords(id) {
    return this.styles.get(this.planter.mechanisms.find((m) => m.id === id)?.style ?? "")?.title ?? id;
  }

  /** @param {number} row */
  styleOf(row) {
    const id = this.planter.rows.find((r) => r.row === row)?.mechanism;
    return this.styles.get(this.planter.mechanisms.find((m) => m.id === id)?.style ?? "");
  }

  /** How it was signed last. @param {import("../shapes.js").IndexCard} card */
  card(card) {
    const scale = this.scale;
    if (!card.job) return h("section", null, h("h2", null, t("field.card")), h("p", null, t("field.unsigned")));
    const marks = new Map(card.marks.flatMap((m) => m.rows.flatMap((r) => (r.count === undefined ? [] : [[r.row, decimal(r.count)]]))));
    return h("section", { class: "card" }, h("h2", null, t("field.card")),
      factList([[t("signed.by", { person: card.person }), dated(card.signTime)], [t("job.datum"), card.datumMm !== undefined && bothLengths(card.datumMm, scale)], [t("field.leftSpread"), card.spreadMm !== undefined && bothLengths(card.spreadMm, scale)]]),
      h("details", null, h("summary", null, t("job.rows")), h("ul", { class: "rows" }, card.rows.map((r) => h("li", { "data-state": r.verdict }, h("b", null, t("row", { n: r.row })),
        h("span", null, r.offsetMm === undefined ? t("row.notRead") : apart(r.offsetMm, scale, "datum")),
        h("small", null, [t(r.measured ? "field.read" : "field.foretold"), marks.has(r.row) && t("field.mark", { n: marks.get(r.row) ?? "" }), settingWords(this.styleOf(r.row), r.setting, this.scale.inches), r.exception].filter(Boolean).join(" · ")))))),
      link(t("card.title"), `#/${card.job}/card`));
  }
}

customElements.define("rd-field", FieldView);
