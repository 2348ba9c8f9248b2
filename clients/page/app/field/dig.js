/** One dig: which rows plant unlike the others, which differences are chance, what to correct, what it may cost. */
import { field, h, put, select } from "../dom.js";
import { dated, ranges, t, tn } from "../lang.js";
import { get } from "../api.js";
import { explain, title } from "../frame.js";
import { walkingOrder } from "../job.js";
import { choice, choose } from "../store.js";
import { bothLengths, decimal, fineLength, spoken } from "../units.js";
import { FieldPage, factList, mind, whose } from "./page.js";
import { intervals } from "./picture.js";

class Dig extends FieldPage {
  answer = h("div");

  async begin() {
    const name = `${this.planterName}/digs/${this.params[1]}`;
    const [planter, dig] = await Promise.all([get(this.planterName), get(name)]);
    title(dig.title || t("dig.title"), `${this.planterName}/digs`);
    const days = select([["", t("dig.daysUnknown")], ...[4, 6, 8, 10, 12, 15].map((n) => /** @type {[string, string]} */ ([String(n), t("dig.degrees", { n })]))], choice("degreeDays"), (v) => { choose("degreeDays", v); void look(); });
    const look = async () => {
      const asked = choice("degreeDays");
      try {
        this.show(planter, dig, await get(`${name}:analyze${asked && "?aim.dailyDegreeDays=" + asked}`));
      } catch (error) {
        explain(error);
      }
    };
    put(this, whose(planter), this.answer, field(t("dig.days"), days, { hint: t("dig.days.hint") }));
    await look();
  }

  /** @param {import("../shapes.js").Planter} planter @param {import("../shapes.js").Dig} dig @param {import("../shapes.js").DigAnalysis} a */
  show(planter, dig, a) {
    const scale = spoken(a), per = scale.inches ? 1 / 25.4 : 1;
    put(this.answer,
      factList([[t("digs.title"), [dig.person, dated(dig.digTime ?? dig.createTime)].filter(Boolean).join(" · ")], [t("dig.seeds"), a.seeds], [t("dig.mean"), bothLengths(a.meanMm, scale)],
        [t("digs.target"), dig.targetMm !== undefined && bothLengths(dig.targetMm, scale)], [t("dig.sd"), a.cvPercent === undefined ? fineLength(a.sdMm, scale) : t("dig.scatter", { sd: fineLength(a.sdMm, scale), cv: decimal(a.cvPercent, 0) })],
        [t("dig.share"), a.shareWithin !== undefined && t("dig.shareOf", { share: decimal(a.shareWithin * 100, 0), length: bothLengths(a.withinMm, scale) })]]),
      said(a), h("figure", null, intervals(a.rows.map((r) => ({ row: r.row, at: r.effectMm * per, from: (r.effectMm - 2 * r.uncertaintyMm) * per, to: (r.effectMm + 2 * r.uncertaintyMm) * per, state: r.verdict })), t("dig.picture"), scale.inches ? t("in") : "mm"), h("figcaption", null, t("dig.caption"))),
      h("details", null, h("summary", null, t("job.rows")), h("ul", { class: "rows" }, a.rows.map((r) => h("li", { "data-state": r.verdict }, h("b", null, t("row", { n: r.row })), h("span", null, `${bothLengths(r.meanMm, scale)} · ${tn("digs.seeds", r.seeds)}`), r.scatterMm === undefined ? null : h("span", null, t("dig.rowScatter", { sd: fineLength(r.scatterMm, scale), from: fineLength(Number(r.scatterFromMm), scale), to: fineLength(Number(r.scatterToMm), scale) })), h("small", null, r.why))))),
      correct(planter, a), emergence(a.emergence), h("details", null, h("summary", null, t("how")), h("p", null, a.method)), mind(a.cautions));
  }
}

/** Differences, scatter and chance, plainly. @param {import("../shapes.js").DigAnalysis} a */
function said(a) {
  const key = (/** @type {import("../shapes.js").DigRow} */ r) => r.bounces && r.verdict !== "OFF" ? "dig.bounce" : ({ OFF: "dig.differ", EVEN: "dig.even" })[/** @type {string} */ (r.verdict)] ?? (r.seedsToSettle ? "dig.unsure" : "dig.unsettled");
  return ["dig.differ", "dig.bounce", "dig.unsure", "dig.unsettled", "dig.even"].map((said) => {
    const rows = a.rows.filter((r) => key(r) === said).map((r) => r.row);
    return rows.length ? h("p", { class: said === "dig.differ" ? "sum" : "" }, t(said, { rows: tn("rows.numbered", rows.length, { rows: ranges(rows) }) })) : null;
  });
}

/** @param {import("../shapes.js").Planter} planter @param {import("../shapes.js").DigAnalysis} a */
function correct(planter, a) {
  if (!a.plan) return null;
  const order = walkingOrder(planter, a.plan.rows, choice("fromRight") === "1");
  const doing = order.filter((r) => r.move || r.verdict === "STUCK");
  return h("section", null, h("h2", null, t("dig.correct")), doing.length ? mind(a.plan.cautions, true) : null, doing.length ? h("ol", { class: "todo" }, doing.map((r) => h("li", { "data-state": r.move ? "MOVE" : r.verdict }, h("b", null, t("row", { n: r.row })), h("span", null, r.move ? r.move.say : t(`verdict.${r.verdict}`)), h("small", null, r.why)))) : h("p", null, t("plan.noMove")));
}

/** @param {import("../shapes.js").Emergence|undefined} e */
function emergence(e) {
  return e ? h("section", { class: "panel" }, h("h2", null, t("dig.emergence")), h("p", null, e.guide), h("details", null, h("summary", null, t("dig.sources")), h("ul", null, e.sources.map((s) => h("li", { lang: "en" }, h("b", null, s.title), " ", s.figure)))), mind(e.cautions)) : null;
}

customElements.define("rd-dig", Dig);
