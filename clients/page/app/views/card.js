/** The marks card, for print: where each handle stands, counted from the reference row, so that in the field every row moves the same count. */
import { button, h, put, select } from "../dom.js";
import { dated, ranges, t } from "../lang.js";
import { JobPage } from "../job-page.js";
import { settingWords } from "../schema-form.js";
import { choice, choose } from "../store.js";
import { bothLengths, decimal, fineLength } from "../units.js";

/** @import {OpenJob} from "../job.js" */
/** @import {Style} from "../api.js" */
/** @import {MechanismMarks, RowMark} from "../shapes.js" */

class Card extends JobPage {
  get words() {
    return t("card.title");
  }

  begin() {
    this.hear(this.job, "change", () => this.draw(this.job));
    this.draw(this.job);
  }

  /** @param {OpenJob} job */
  draw(job) {
    const paper = choice("paper") || (/^(en-US|en-CA|es-MX)$/.test(navigator.language) ? "letter" : "a4");
    const sheet = h("article", { class: "card-sheet " + paper }, head(job),
      job.state.marks.length ? job.state.marks.map((m) => group(job, m)) : h("p", null, t("card.none")),
      others(job), h("p", { class: "foot" }, t("card.how")), foot(job));
    put(this, h("div", { class: "noprint choices" },
      select([["a4", "A4"], ["letter", "Letter"]], paper, (v) => { choose("paper", v); this.draw(job); }, { "aria-label": t("card.paper") }),
      button(t("card.print"), () => print(), { class: "go" })), sheet);
  }
}

/** @param {OpenJob} job */
function head(job) {
  const s = job.state;
  return h("div", { class: "card-head" }, h("h2", null, job.planter.displayName),
    h("p", null, [job.planter.owner, job.job.workOrder, dated(job.job.updateTime)].filter(Boolean).join(" · ")),
    s.datumMm === undefined ? null : h("p", null, t("card.level", { datum: bothLengths(s.datumMm, job.scale), tolerance: bothLengths(s.toleranceMm, job.scale) })));
}

/** @param {OpenJob} job @param {MechanismMarks} m */
function group(job, m) {
  const style = job.style(m);
  const reference = job.state.rows.find((r) => r.row === m.referenceRow);
  return h("section", { class: "group" },
    h("h3", null, style?.title ?? m.mechanism),
    h("p", null, t("card.reference", { row: m.referenceRow, setting: settingWords(style, reference?.setting, job.scale.inches) })),
    h("ul", { class: "marks" }, m.rows.filter((r) => r.count !== undefined).map((r) => mark(job, m, r, style))),
    m.rows.filter((r) => r.table?.length).map((r) => table(job, r, style)));
}

/** @param {OpenJob} job @param {MechanismMarks} m @param {RowMark} r @param {Style|undefined} style */
function mark(job, m, r, style) {
  const count = r.count ?? 0;
  const sign = count > 0 ? "+" : "";
  return h("li", { class: r.row === m.referenceRow ? "reference" : "" },
    h("span", { class: "row" }, t("row", { n: r.row })), h("b", null, sign + decimal(count)),
    h("span", null, style ? (Math.abs(count) === 1 ? style.countUnit.one : style.countUnit.other) : ""),
    h("small", null, left(r.residualMm, job)));
}

/** What the mechanism's steps leave. @param {number} mm @param {OpenJob} job */
function left(mm, job) {
  if (decimal(mm, 1) === "0") return t("card.exact");
  return t(mm > 0 ? "card.deeper" : "card.shallower", { length: fineLength(Math.abs(mm), job.scale) });
}

/** @param {OpenJob} job @param {RowMark} r @param {Style|undefined} style */
function table(job, r, style) {
  return h("table", null, h("caption", null, t("card.table", { row: r.row })),
    h("thead", null, h("tr", null, h("th", { scope: "col" }, t("card.depth")), h("th", { scope: "col" }, t("card.setting")))),
    h("tbody", null, (r.table ?? []).map((l) => h("tr", null, h("td", null, bothLengths(l.depthMm, job.scale)), h("td", null, settingWords(style, l.setting, job.scale.inches))))));
}

/** Rows without a mark are named, so that nobody looks for theirs. @param {OpenJob} job */
function others(job) {
  const marked = new Set(job.state.marks.flatMap((m) => m.rows.map((r) => r.row)));
  const rest = job.state.rows.filter((r) => !marked.has(r.row)).map((r) => r.row);
  return rest.length && marked.size ? h("p", null, t("card.unmarked", { rows: ranges(rest) })) : null;
}

/** @param {OpenJob} job */
function foot(job) {
  const s = job.state.signature;
  return s ? h("p", { class: "foot" }, t("signed.by", { person: s.person }), " · ", dated(s.signTime), " · ", h("code", null, s.contentHash.slice(0, 16))) : h("p", { class: "foot" }, t("card.unsigned"));
}

customElements.define("rd-card", Card);
