/** Describes a planter, or changes one. What is typed is kept through a reload until it is saved. */
import { View, button, field, h, put, select, tick } from "../dom.js";
import { ranges, t, tn } from "../lang.js";
import { ask, get, styles, uuid } from "../api.js";
import { announce, explain, title, wordsOf } from "../frame.js";
import { go } from "../router.js";
import { schemaForm, settingWords } from "../schema-form.js";
import { draft, saveDraft } from "../store.js";
import { readLength, readNumber } from "../lengths.js";
import { filledWithUnit, rowNumbers, scaleOf, unread } from "../units.js";

/** @import {Style} from "../api.js" */
/** @import {Planter, PlanterRow, Section, Values} from "../shapes.js" */
/** @typedef {{id: string, style: string, figures: Values}} Fitted */
/** @typedef {Omit<PlanterRow, "rank"> & {rank?: PlanterRow["rank"]}} FittedRow */
/**
 * What stands in the form.
 * @typedef {{displayName: string, owner: string, spacing: string, count: number, sections: Section[], mechanisms: Fitted[], rows: FittedRow[],
 *   shallower: string, deeper: string, referenceRows: number[], lengthUnit: string, areaUnit: string, requestId: string}} Draft
 */

const mostRows = 120;

class PlanterForm extends View {
  /** @type {Draft} */ draft = emptyDraft();
  /** @type {Planter|undefined} */ planter;
  /** @type {Map<string, Style>} */ styles = new Map();
  /** @type {(() => void)[]} */ reads = [];
  /** @type {string[]} */ faults = [];

  async open() {
    const name = this.params[0] && `planters/${this.params[0]}`;
    title(t(name ? "planter.edit" : "planter.new"), name ?? "");
    try {
      this.planter = name ? await get(name) : undefined;
      this.draft = draft(this.key) ?? (this.planter ? draftOf(this.planter) : emptyDraft());
      this.styles = await styles(this.draft.lengthUnit);
    } catch (error) {
      put(this, h("p", { class: "fault" }, wordsOf(error)));
      return;
    }
    if (!this.draft.mechanisms.length) this.draft.mechanisms.push(this.fitted([...this.styles].find(([, s]) => s.setsPlantingDepth)?.[0] ?? ""));
    if (this.draft.rows.length) this.draw();
    else this.resize(this.draft.count);
    this.hear(this, "change", () => this.keep());
  }

  get inches() {
    return this.draft.lengthUnit === "IN";
  }

  get key() {
    return this.params[0] ? `planter.${this.params[0]}` : "planter";
  }

  /** Reads the whole form, as far as it goes, and keeps it. */
  keep() {
    this.faults = [];
    for (const read of this.reads) read();
    saveDraft(this.key, this.draft);
  }

  draw() {
    this.reads = [];
    const form = h("form", { novalidate: true },
      this.head(), this.mechanisms(), this.sections(), this.season(), this.rows(),
      h("button", { class: "go" }, t("save")),
      button(t("form.discard"), () => { saveDraft(this.key, null); go(this.planter?.name ?? ""); }, { class: "quiet" }));
    form.addEventListener("submit", (e) => { e.preventDefault(); void this.save(); });
    put(this, form);
  }

  /** A style that no mechanism has yet. */
  unused() {
    const all = [...this.styles.keys()];
    return all.find((id) => !this.draft.mechanisms.some((m) => m.style === id)) ?? all[0] ?? "";
  }

