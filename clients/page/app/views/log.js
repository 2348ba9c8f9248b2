/** The job's log: what happened, in order, what was struck; notes and changed parts go in here. */
import { button, field, h, put, select } from "../dom.js";
import { t, when } from "../lang.js";
import { announce, explain } from "../frame.js";
import { rowOf } from "../job.js";
import { JobPage } from "../job-page.js";
import { outbox } from "../outbox.js";
import { settingWords } from "../schema-form.js";
import { choice } from "../store.js";
import { describe, troubles } from "../trouble.js";
import { readLength, readNumber } from "../lengths.js";
import { filledIn, length, measured, mmTyped, typed, unread } from "../units.js";

/** @import {InspectionPoint, JobEvent} from "../shapes.js" */

class Log extends JobPage {
  /** @type {JobEvent[]} */ events = [];
  list = h("div");
  #revision = 0;

  get words() {
    return t("log.title");
  }

  async begin() {
    put(this, this.job.closed ? null : this.writing(), this.list);
    this.hear(this.job, "change", () => void this.draw());
    await this.draw();
  }

  async draw() {
    const { job } = this;
    if (this.#revision !== job.job.revision) {
      this.#revision = job.job.revision;
      this.events = await job.events();
    }
    const lastMove = new Map(this.events.filter((e) => e.move && !e.struckBy).map((e) => [rowOf(e), e.revision]));
    put(this.list, troubles(job), h("ol", { class: "log" },
      job.unsent.map((e) => h("li", { class: "waiting" }, h("b", null, describe(e)), h("small", null, t("walk.kept")))).reverse(),
      [...this.events].reverse().map((e) => this.line(e, !e.move || lastMove.get(rowOf(e)) === e.revision))));
  }

  /** @param {JobEvent} e @param {boolean} latest */
  line(e, latest) {
    const words = this.wordsOf(e);
    const strikable = latest && !this.job.closed && !e.struckBy && (e.reading || e.move || e.note || e.partChange || e.inspection || e.cautionTick);
    return h("li", { class: e.struckBy ? "struck" : "" }, h("b", null, e.struckBy ? h("s", null, words) : words),
      h("small", null, [e.person, when(e.eventTime ?? e.createTime), e.struckBy ? t("log.struck") : ""].filter(Boolean).join(" · ")),
      strikable ? button(t("log.strike"), async () => {
        await this.job.strike(rowOf(e), e.revision, words);
        announce(t("walk.struck"));
      }, { class: "quiet", "aria-label": t("log.strikeThis", { what: words }) }) : null);
  }

  /** @param {JobEvent} e @returns {string} */
  wordsOf(e) {
    const row = rowOf(e) ? t("row", { n: rowOf(e) }) + ": " : "";
    const style = this.job.style(this.job.state.rows.find((r) => r.row === rowOf(e)) ?? { mechanism: "" });
    if (e.reading) return `${row}${t("kind.reading")} ${asTyped(e.reading, this.job)}`;
    if (e.move) return `${row}${t("kind.move")} ${e.move.settingAfter ? settingWords(style, e.move.settingAfter, this.job.scale.inches) : `${e.move.count} ${style?.countUnit.other ?? ""}`}`;
    if (e.partChange) return `${row}${t("kind.parts")} ${e.partChange.part}`;
    if (e.inspection) return `${row}${style?.inspectionPoints.find((p) => p.id === e.inspection?.point)?.title ?? e.inspection.point}: ${[inspectedValue(e.inspection, style, this.job.scale), t(e.inspection.worn ? "inspect.worn" : "inspect.good"), e.inspection.comment].filter((x) => x !== undefined && x !== "").join(" · ")}`;
    if (e.note) return `${row}${e.note.text}`;
    if (e.strike) return t("log.strikeOf", { n: e.strike.revision });
    if (e.cautionTick) return `${t("kind.tick")}: ${this.job.state.cautions.find((c) => c.id === e.cautionTick?.caution)?.text ?? e.cautionTick.caution}`;
    if (e.planIssued?.plan) return t("log.plan", { datum: length(e.planIssued.plan.datumMm, this.job.scale), n: e.planIssued.plan.touchedRows });
    if (e.signature) return t("signed.by", { person: e.signature.person });
    if (e.voided) return `${t("stage.VOIDED")}: ${e.voided.reason}`;
    return t("log.opened");
  }

