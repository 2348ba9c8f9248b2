/** What the views of the field and of the years begin with: their own words, fetched with the first of them, and what went wrong. */
import { View, h, put } from "../dom.js";
import { learnMore, t } from "../lang.js";
import { title, wordsOf } from "../frame.js";
import { choice } from "../store.js";

/** @import {Scale} from "../units.js" */

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

/** How lengths are shown and typed where no fixture says so. @returns {Scale} */
export function fieldScale() {
  const chosen = choice("unit");
  return { inches: chosen ? chosen === "IN" : navigator.language === "en-US", ruling: 16 };
}

/** What to mind, a line each. @param {string[]} cautions */
export function mind(cautions) {
  return cautions?.length ? h("details", null, h("summary", null, t("plan.mind")), h("ul", null, cautions.map((c) => h("li", null, c)))) : null;
}

/** Names and figures, those without a figure left out. @param {[string, string|number|null|undefined|false][]} facts */
export function factList(facts) {
  return h("dl", { class: "facts" }, facts.filter(([, said]) => said !== null && said !== undefined && said !== false && said !== "").map(([name, said]) => [h("dt", null, name), h("dd", null, said)]));
}