  head() {
    const d = this.draft;
    const name = h("input", { type: "text", maxlength: 200, required: true, autocomplete: "off", value: d.displayName });
    const owner = h("input", { type: "text", maxlength: 200, autocomplete: "off", value: d.owner });
    const count = h("input", { type: "text", inputmode: "numeric", autocomplete: "off", value: String(d.count), disabled: Boolean(this.planter) });
    const spacing = h("input", { type: "text", autocomplete: "off", value: d.spacing, placeholder: t("form.example", { value: this.inches ? `30 ${t("in")}` : "750 mm" }) });
    count.addEventListener("change", () => {
      const n = Math.min(mostRows, Math.max(1, Math.round(readNumber(count.value).value) || 1));
      count.value = String(n);
      this.resize(n);
    });
    this.reads.push(() => {
      d.displayName = name.value.trim();
      d.owner = owner.value.trim();
      d.spacing = spacing.value.trim();
      if (!d.displayName) this.faults.push(`${t("planter.name")}: ${t("form.missing")}`);
      const wrong = d.spacing && unread(d.spacing, this.mm(d.spacing).refused);
      if (wrong) this.faults.push(`${t("planter.spacing")}: ${wrong}`);
    });
    return h("section", null, field(t("planter.name"), name), field(t("planter.owner"), owner, { hint: t("optional") }),
      field(t("planter.rows"), count, { hint: t("planter.rows.hint") }), field(t("planter.spacing"), spacing, { hint: t("optional") }), this.units());
  }

  /** The units that its people work in. */
  units() {
    const d = this.draft;
    return h("div", { class: "duo" },
      field(t("planter.lengths"), select([["IN", t("unit.in")], ["MM", "mm"]], d.lengthUnit, (v) => void this.speak(v))),
      field(t("planter.areas"), select([["HECTARE", t("unit.hectares")], ["ACRE", t("unit.acres")]], d.areaUnit, (v) => { d.areaUnit = v; saveDraft(this.key, d); })));
  }

  /** Changes the unit of lengths: what was filled in stays the same length. @param {string} unit */
  async speak(unit) {
    const d = this.draft;
    this.keep();
    for (const name of /** @type {const} */ (["spacing", "shallower", "deeper"])) {
      const { mm, refused } = this.mm(d[name]);
      if (!refused) d[name] = filledWithUnit(mm, unit === "IN");
    }
    d.lengthUnit = unit;
    saveDraft(this.key, d);
    try {
      this.styles = await styles(unit);
    } catch { /* its words stay in the other unit until the network is back */ }
    this.draw();
  }

  /** A length as it is filled in; a bare number is in the planter's unit. @param {string} text */
  mm(text) {
    return readLength(text, { bare: this.inches ? "in" : "mm" });
  }

  /** @param {number} n */
  resize(n) {
    const d = this.draft;
    d.count = n;
    const first = d.mechanisms[0].id;
    d.rows = Array.from({ length: n }, (_, i) => d.rows[i] ?? { row: i + 1, mechanism: first });
    d.sections = d.sections.filter((s) => s.firstRow <= n).map((s) => ({ ...s, lastRow: Math.min(s.lastRow, n) }));
    this.keep();
    this.draw();
  }

  /** A mechanism of a style, in the place of another where one is named. @param {string} style @param {Fitted} [instead] @returns {Fitted} */
  fitted(style, instead) {
    const taken = new Set(this.draft.mechanisms.filter((m) => m !== instead).map((m) => m.id));
    let id = style.slice(0, 55) || "mechanism";
    for (let n = 2; taken.has(id); n++) id = `${style.slice(0, 55)}-${n}`;
    return { id, style, figures: {} };
  }

  mechanisms() {
    const d = this.draft;
    return h("section", null, h("h2", null, t("planter.mechanisms")), h("p", { class: "soft" }, t("planter.mechanisms.hint")),
      d.mechanisms.map((m, i) => this.mechanism(m, i)),
      button(t("planter.addMechanism"), () => { this.keep(); d.mechanisms.push(this.fitted(this.unused())); this.keep(); this.draw(); }, { class: "quiet" }));
  }

