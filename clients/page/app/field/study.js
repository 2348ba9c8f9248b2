/** Is this fixture good enough? A short walk: every person reads every row, more than once; then what the fixture can prove. */
import { button, field, h, put, select } from "../dom.js";
import { t } from "../lang.js";
import { Refusal, ask, get, post, uuid } from "../api.js";
import { allWell, announce, explain, title } from "../frame.js";
import { Pad } from "../pad.js";
import { choice, draft, saveDraft } from "../store.js";
import { bothLengths, decimal, fineLength, fraction, inchRuling, linesPerInch, mmTyped, rowNumbers, spoken, typed } from "../units.js";
import { FieldPage, noNumber, warned } from "./page.js";

/** What was set up, and the numbers so far, in order. @typedef {{people: string[], rows: number[], times: number, toleranceMm: number, values: number[]}} Study */

/** The most rows of a planter. */
const mostRows = 120;

class StudyView extends FieldPage {
  /** @type {import("../api.js").Fixture} */ fixture = /** @type {any} */ (undefined);
  /** @type {Study|null} */ study = null;
  pad = new Pad();

  get name() {
    return `fixtures/${this.params[0]}`;
  }

  async begin() {
    this.fixture = await get(this.name);
    title(t("study.title"), "fixtures");
    this.study = draft("study." + this.name);
    this.hear(this.pad, "enter", () => this.enter());
    this.pad.rule(this.ruled);
    this.draw();
  }

  /** As the fixture is ruled. */
  get ruled() {
    return { inches: inchRuling(this.fixture.resolutionMm) > 0, ruling: linesPerInch(this.fixture.resolutionMm) };
  }

  keep() {
    saveDraft("study." + this.name, this.study);
  }

  /** Who reads which row, in order: each time round, person by person. @param {Study} s */
  order(s) {
    return Array.from({ length: s.times }, (_, i) => s.people.flatMap((person) => s.rows.map((row) => ({ person, row, time: i + 1 })))).flat();
  }

  draw() {
    allWell();
    const s = this.study;
    if (!s) return put(this, this.setUp());
    const order = this.order(s), now = order[s.values.length];
    if (!now) return void this.judge(s);
    this.pad.line.setAttribute("aria-label", t("study.reading", { n: now.row }));
    put(this, h("section", { class: "panel one" }, h("p", { class: "soft" }, t("study.left", { n: order.length - s.values.length })),
      h("h2", { class: "bigrow" }, t("row", { n: now.row })), h("p", { class: "say" }, t("study.turn", { person: now.person, n: now.time, of: s.times }))),
      this.pad.element, h("div", { class: "choices" },
        s.values.length ? button(t("study.undo"), () => { s.values.pop(); this.keep(); this.draw(); }, { class: "quiet" }) : null,
        this.anew(s.values.length > 0)));
  }

  /** Begins anew; what would be lost is asked about. @param {boolean} loses */
  anew(loses) {
    return button(t("study.anew"), () => {
      if (loses && !confirm(t("study.anewSure"))) return;
      this.study = null;
      this.keep();
      this.draw();
    }, { class: "quiet" });
  }

  setUp() {
    const people = h("input", { type: "text", maxlength: 300, autocomplete: "off", required: true, value: choice("person") });
    const rows = h("input", { type: "text", autocomplete: "off", required: true, value: "1, 4, 8" });
    const times = select(["2", "3", "4"].map((n) => [n, n]), "2", () => {});
    const tolerance = select([32, 16, 8, 4].map((n) => [String(25.4 / n), `± ${bothLengths(25.4 / n, { inches: this.ruled.inches, ruling: 32 })}`]), String(25.4 / 8), () => {});
    const form = h("form", { class: "panel" }, h("h2", null, this.fixture.displayName), h("p", null, t("study.how")), warned(["safe.park", "safe.stands", "safe.raisedIron", "safe.hands"].map((key) => t(key))),
      field(t("study.people"), people, { hint: t("study.people.hint") }), field(t("study.rows"), rows, { hint: t("study.rows.hint") }),
      field(t("study.times"), times), field(t("job.tolerance"), tolerance), h("button", { class: "go" }, t("job.start")));
    form.addEventListener("submit", (e) => {
      e.preventDefault();
      const numbers = [...rowNumbers(rows.value, mostRows)], names = [...new Set(people.value.split(/[,;]+/).map((x) => x.trim()).filter(Boolean))];
      if (numbers.length < 2) return explain(new Error(`${t("study.rows")}: ${t("study.rows.hint")}`));
      this.study = { people: names, rows: numbers, times: Number(times.value), toleranceMm: Number(tolerance.value), values: [] };
      this.keep();
      this.draw();
    });
    return form;
  }