  /** Notes, changed parts and inspected wear points. */
  writing() {
    const rows = this.job.state.rows.map((r) => /** @type {[string, string]} */ ([String(r.row), t("row", { n: r.row })]));
    const place = h("div");
    const row = select([["0", t("log.wholeJob")], ...rows], "0", () => fit());
    const kind = select([["note", t("kind.note")], ["parts", t("kind.parts")], ["inspection", t("kind.inspection")]], "note", () => fit());
    const fit = () => {
      for (const o of kind.options) o.disabled = o.value !== "note" && row.value === "0";
      if (row.value === "0") kind.value = "note";
      put(place, kind.value === "inspection" ? this.inspect(Number(row.value)) : this.text(Number(row.value), kind.value));
    };
    fit();
    return h("details", { class: "panel" }, h("summary", null, t("log.write")), h("div", { class: "duo" }, field(t("log.about"), row), field(t("log.what"), kind)), place);
  }

  /** @param {number} row @param {string} kind */
  text(row, kind) {
    const input = kind === "note" ? h("textarea", { rows: 2, maxlength: 2000, required: true })
      : h("input", { type: "text", maxlength: 200, required: true, autocomplete: "off", list: "points" });
    return h("form", { onsubmit: async (/** @type {Event} */ e) => {
      e.preventDefault();
      const text = input.value.trim(), person = choice("person");
      if (kind === "note") await outbox.add(this.job.name, "note", "addNotes", row, { notes: [{ row, text }], person }, text);
      else await outbox.add(this.job.name, "parts", "changeParts", row, { partChanges: [{ row, part: text }], person }, text);
      input.value = "";
    } }, field(t(kind === "note" ? "kind.note" : "log.part"), input), kind === "note" ? "" : this.points(row), h("button", null, t("save")));
  }

  /** What can be inspected on a row: changing one of these ends its trend. @param {number} row */
  points(row) {
    return h("datalist", { id: "points" }, this.inspected(row).map((p) => h("option", { value: p.title })));
  }

  /** @param {number} row */
  inspected(row) {
    return this.job.style(this.job.state.rows.find((r) => r.row === row) ?? { mechanism: "" })?.inspectionPoints ?? [];
  }

  /** @param {number} row */
  inspect(row) {
    return h("div", null, this.inspected(row).map((p) => this.point(row, p)));
  }

  /** @param {number} row @param {InspectionPoint} p */
  point(row, p) {
    const was = this.job.state.inspections.find((i) => i.row === row && i.point === p.id);
    const { inches } = this.job.scale, isLength = p.unit === "mm";
    const value = h("input", { type: "text", inputmode: isLength && inches ? "text" : "decimal", autocomplete: "off", value: was?.value === undefined ? "" : isLength ? filledIn(was.value, inches) : String(was.value) });
    const worn = select([["", t("inspect.good")], ["1", t("inspect.worn")]], was?.worn ? "1" : "", () => {});
    const byEye = p.limit === undefined;
    return h("form", { class: "point", onsubmit: async (/** @type {Event} */ e) => {
      e.preventDefault();
      const read = isLength ? readLength(value.value, { bare: inches ? "in" : "mm" }) : readNumber(value.value);
      const { refused } = read, n = "mm" in read ? read.mm : read.value;
      if (!byEye && refused) return explain(new Error(`${p.title}: ${unread(value.value, refused)}`));
      const inspection = { row, point: p.id, ...(byEye ? { worn: worn.value === "1" } : { value: n }) };
      await outbox.add(this.job.name, "inspection", "addInspections", row, { inspections: [inspection], person: choice("person") }, p.title);
      announce(t("walk.kept"));
    } }, field(p.title, byEye ? worn : value, { unit: byEye ? "" : isLength && inches ? t("in") : p.unit, hint: p.guidance }), h("button", null, t("save")));
  }
}

/** What was read: as it was typed; in the other unit beside where that is the reader's. @param {import("../shapes.js").Reading} r @param {import("../job.js").OpenJob} job */
function asTyped(r, job) {
  const said = typed(r.value, r.unit, job.ruling);
  return (r.unit === "IN") === job.scale.inches ? said : `${length(mmTyped(r.value, r.unit), job.scale)} (${said})`;
}

/** @param {import("../shapes.js").Inspection} i @param {import("../api.js").Style|undefined} style @param {import("../units.js").Scale} scale */
function inspectedValue(i, style, scale) {
  return i.value === undefined ? undefined : measured(i.value, style?.inspectionPoints.find((p) => p.id === i.point)?.unit ?? "", scale);
}

customElements.define("rd-log", Log);