  /** @param {Fitted} m @param {number} i */
  mechanism(m, i) {
    const d = this.draft;
    const style = this.styles.get(m.style);
    const choices = [...this.styles].map(([id, s]) => /** @type {[string, string]} */ ([id, s.title]));
    const chosen = select(choices, m.style, (id) => {
      const next = this.fitted(id, m);
      for (const r of d.rows) if (r.mechanism === m.id) { r.mechanism = next.id; delete r.setting; }
      d.mechanisms[i] = next;
      saveDraft(this.key, d);
      this.draw();
    });
    const figures = style ? schemaForm(style.figuresSchema, m.figures, this.inches) : null;
    this.reads.push(() => { if (figures) m.figures = figures.read(this.faults); });
    return h("fieldset", { class: "panel" }, h("legend", null, t("planter.mechanism", { n: i + 1 })),
      field(t("planter.style"), chosen), figures?.element, this.rowsOf(m, style),
      d.mechanisms.length > 1 ? button(t("planter.removeMechanism", { n: i + 1 }), () => this.takeOff(m), { class: "quiet" }) : null);
  }

  /** @param {Fitted} m */
  takeOff(m) {
    const d = this.draft;
    this.keep();
    d.mechanisms = d.mechanisms.filter((x) => x !== m);
    for (const r of d.rows) if (r.mechanism === m.id) { r.mechanism = d.mechanisms[0].id; delete r.setting; }
    this.keep();
    this.draw();
  }

  /** Which rows have it, and where they all stand. @param {Fitted} m @param {Style|undefined} style */
  rowsOf(m, style) {
    const d = this.draft;
    const mine = d.rows.filter((r) => r.mechanism === m.id);
    const rows = h("input", { type: "text", inputmode: "text", autocomplete: "off", value: ranges(mine.map((r) => r.row)).replaceAll("–", "-") });
    rows.addEventListener("change", () => {
      const wanted = rowNumbers(rows.value, d.count);
      for (const r of d.rows) {
        if (wanted.has(r.row) && r.mechanism !== m.id) { r.mechanism = m.id; delete r.setting; }
        if (!wanted.has(r.row) && r.mechanism === m.id && d.mechanisms[0] !== m) { r.mechanism = d.mechanisms[0].id; delete r.setting; }
      }
      this.keep();
      this.draw();
      announce(t("planter.rowsSet"));
    });
    const same = mine.length > 0 && mine.every((r) => JSON.stringify(r.setting) === JSON.stringify(mine[0].setting)) ? mine[0].setting : undefined;
    const setting = style ? schemaForm(style.settingSchema, same, this.inches) : null;
    const all = button(t("planter.setAll"), () => {
      /** @type {string[]} */
      const faults = [];
      const value = setting?.read(faults);
      if (faults.length) return;
      for (const r of d.rows) if (r.mechanism === m.id) r.setting = structuredClone(value);
      this.keep();
      this.draw();
      announce(t("planter.rowsSet"));
    });
    return h("div", { class: "schema" }, field(t("planter.whichRows"), rows, { hint: t("planter.whichRows.hint") }),
      setting && h("fieldset", null, h("legend", null, t("planter.stand")), h("small", null, t("planter.stand.hint")), setting.element, all));
  }

  sections() {
    const d = this.draft;
    const draw = () => put(place, d.sections.map((s, i) => {
      const name = h("input", { type: "text", maxlength: 100, autocomplete: "off", value: s.title });
      const from = h("input", { type: "text", inputmode: "numeric", autocomplete: "off", value: String(s.firstRow) });
      const to = h("input", { type: "text", inputmode: "numeric", autocomplete: "off", value: String(s.lastRow) });
      name.addEventListener("change", () => { s.title = name.value.trim(); });
      from.addEventListener("change", () => { s.firstRow = readNumber(from.value).value; });
      to.addEventListener("change", () => { s.lastRow = readNumber(to.value).value; });
      return h("div", { class: "trio" }, field(t("planter.section", { n: i + 1 }), name), field(t("planter.from"), from), field(t("planter.to"), to));
    }));
    const place = h("div");
    const split = select([["1", t("planter.oneSection")], ["2", "2"], ["3", "3"], ["4", "4"], ["5", "5"]], String(Math.max(1, d.sections.length)), (v) => {
      const n = Number(v);
      d.sections = n < 2 ? [] : Array.from({ length: n }, (_, i) => ({ title: t("planter.section", { n: i + 1 }), firstRow: Math.floor((i * d.count) / n) + 1, lastRow: Math.floor(((i + 1) * d.count) / n) }));
      draw();
      saveDraft(this.key, d);
    });
    draw();
    return h("section", null, h("h2", null, t("planter.sections")), field(t("planter.howMany"), split, { hint: t("planter.sections.hint") }), place);
  }

