/** Over the years: how each row wears with the hectares planted, how long its travel and its parts will last. */
import { h, put } from "../dom.js";
import { dated, ranges, t, tn } from "../lang.js";
import { get } from "../api.js";
import { title } from "../frame.js";
import { decimal } from "../units.js";
import { FieldPage, factList } from "./page.js";
import { intervals } from "./picture.js";

/** Drifts are told by the hundred hectares, as people speak of them. */
const hundred = 100;

class Years extends FieldPage {
  async begin() {
    const [planter, w] = await Promise.all([get(this.planterName), get(`${this.planterName}:wear`)]);
    title(t("years.title"), planter.name);
    const told = w.rows.some((/** @type {any} */ r) => r.driftMmPerHectare !== undefined);
    put(this, told ? null : h("p", { class: "hint" }, t("years.notEnough")),
      w.cautions.length ? h("ul", { class: "warnings" }, w.cautions.map((/** @type {string} */ c) => h("li", null, c))) : null,
      told ? h("figure", null, intervals(w.rows.map(drift), t("years.picture"), "mm/100 ha"), h("figcaption", null, t("years.caption"))) : null,
      told ? h("section", null, h("h2", null, t("years.left")), factList(w.rows.map((/** @type {any} */ r) => [t("row", { n: r.row }), r.driftMmPerHectare === undefined ? t("years.short") : hectares(r)]))) : null,
      words(w.rows), edge(w.edge), parts(w.parts), visits(w.visits), h("details", null, h("summary", null, t("how")), h("p", null, w.method)));
  }
}

/** @param {any} r */
function drift(r) {
  const scaled = (/** @type {number|undefined} */ mm) => (mm === undefined ? undefined : mm * hundred);
  return { row: r.row, at: scaled(r.driftMmPerHectare), from: scaled(r.driftFromMmPerHectare), to: scaled(r.driftToMmPerHectare), state: r.unlike ? "OFF" : "EVEN" };
}

/** How long it lasts, as an interval. @param {any} x */
function hectares(x) {
  if (x.hectaresLeftFrom === undefined) return t("years.noEnd");
  const from = Math.floor(x.hectaresLeftFrom).toLocaleString(document.documentElement.lang);
  return x.hectaresLeftTo === undefined ? t("years.atLeast", { from }) : t("years.between", { from, to: Math.floor(x.hectaresLeftTo).toLocaleString(document.documentElement.lang) });
}

/** The service's words, what is said of several rows once. @param {any[]} rows */
function words(rows) {
  const said = new Map();
  for (const r of rows) said.set(r.why, [...(said.get(r.why) ?? []), r]);
  return rows.length ? h("details", { open: said.size < 4 }, h("summary", null, t("job.rows")), h("ul", { class: "rows" }, [...said].map(([why, of]) => h("li", { "data-state": of[0].unlike ? "OFF" : "" }, h("b", null, tn("rows.numbered", of.length, { rows: ranges(of.map((/** @type {any} */ r) => r.row)) })), h("span", null, why))))) : null;
}

/** @param {any} e */
function edge(e) {
  if (!e) return null;
  const mm = (/** @type {number} */ x) => decimal(x * hundred, 2);
  return h("section", null, h("h2", null, t("years.edge")), h("p", null, t("years.edgeSays", { rows: ranges(e.rows), by: mm(e.differenceMmPerHectare), from: mm(e.differenceFromMmPerHectare), to: mm(e.differenceToMmPerHectare) })));
}

/** @param {any[]} list */
function parts(list) {
  return list.length ? h("section", null, h("h2", null, t("years.parts")), h("ul", { class: "rows" }, list.map((p) => h("li", { "data-state": p.worn ? "OFF" : "" }, h("b", null, t("row", { n: p.row })), h("span", null, `${p.title}: ${decimal(p.last)} ${p.unit}`),
    h("small", null, [p.limit !== undefined && t("years.limit", { limit: `${decimal(p.limit)} ${p.unit}` }), p.worn ? t("inspect.worn") : p.enough ? hectares(p) : t("years.short")].filter(Boolean).join(" · ")))))) : null;
}

/** @param {any[]} list */
function visits(list) {
  return h("section", null, h("h2", null, t("years.visits")), list.length ? h("ul", { class: "cards" }, list.map((v) => h("li", null, h("a", { href: "#/" + v.job }, h("b", null, `${v.hectares.toLocaleString(document.documentElement.lang)} ha`), h("span", null, dated(v.signTime)))))) : h("p", null, t("years.none")));
}

customElements.define("rd-years", Years);
