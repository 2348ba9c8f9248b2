/** Where one begins: what is open, the planters, what to set up. */
import { View, h, link, put } from "../dom.js";
import { t, tn, when } from "../lang.js";
import { get } from "../api.js";
import { onward, title, wordsOf } from "../frame.js";
import { choice } from "../store.js";

/** @import {Job, Planter, Session} from "../shapes.js" */

class Home extends View {
  async open() {
    title("rowdatum");
    put(this, h("p", { class: "soft" }, t("loading")));
    try {
      const all = Promise.all([get("planters?pageSize=200"), get("planters/-/jobs?filter=stage%3DOPEN")]);
      all.catch(() => {}); // a link that reads one job may not ask for them
      const session = await get("session");
      if (session.job) return location.replace("#/" + session.job);
      const [planters, jobs] = await all;
      this.draw(session, planters.planters, jobs.jobs);
    } catch (error) {
      put(this, h("p", { class: "fault" }, wordsOf(error)), link(t("home.pair"), "/pair"), secure());
    }
  }

  /** @param {Session} session @param {Planter[]} planters @param {Job[]} jobs */
  draw(session, planters, jobs) {
    const named = new Map(planters.map((p) => [p.name, p]));
    const mayWrite = session.role !== "READER";
    const open = jobs.filter((j) => j.stage === "OPEN");
    put(this,
      open.length > 0 && h("section", null, h("h2", null, t("home.open")), h("ul", { class: "cards" }, open.map((j) => jobCard(j, named.get(planterOf(j)))))),
      h("section", null, h("h2", null, t("home.planters")),
        planters.length ? h("ul", { class: "cards" }, planters.map(planterCard)) : h("p", null, t("home.empty")),
        mayWrite && onward(t("home.new"), "planters/new")),
      h("nav", { class: "more", "aria-label": t("home.more") },
        link(t("fixtures.title"), "#/fixtures"), link(t("settings.title"), "#/settings"), link(t("home.docs"), "/docs")),
      secure());
  }
}

/** What is missing on plain http, once, until it was read. */
function secure() {
  if (isSecureContext || choice("plainRead")) return null;
  return h("p", { class: "hint" }, t("plain.short"), " ", link(t("plain.more"), "#/settings"));
}

/** @param {Job} job */
function planterOf(job) {
  return job.name.split("/").slice(0, 2).join("/");
}

/** @param {Job} job @param {Planter|undefined} planter */
function jobCard(job, planter) {
  return h("li", null, h("a", { href: "#/" + job.name },
    h("b", null, planter?.displayName ?? job.name),
    h("span", null, [job.workOrder, t("job.since", { when: when(job.createTime) })].filter(Boolean).join(" · "))));
}

/** @param {Planter} p */
function planterCard(p) {
  return h("li", null, h("a", { href: "#/" + p.name }, h("b", null, p.displayName), h("span", null, [p.owner, tn("rows", p.rows.length)].filter(Boolean).join(" · "))));
}

customElements.define("rd-home", Home);
