/** Digs: those there are, and a new one: seeds row by row with the pad, or pasted. What is typed is kept on this phone until it is sent. */
import { button, field, h, put, select } from "../dom.js";
import { t, tn, when } from "../lang.js";
import { Refusal, get, post, uuid } from "../api.js";
import { allWell, announce, explain, title } from "../frame.js";
import { Pad } from "../pad.js";
import { strip } from "../picture.js";
import { go } from "../router.js";
import { choice, choose, draft, saveDraft } from "../store.js";
import { readLength } from "../lengths.js";
import { length, mmTyped, scaleOf, unread } from "../units.js";
import { FieldPage, noNumber, whose } from "./page.js";

/** @import {Planter} from "../shapes.js" */
/** What is typed so far; `seeds` by row, as lengths in mm. @typedef {{id: string, at: string, title: string, target: string, row: number, seeds: Record<string, number[]>, pasted: string, unit: string}} Draft */

class Digs extends FieldPage {
  /** @type {Planter} */ planter = /** @type {any} */ (undefined);
  /** @type {Draft} */ dig = /** @type {any} */ (undefined);
  pad = new Pad();
  seeds = h("div");

  async begin() {
    const [planter, { digs }] = await Promise.all([get(this.planterName), get(`${this.planterName}/digs?pageSize=200`)]);
    this.planter = planter;
    this.dig = draft(this.key) ?? { id: uuid(), at: new Date().toISOString(), title: "", target: "", row: planter.rows[0].row, seeds: {}, pasted: "", unit: scaleOf(planter).inches ? "IN" : "MM" };
    title(t("digs.title"), `${this.planterName}/field`);
    this.hear(this.pad, "enter", () => this.enter());
    this.pad.rule(this.scale);
    put(this, whose(planter), digs.length ? h("ul", { class: "cards" }, digs.map((/** @type {import("../shapes.js").Dig} */ d) => h("li", null, h("a", { href: "#/" + d.name }, h("b", null, d.title || when(d.createTime)), h("span", null, [d.title && when(d.digTime ?? d.createTime), tn("rows", d.rows.length)].filter(Boolean).join(" · ")))))) : h("p", null, t("digs.none")), this.form());
    this.draw();
  }

  get scale() {
    return scaleOf(this.planter);
  }

  get key() {
    return "dig." + this.planterName;
  }

  keep() {
    saveDraft(this.key, this.dig);
  }

  form() {
    const { dig } = this;
    const text = (/** @type {"title"|"target"|"pasted"} */ name, /** @type {HTMLInputElement|HTMLTextAreaElement} */ input) => {
      input.value = dig[name];
      input.addEventListener("input", () => { dig[name] = input.value; this.keep(); });
      return input;
    };
    const person = h("input", { type: "text", maxlength: 100, autocomplete: "name", required: true, value: choice("person") });
    person.addEventListener("input", () => choose("person", person.value.trim()));
    const form = h("form", { class: "panel" }, h("h2", null, t("digs.new")), h("p", null, t("digs.how")),
      field(t("digs.where"), text("title", h("input", { type: "text", maxlength: 200, autocomplete: "off" }))),
      field(t("person"), person),
      field(t("digs.target"), text("target", h("input", { type: "text", autocomplete: "off", placeholder: t("form.example", { value: this.scale.inches ? `2 ${t("in")}` : "50 mm" }) })), { hint: t("optional") }),
      this.seeds, this.pad.element,
      h("details", { open: dig.pasted !== "" }, h("summary", null, t("digs.paste")), field(t("digs.text"), text("pasted", h("textarea", { rows: 5 })), { hint: t("digs.text.hint") }),
        field(t("settings.unit"), select([["IN", t("unit.in")], ["MM", "mm"]], dig.unit, (v) => { dig.unit = v; this.keep(); }))),
      h("button", { class: "go" }, t("save")));
    form.addEventListener("submit", (e) => {
      e.preventDefault();
      void this.save();
    });
    return form;
  }

