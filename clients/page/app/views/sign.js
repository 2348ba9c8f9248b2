/** Sign-off: what still stands in the way, the exceptions with their reasons, who signs. */
import { field, h, put } from "../dom.js";
import { t } from "../lang.js";
import { Refusal, post, uuid } from "../api.js";
import { explain } from "../frame.js";
import { cautionList, openCautions } from "../cautions.js";
import { JobPage } from "../job-page.js";
import { go } from "../router.js";
import { choice, choose, draft, saveDraft } from "../store.js";
import { troubles } from "../trouble.js";
import { bothLengths } from "../units.js";

/** @import {OpenJob, Row} from "../job.js" */

/** Reasons given by row, 0 for all that the fixture cannot prove. @typedef {Record<string, string>} Reasons */

class Sign extends JobPage {
  /** @type {Reasons} */ reasons = {};
  #told = "";

  get words() {
    return t("sign.title");
  }

  begin() {
    this.reasons = draft("sign." + this.job.name) ?? {};
    this.hear(this.job, "change", () => this.draw());
    this.draw();
  }

  draw() {
    const { job } = this;
    if (job.closed) return go(job.name);
    const told = JSON.stringify([job.job.revision, job.unsent.length]);
    if (told === this.#told) return;
    this.#told = told;
    if (job.state.planRevision === 0) {
      put(this, troubles(job), h("p", null, t("sign.noPlan")), h("ul", { class: "warnings" }, job.state.signingNeeds.map((n) => h("li", null, n))));
      return;
    }
    put(this, troubles(job), job.unsent.length ? h("p", { class: "hint" }, t("sign.unsent")) : null,
      openCautions(job).length ? cautionList(job) : null, needs(job), this.form());
  }

  form() {
    const { job } = this;
    const open = job.rows().filter((r) => r.verdict !== "EVEN" || (r.next !== "DONE" && r.next !== "NEXT_STEP_UNSPECIFIED"));
    const unproven = open.filter((r) => r.verdict === "UNSURE");
    const person = h("input", { type: "text", maxlength: 100, autocomplete: "name", value: choice("person"), required: true });
    const form = h("form", { class: "panel" },
      open.length ? [h("h2", null, t("sign.exceptions")), h("p", { class: "soft" }, t("sign.exceptions.hint"))] : h("p", null, t("sign.allEven")),
      unproven.length > 1 ? this.reason("0", t("sign.unproven"), t("sign.unproven.hint")) : null,
      open.map((r) => this.reason(String(r.row), this.rowWords(r), r.why)),
      field(t("sign.person"), person), h("p", { class: "soft" }, t("sign.final")), h("button", { class: "go" }, t("sign.now")));
    const id = uuid();
    form.addEventListener("submit", async (e) => {
      e.preventDefault();
      choose("person", person.value.trim());
      const exceptions = Object.entries(this.reasons).filter(([, reason]) => reason.trim())
        .filter(([row]) => row === "0" || open.some((r) => String(r.row) === row))
        .map(([row, reason]) => (row === "0" ? { unproven: true, reason: reason.trim() } : { row: Number(row), reason: reason.trim() }));
      try {
        const answer = await post(`${job.name}:sign`, { etag: job.job.etag, person: person.value.trim(), exceptions, requestId: id });
        saveDraft("sign." + job.name, null);
        job.take(answer.job);
      } catch (error) {
        if (error instanceof Refusal && error.status === 409) await job.refresh();
        explain(error);
        this.#told = "";
        this.draw();
        scrollTo(0, 0);
      }
    });
    return form;
  }

  /** @param {Row} r */
  rowWords(r) {
    return `${t("row", { n: r.row })} · ${t(`verdict.${r.verdict}`)}${r.estimateMm === undefined ? "" : " · " + bothLengths(r.estimateMm, this.job.scale)}`;
  }

  /** @param {string} key @param {string} label @param {string} hint */
  reason(key, label, hint) {
    const input = h("input", { type: "text", maxlength: 500, autocomplete: "off", value: this.reasons[key] ?? "" });
    input.addEventListener("input", () => { this.reasons[key] = input.value; saveDraft("sign." + this.job.name, this.reasons); });
    return field(label, input, { hint });
  }
}

/** @param {OpenJob} job */
function needs(job) {
  return job.state.signingNeeds.length ? h("section", null, h("h2", null, t("sign.needs")), h("ul", { class: "warnings" }, job.state.signingNeeds.map((n) => h("li", null, n)))) : null;
}

customElements.define("rd-sign", Sign);