  enter() {
    const s = this.study, value = this.pad.value;
    if (!s) return;
    if (!Number.isFinite(value)) return explain(noNumber(this.pad.line.getAttribute("aria-label") ?? "", this.pad.wrong));
    const unit = this.ruled.inches ? "IN" : "MM";
    s.values.push(mmTyped(value, unit));
    this.pad.text = "";
    this.keep();
    announce(typed(value, unit, this.ruled.ruling));
    this.draw();
  }

  /** @param {Study} s */
  async judge(s) {
    const readings = this.order(s).map(({ person, row }, i) => ({ person, row, valueMm: s.values[i] }));
    try {
      this.show(s, await post(`${this.name}:study`, { readings, toleranceMm: s.toleranceMm }), readings);
    } catch (error) {
      explain(error);
      put(this, h("div", { class: "choices" }, button(t("trouble.again"), () => this.draw()), this.anew(true)));
    }
  }

  /** @param {Study} s @param {import("../shapes.js").FixtureStudy} found @param {unknown[]} readings */
  show(s, found, readings) {
    const several = found.provable[0]?.severalPeopleMm !== undefined;
    const apply = async () => {
      try {
        this.fixture = await ask("GET", this.name);
        this.show(s, await post(`${this.name}:study`, { readings, toleranceMm: s.toleranceMm, apply: true, etag: this.fixture.etag, requestId: uuid() }), readings);
        announce(t("study.kept"));
      } catch (error) {
        if (error instanceof Refusal) this.fixture = await get(this.name);
        explain(error);
      }
    };
    put(this, h("p", { class: "sum" }, found.verdict), warned(found.cautions),
      found.fixture ? h("p", { class: "hint" }, t("study.kept")) : button(t("study.apply"), () => void apply(), { class: "go" }),
      h("table", { class: "proves" }, h("caption", null, t("study.proves")), h("thead", null, h("tr", null, h("th", { scope: "col" }, t("study.readings")), h("th", { scope: "col" }, t("study.one")), several ? h("th", { scope: "col" }, t("study.several")) : null)),
        h("tbody", null, found.provable.map((p) => h("tr", null, h("td", null, p.readings), h("td", null, proven(p.toleranceMm, this.ruled.inches)), several ? h("td", null, proven(Number(p.severalPeopleMm), this.ruled.inches)) : null)))),
      h("dl", { class: "facts" }, [["study.repeats", found.repeatabilityMm], ["study.scatter", found.scatterMm], ["study.differ", several ? found.reproducibilityMm : undefined]].filter(([, mm]) => mm !== undefined).map(([key, mm]) => [h("dt", null, t(String(key))), h("dd", null, hundredths(Number(mm), found))])),
      h("details", null, h("summary", null, t("how")), h("p", null, found.method)),
      this.anew(!found.fixture));
  }
}

/** A small length, finer than it can be read. @param {number} mm @param {{lengthUnit?: string}} found */
function hundredths(mm, found) {
  return spoken(found).inches ? fineLength(mm, spoken(found)) : `${decimal(mm, 2)} mm`;
}

/** Rounded up, as the fixture is ruled: less is not proven. @param {number} mm @param {boolean} inches */
function proven(mm, inches) {
  const metric = `± ${decimal(Math.ceil(mm * 10) / 10, 1)} mm`;
  return h("span", null, inches ? [`± ${fraction(Math.ceil((mm / 25.4) * 32), 32)} ${t("in")}`, h("small", null, `(${metric})`)] : metric);
}

customElements.define("rd-study", StudyView);