  enter() {
    const { inches } = this.scale;
    const mm = mmTyped(this.pad.value, inches ? "IN" : "MM");
    if (!(mm >= 0)) return explain(noNumber(t("digs.depth", { n: this.dig.row }), this.pad.wrong));
    (this.dig.seeds[this.dig.row] ??= []).push(mm);
    this.pad.text = "";
    this.keep();
    allWell();
    this.draw();
    announce(`${t("row", { n: this.dig.row })}: ${length(mm, this.scale)}`);
  }

  draw() {
    const { dig } = this;
    const rows = this.planter.rows.map((r) => r.row), here = rows.indexOf(dig.row), own = dig.seeds[dig.row] ?? [];
    const goTo = (/** @type {number} */ row) => { dig.row = row; this.keep(); this.draw(); };
    const step = (/** @type {number} */ by) => goTo(rows[(here + by + rows.length) % rows.length]);
    this.pad.line.setAttribute("aria-label", t("digs.depth", { n: dig.row }));
    put(this.seeds, strip(this.planter, rows.map((row) => ({ row, next: dig.seeds[row]?.length ? "DONE" : "READ" })), dig.row),
      h("div", { class: "rowline" }, button("‹", () => step(-1), { "aria-label": t("walk.before") }),
        h("div", { class: "which" }, select(rows.map((r) => [String(r), t("row", { n: r })]), String(dig.row), (v) => goTo(Number(v)), { "aria-label": t("walk.which"), class: "big" }), h("small", null, tn("digs.seeds", own.length))),
        button("›", () => step(1), { "aria-label": t("walk.after") })),
      h("div", { class: "choices seeds" }, own.map((mm, i) => button(`${length(mm, this.scale)} ✕`, () => { own.splice(i, 1); this.keep(); this.draw(); }, { "aria-label": t("form.remove", { what: length(mm, this.scale) }) }))));
  }

  /** What the form calls a field of its request. @param {string} field @param {{row: number, depthsMm: number[]}[]} rows */
  fieldName(field, rows) {
    const [, i, j] = /^dig\.rows\[(\d+)\](?:\.depthsMm\[(\d+)\])?/.exec(field) ?? [];
    const row = rows[Number(i)];
    if (row) return [t("row", { n: row.row }), j && length(row.depthsMm[Number(j)], this.scale)].filter(Boolean).join(", ");
    return { "dig.rows": t("dig.seeds"), "dig.targetMm": t("digs.target"), "dig.title": t("digs.where"), "dig.person": t("person"), "dig.pasted.text": t("digs.text") }[field] ?? field;
  }

  async save() {
    const { dig } = this;
    const target = dig.target.trim() ? readLength(dig.target, { bare: this.scale.inches ? "in" : "mm" }) : undefined;
    if (target?.refused) return explain(noNumber(t("digs.target"), unread(dig.target, target.refused)));
    const rows = Object.entries(dig.seeds).filter(([, mm]) => mm.length).map(([row, depthsMm]) => ({ row: Number(row), depthsMm }));
    if (!dig.pasted.trim() && (rows.length < 2 || rows.every((r) => r.depthsMm.length < 2))) return explain(new Error(t("digs.again")));
    const body = { title: dig.title.trim(), person: choice("person"), digTime: dig.at, ...(target ? { targetMm: target.mm } : {}), ...(dig.pasted.trim() ? { pasted: { text: dig.pasted, unit: dig.unit } } : {}), ...(rows.length ? { rows } : {}) };
    try {
      const made = await post(`${this.planterName}/digs?requestId=${dig.id}`, body);
      saveDraft(this.key, null);
      go(made.name);
    } catch (error) {
      if (error instanceof Refusal) dig.id = uuid(); // what could not be reached is sent under the same id: kept once
      this.keep();
      explain(error, (field) => this.fieldName(field, rows));
    }
  }
}

customElements.define("rd-digs", Digs);
