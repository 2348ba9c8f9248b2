/** What the views of the field and of the years begin with: their own words, fetched with the first of them, and what went wrong. */
import { View, h, put } from "../dom.js";
import { learnMore, t } from "../lang.js";
import { title, wordsOf } from "../frame.js";

export class FieldPage extends View {
  /** The planter that the address names. */
  get planterName() {
    return `planters/${this.params[0]}`;
  }

  async open() {
    put(this, h("p", { class: "soft" }, t("loading")));
    try {
      await learnMore();
      await this.begin();
    } catch (error) {
      title(t("planter.title"), this.planterName);
      put(this, h("p", { class: "fault" }, wordsOf(error)));
    }
  }

  /** Shows the view. @returns {void|Promise<void>} */
  begin() {}
}

/** Which planter this is: who stands in a field with a phone has several. @param {import("../shapes.js").Planter} planter */
export function whose(planter) {
  return h("p", { class: "soft" }, planter.displayName);
}

/** What somebody who is sent to the planter must have read, in sight. @param {string[]} cautions */
export function warned(cautions) {
  return cautions?.length ? h("ul", { class: "warnings" }, cautions.map((c) => h("li", null, c))) : null;
}

/** That a field of the view has no number that can be used. @param {string} label @param {string} wrong why it is not read; empty where it is */
export function noNumber(label, wrong) {
  return new Error(`${label}: ${wrong || t("form.number")}`);
}

/** What to mind, a line each; open where it may be long and must be read. @param {string[]} cautions @param {boolean} [open] */
export function mind(cautions, open = false) {
  return cautions?.length ? h("details", { open }, h("summary", null, t("plan.mind")), h("ul", null, cautions.map((c) => h("li", null, c)))) : null;
}

/** Names and figures, those without a figure left out. @param {[string, string|number|null|undefined|false][]} facts */
export function factList(facts) {
  return h("dl", { class: "facts" }, facts.filter(([, said]) => said !== null && said !== undefined && said !== false && said !== "").map(([name, said]) => [h("dt", null, name), h("dd", null, said)]));
}
