/** Over the years: how each row wears with the hectares planted, how long its travel and its parts will last. */
import { h, put } from "../dom.js";
import { dated, ranges, t, tn } from "../lang.js";
import { get } from "../api.js";
import { title } from "../frame.js";
import { areaSymbol, decimal, figure, hectaresIn, measured, spoken } from "../units.js";
import { FieldPage, factList, warned, whose } from "./page.js";
import { intervals } from "./picture.js";

/** Drifts are told by the hundred hectares or acres, as people speak of them. */
const hundred = 100;

/** Beyond any planter's life, as in the service's own words. */
const manyHectares = 100_000;

class Years extends FieldPage {
  async begin() {
    /** @type {[import("../shapes.js").Planter, import("../shapes.js").Wear]} */
    const [planter, w] = await Promise.all([get(this.planterName), get(`${this.planterName}:wear`)]);
    title(t("years.title"), planter.name);
    const told = w.rows.some((r) => r.driftMmPerHectare !== undefined);
    put(this, whose(planter), warned(w.cautions),
      told ? h("figure", null, intervals(w.rows.map((r) => drift(r, w)), t("years.picture"), unitOf(w)), h("figcaption", null, t("years.caption"))) : null,
      told && w.common ? h("section", null, h("h2", null, t("years.left")), factList(w.rows.map((r) => [t("row", { n: r.row }), r.driftMmPerHectare === undefined ? t("years.short") : lasts(r, w)]))) : null,
      told || w.rows.some((r) => r.foundChangeMm !== undefined) ? words(w.rows) : null, edge(w), parts(w), visits(w), h("details", null, h("summary", null, t("how")), h("p", null, w.method)));
  }
}

/** What a drift of a mm a hectare is in the reader's units. @param {import("../shapes.js").Wear} w */
function perHundred(w) {
  return (hundred * hectaresIn(w.areaUnit)) / (spoken(w).inches ? 25.4 : 1);
}

/** @param {import("../shapes.js").Wear} w */
function unitOf(w) {
  return `${spoken(w).inches ? t("in") : "mm"}/100 ${areaSymbol(w.areaUnit)}`;
}

/** @param {import("../shapes.js").RowWear} r @param {import("../shapes.js").Wear} w */
function drift(r, w) {
  const scaled = (/** @type {number|undefined} */ mm) => (mm === undefined ? undefined : mm * perHundred(w));
  return { row: r.row, at: scaled(r.driftMmPerHectare), from: scaled(r.driftFromMmPerHectare), to: scaled(r.driftToMmPerHectare), state: r.unlike ? "OFF" : "EVEN" };
}

/** How long it lasts, as an interval. @param {import("../shapes.js").RowWear|import("../shapes.js").PartWear} x @param {import("../shapes.js").Wear} w */
function lasts(x, w) {
  const { hectaresLeftFrom: from, hectaresLeftTo: to } = x, unit = areaSymbol(w.areaUnit);
  const told = (/** @type {number} */ ha, /** @type {"floor"|"ceil"} */ how) => rounded(ha / hectaresIn(w.areaUnit), how);
  if (from === undefined || from > manyHectares) return t("years.noEnd");
  return to === undefined || to > manyHectares ? t("years.atLeast", { from: told(from, "floor"), unit }) : t("years.between", { from: told(from, "floor"), to: told(to, "ceil"), unit });
}

/** Two digits are all that a drift tells; its interval is never told narrower. @param {number} x @param {"floor"|"ceil"} roundingMode */
function rounded(x, roundingMode) {
  return figure(x, { maximumSignificantDigits: 2, roundingMode });
}

/** The service's words, what is said of several rows once. @param {any[]} rows */
function words(rows) {
  /** @type {Map<string, import("../shapes.js").RowWear[]>} */
  const said = new Map();
  for (const r of rows) said.set(r.why, [...(said.get(r.why) ?? []), r]);
  return rows.length ? h("details", { open: said.size < 4 }, h("summary", null, t("job.rows")), h("ul", { class: "rows" }, [...said].map(([why, of]) => h("li", { "data-state": of[0].unlike ? "OFF" : "" }, h("b", null, tn("rows.numbered", of.length, { rows: ranges(of.map((r) => r.row)) })), h("span", null, why))))) : null;
}

/** @param {import("../shapes.js").Wear} w */
function edge(w) {
  const e = w.edge;
  if (!e) return null;
  const { differenceMmPerHectare: by, differenceFromMmPerHectare: low, differenceToMmPerHectare: high } = e;
  const told = (/** @type {number} */ x) => decimal((by < 0 ? -x : x) * perHundred(w), spoken(w).inches ? 4 : 2);
  return h("section", null, h("h2", null, t("years.edge")), h("p", null, t(by < 0 ? "years.edgeShallower" : "years.edgeDeeper", { rows: ranges(e.rows), by: told(by), from: told(by < 0 ? high : low), to: told(by < 0 ? low : high), unit: unitOf(w) })));
}

/** @param {import("../shapes.js").Wear} w */
function parts(w) {
  const list = w.parts, said = (/** @type {number} */ x, /** @type {string} */ unit) => measured(x, unit, spoken(w));
  return list.length ? h("section", null, h("h2", null, t("years.parts")), h("ul", { class: "rows" }, list.map((p) => h("li", { "data-state": p.worn ? "OFF" : "" }, h("b", null, t("row", { n: p.row })), h("span", null, `${p.title}: ${said(p.last, p.unit)}`),
    h("small", null, [p.limit !== undefined && t("years.limit", { limit: said(p.limit, p.unit) }), p.worn ? t("inspect.worn") : p.enough ? lasts(p, w) : t("years.short")].filter(Boolean).join(" · ")))))) : null;
}

/** @param {import("../shapes.js").Wear} w */
function visits(w) {
  const list = w.visits;
  return h("section", null, h("h2", null, t("years.visits")), list.length ? h("ul", { class: "cards" }, list.map((v) => h("li", null, h("a", { href: "#/" + v.job }, h("b", null, `${figure(v.plantedArea)} ${areaSymbol(w.areaUnit)}`), h("span", null, dated(v.signTime)))))) : h("p", null, t("years.none")));
}

customElements.define("rd-years", Years);