  season() {
    const d = this.draft;
    const shallower = h("input", { type: "text", autocomplete: "off", value: d.shallower, placeholder: t("form.example", { value: this.inches ? `3/4 ${t("in")}` : "20 mm" }) });
    const deeper = h("input", { type: "text", autocomplete: "off", value: d.deeper, placeholder: t("form.example", { value: this.inches ? `1 ${t("in")}` : "25 mm" }) });
    this.reads.push(() => {
      d.shallower = shallower.value.trim();
      d.deeper = deeper.value.trim();
      for (const v of [d.shallower, d.deeper].filter(Boolean)) {
        const { mm, refused } = this.mm(v);
        if (!(mm >= 0)) this.faults.push(`${t("planter.season")}: ${unread(v, refused) || t("form.number")}`);
      }
    });
    return h("details", { open: Boolean(d.shallower || d.deeper) }, h("summary", null, t("planter.season")), h("p", { class: "soft" }, t("planter.season.hint")),
      h("div", { class: "duo" }, field(t("planter.shallower"), shallower), field(t("planter.deeper"), deeper)));
  }

  /** Every row by itself: for mixed and rebuilt planters. */
  rows() {
    return h("section", null, h("h2", null, t("planter.eachRow")), h("p", { class: "soft" }, t("planter.eachRow.hint")),
      h("div", { class: "rowlist" }, this.draft.rows.map((r) => this.row(r))));
  }

  /** @param {FittedRow} r */
  row(r) {
    const summary = h("summary");
    const inside = h("div", { class: "schema" });
    const style = () => this.styles.get(this.draft.mechanisms.find((m) => m.id === r.mechanism)?.style ?? "");
    const say = () => put(summary, h("b", null, t("row", { n: r.row })), h("span", null, style()?.title ?? "?"), h("span", null, settingWords(style(), r.setting, this.inches)));
    const details = h("details", null, summary, inside);
    details.addEventListener("toggle", () => { if (details.open) this.editRow(r, inside, style, say); });
    say();
    return details;
  }

  /** @param {FittedRow} r @param {HTMLElement} place @param {() => Style|undefined} style @param {() => void} say */
  editRow(r, place, style, say) {
    const d = this.draft;
    const again = () => { say(); saveDraft(this.key, d); this.editRow(r, place, style, say); };
    const many = d.mechanisms.map((m, i) => /** @type {[string, string]} */ ([m.id, `${i + 1}: ${this.styles.get(m.style)?.title ?? m.style}`]));
    const mechanism = select(many, r.mechanism, (id) => { r.mechanism = id; delete r.setting; again(); });
    const now = style();
    const unknown = tick(t("setting.unknownLong"), !r.setting, (on) => { if (on) { delete r.setting; again(); } });
    const form = now ? schemaForm(now.settingSchema, r.setting, this.inches, () => {
      /** @type {string[]} */
      const faults = [];
      const value = form?.read(faults);
      if (faults.length) return;
      r.setting = value;
      const box = unknown.querySelector("input");
      if (box) box.checked = false;
      say();
      saveDraft(this.key, d);
    }) : null;
    const rank = select([["RANK_UNSPECIFIED", t("rank.one")], ["FRONT", t("rank.FRONT")], ["REAR", t("rank.REAR")]], r.rank ?? "RANK_UNSPECIFIED", (v) => { r.rank = /** @type {PlanterRow["rank"]} */ (v); saveDraft(this.key, d); });
    const reference = now?.keepsMarks ? tick(t("planter.reference"), d.referenceRows.includes(r.row), (on) => {
      const others = d.referenceRows.filter((n) => d.rows.find((x) => x.row === n)?.mechanism !== r.mechanism);
      d.referenceRows = on ? [...others, r.row] : others;
      saveDraft(this.key, d);
    }) : null;
    put(place, field(t("planter.mechanismOf"), mechanism), unknown, form?.element, field(t("rank"), rank), reference);
  }

