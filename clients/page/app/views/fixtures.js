/** The shop's fixtures: describe one, change its figures. */
import { View, button, field, h, link, put, select } from "../dom.js";
import { t } from "../lang.js";
import { ask, get, uuid } from "../api.js";
import { explain, title, wordsOf } from "../frame.js";
import { go } from "../router.js";
import { choose } from "../store.js";
import { readLength } from "../lengths.js";
import { decimal, filledIn, filledWithUnit, fraction, inchRuling, scaleOf, stampedInches, unread } from "../units.js";

/** @import {Fixture} from "../api.js" */

const kinds = ["WINDOW", "BLOCKS", "POINTER_PLATE"];

class Fixtures extends View {
  /** The planter that a fixture is wanted for, where one came from it. */
  get planter() {
    return this.params[0] ? `planters/${this.params[0]}` : "";
  }

  async open() {
    title(t("fixtures.title"), this.planter);
    try {
      const { fixtures } = await get("fixtures?pageSize=200");
      put(this, h("ul", { class: "cards" }, fixtures.map((/** @type {Fixture} */ f) => this.card(f))), this.form());
    } catch (error) {
      put(this, h("p", { class: "fault" }, wordsOf(error)));
    }
  }

  /** @param {Fixture} f */
  card(f) {
    const inside = h("div");
    const n = inchRuling(f.resolutionMm);
    const details = h("details", { class: "panel" }, h("summary", null, h("b", null, f.displayName), h("span", null, ` · ${t(`fixture.${f.kind}`)} · ${n ? `${fraction(1, n)} ${t("in")}` : rulingWords(f.resolutionMm)}`)), inside);
    details.addEventListener("toggle", () => { if (details.open) put(inside, link(t("study.title"), `#/${f.name}/study`, { class: "study" }), this.form(f)); });
    return h("li", null, details);
  }

  /** @param {Fixture} [was] */
  form(was) {
    const { inches } = scaleOf(), unit = inches ? t("in") : "mm";
    const name = h("input", { type: "text", maxlength: 200, required: true, autocomplete: "off", value: was?.displayName ?? "" });
    const zero = h("input", { type: "text", autocomplete: "off", value: was ? filledWithUnit(was.zeroMm, inches) : "" });
    const zeroField = field(t("fixture.zero"), zero, { hint: t("fixture.zero.hint") });
    const zeroLabel = /** @type {HTMLElement} */ (zeroField.querySelector("label"));
    const zeroHint = /** @type {HTMLElement} */ (zeroField.querySelector("small"));
    const kind = select(kinds.map((k) => [k, t(`fixture.${k}`)]), was?.kind ?? "WINDOW", () => fit());
    const fit = () => {
      const blocks = kind.value === "BLOCKS";
      zeroLabel.textContent = t(blocks ? "fixture.block" : "fixture.zero");
      zeroHint.textContent = t(blocks ? "fixture.block.hint" : "fixture.zero.hint", { length: inches ? `6 ${unit}` : "150 mm" });
      zero.required = blocks;
    };
    fit();
    const rulings = [64, 32, 16, 8, 4].map((n) => /** @type {[string, string]} */ ([String(25.4 / n), `${fraction(1, n)} ${t("in")}`])).concat(["1", "0.5", "0.1"].map((mm) => [mm, rulingWords(Number(mm))]));
    if (was && !rulings.some(([mm]) => Number(mm) === was.resolutionMm)) rulings.push([String(was.resolutionMm), rulingWords(was.resolutionMm)]);
    const ruling = select(rulings, String(was?.resolutionMm ?? 25.4 / 16), () => {});
    const repeats = h("input", { type: "text", inputmode: "decimal", autocomplete: "off", value: was ? filledIn(was.repeatabilityMm, inches) : "" });
    const floor = h("input", { type: "text", inputmode: "decimal", autocomplete: "off", value: was ? filledIn(was.floorMm, inches) : "" });
    const form = h("form", { class: was ? "" : "panel" }, was ? null : h("h2", null, t("fixtures.new")),
      field(t("fixture.name"), name), field(t("fixture.kind"), kind), field(t("fixture.ruling"), ruling), zeroField,
      h("details", null, h("summary", null, t("fixture.figures")), h("p", { class: "soft" }, t("fixture.figures.hint")),
        field(t("fixture.repeats"), repeats, { unit }), field(t("fixture.floor"), floor, { unit })),
      h("button", { class: "go" }, t("save")),
      was ? button(t("delete"), () => this.forget(was), { class: "quiet" }) : null);
    let id = uuid();
    form.addEventListener("submit", async (e) => {
      e.preventDefault();
      try {
        const body = { displayName: name.value.trim(), kind: kind.value, resolutionMm: Number(ruling.value),
          ...given("repeatabilityMm", t("fixture.repeats"), repeats.value, inches), ...given("floorMm", t("fixture.floor"), floor.value, inches), ...given("zeroMm", zeroLabel.textContent ?? "", zero.value, inches) };
        if (was) await ask("PATCH", `${was.name}?requestId=${id}&updateMask=${Object.keys(body).join(",")}`, { ...body, name: was.name, etag: was.etag });
        else choose("fixture", (await ask("POST", `fixtures?requestId=${id}`, body)).name);
        if (this.planter) go(this.planter);
        else await this.open();
      } catch (error) {
        id = uuid();
        explain(error);
      }
    });
    return form;
  }

  /** @param {Fixture} f */
  async forget(f) {
    if (!confirm(t("fixture.delete", { name: f.displayName }))) return;
    try {
      await ask("DELETE", `${f.name}?requestId=${uuid()}`);
      await this.open();
    } catch (error) {
      explain(error);
    }
  }
}

/** A ruling that is not one of inches: to a reader of inches its mm stand in brackets, as they are printed on it. @param {number} mm */
function rulingWords(mm) {
  return scaleOf().inches ? stampedInches(mm) : `${decimal(mm)} mm`;
}

/** A length of the fixture where one is typed. @param {string} name @param {string} label @param {string} text @param {boolean} inches */
function given(name, label, text, inches) {
  if (!text.trim()) return {};
  const { mm, refused } = readLength(text, { bare: inches ? "in" : "mm" });
  if (refused) throw new Error(`${label}: ${unread(text, refused)}`);
  return { [name]: mm };
}

customElements.define("rd-fixtures", Fixtures);
