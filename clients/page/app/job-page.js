/** What every view of a job begins with: the job, opened, or what went wrong with that. */
import { View, h, put } from "./dom.js";
import { t } from "./lang.js";
import { title, wordsOf } from "./frame.js";
import { OpenJob } from "./job.js";

export class JobPage extends View {
  /** There from `begin` on. @type {OpenJob} */
  job = /** @type {any} */ (undefined);

  /** The view's title. */
  get words() {
    return "";
  }

  /** Where the arrow leads. */
  get backTo() {
    return this.job.name;
  }

  async open() {
    put(this, h("p", { class: "soft" }, t("loading")));
    try {
      this.job = await OpenJob.open(`planters/${this.params[0]}/jobs/${this.params[1]}`, this.life);
      title(this.words, this.backTo);
      await this.begin();
    } catch (error) {
      title(t("job.title"));
      put(this, h("p", { class: "fault" }, wordsOf(error)));
    }
  }

  /** Shows the job. @returns {void|Promise<void>} */
  begin() {}
}