  async save() {
    this.keep();
    const loose = this.draft.rows.filter((r) => !this.draft.mechanisms.some((m) => m.id === r.mechanism));
    if (loose.length) this.faults.push(tn("planter.loose", loose.length, { rows: ranges(loose.map((r) => r.row)) }));
    if (this.faults.length) {
      explain(new Error(this.faults.join("\n")));
      const first = /** @type {HTMLElement|null} */ (this.querySelector("[aria-invalid]"));
      first?.focus();
      return;
    }
    try {
      const body = planterOf(this.draft, this.planter, (text) => this.mm(text).mm);
      const id = this.draft.requestId;
      const saved = this.planter
        ? await ask("PATCH", `${this.planter.name}?requestId=${uuid()}&updateMask=displayName,owner,rowSpacingMm,mechanisms,rows,sections,reach,referenceRows,lengthUnit,areaUnit`, body)
        : await ask("POST", `planters?requestId=${id}`, body);
      saveDraft(this.key, null);
      go(saved.name);
    } catch (error) {
      this.draft.requestId = uuid(); // refused, so it may be another body next time
      explain(error);
      scrollTo(0, 0);
    }
  }
}

/** @returns {Draft} */
function emptyDraft() {
  return { displayName: "", owner: "", spacing: "", count: 8, sections: [], mechanisms: [], rows: [], shallower: "", deeper: "", referenceRows: [],
    lengthUnit: scaleOf().inches ? "IN" : "MM", areaUnit: navigator.language === "en-US" ? "ACRE" : "HECTARE", requestId: uuid() };
}

/** @param {Planter} p @returns {Draft} */
function draftOf(p) {
  const { inches } = scaleOf(p), mm = (/** @type {number|undefined} */ v) => (v ? filledWithUnit(v, inches) : "");
  return {
    displayName: p.displayName, owner: p.owner ?? "", spacing: mm(p.rowSpacingMm), count: p.rows.length, sections: structuredClone(p.sections ?? []),
    mechanisms: structuredClone(p.mechanisms), rows: p.rows.map(({ row, mechanism, setting, rank }) => ({ row, mechanism, ...(setting ? { setting } : {}), ...(rank ? { rank } : {}) })),
    shallower: mm(p.reach?.shallowerMm), deeper: mm(p.reach?.deeperMm), referenceRows: [...(p.referenceRows ?? [])],
    lengthUnit: inches ? "IN" : "MM", areaUnit: p.areaUnit === "ACRE" ? "ACRE" : "HECTARE", requestId: uuid(),
  };
}

/** @param {Draft} d @param {Planter|undefined} was @param {(text: string) => number} mm */
function planterOf(d, was, mm) {
  const reach = { ...(d.shallower ? { shallowerMm: mm(d.shallower) } : {}), ...(d.deeper ? { deeperMm: mm(d.deeper) } : {}) };
  return {
    ...(was ? { name: was.name, etag: was.etag } : {}),
    displayName: d.displayName, owner: d.owner, ...(d.spacing ? { rowSpacingMm: mm(d.spacing) } : {}),
    mechanisms: d.mechanisms, rows: d.rows, sections: d.sections, reach, referenceRows: d.referenceRows, lengthUnit: d.lengthUnit, areaUnit: d.areaUnit,
  };
}

customElements.define("rd-planter-form", PlanterForm);
