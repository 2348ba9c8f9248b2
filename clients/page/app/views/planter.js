/** One planter: what it is, its jobs, a new job. */
import { View, field, h, link, put, select } from "../dom.js";
import { learnMore, ranges, t, tn, when } from "../lang.js";
import { get, post, styles, uuid } from "../api.js";
import { explain, title, wordsOf } from "../frame.js";
import { go } from "../router.js";
import { choice, choose } from "../store.js";
import { areaOf, bothLengths, length, scaleOf } from "../units.js";

/** @import {Fixture, Style} from "../api.js" */
/** @import {Job, Planter} from "../shapes.js" */

class PlanterView extends View {
  async open() {
    const name = `planters/${this.params[0]}`;
    put(this, h("p", { class: "soft" }, t("loading")));
    try {
      const first = get(name);
      const [planter, jobs, fixtures, all] = await Promise.all([first, get(name + "/jobs"), get("fixtures?pageSize=200"), first.then((p) => styles(p.lengthUnit))]);
      title(planter.displayName);
      const open = jobs.jobs.filter((/** @type {Job} */ j) => j.stage === "OPEN"), past = jobs.jobs.filter((/** @type {Job} */ j) => j.stage !== "OPEN");
      put(this, this.about(planter, all), jobList(t("home.open"), open), newJob(planter, fixtures.fixtures), jobList(t("planter.jobs"), past),
        h("nav", { class: "more", "aria-label": t("home.more") }, link(t("field.title"), `#/${name}/field`), link(t("years.title"), `#/${name}/years`)));
      takeAlong(name);
    } catch (error) {
      title(t("planter.title"));
      put(this, h("p", { class: "fault" }, wordsOf(error)));
    }
  }

  /** @param {Planter} planter @param {Map<string, Style>} all */
  about(planter, all) {
    return h("section", null,
      h("dl", { class: "facts" },
        planter.owner ? [h("dt", null, t("planter.owner")), h("dd", null, planter.owner)] : null,
        h("dt", null, t("planter.rows")), h("dd", null, planter.rows.length),
        planter.mechanisms.map((m) => [
          h("dt", null, all.get(m.style)?.title ?? m.style),
          h("dd", null, tn("rows.numbered", planter.rows.filter((r) => r.mechanism === m.id).length, { rows: ranges(planter.rows.filter((r) => r.mechanism === m.id).map((r) => r.row)) })),
        ])),
      link(t("planter.edit"), `#/${planter.name}/edit`));
  }
}

/** Seeds are dug where there is no network: what that takes is fetched here. @param {string} name */
function takeAlong(name) {
  const views = ["move", "digs", "dig"].map((view) => import(`../field/${view}.js`));
  Promise.all([...views, learnMore(), get(`${name}:indexCard`), get(`${name}/digs?pageSize=200`)]).catch(() => {}); // the views say what is missing
}

/** Choices of half the allowed band, as a tape is ruled. */
const tolerances = [25.4 / 32, 25.4 / 16, 25.4 / 8, 25.4 / 4];

/** @param {Planter} planter @param {Fixture[]} fixtures */
function newJob(planter, fixtures) {
  const fixture = select(fixtures.map((f) => [f.name, f.displayName]), choice("fixture"), () => {});
  const order = h("input", { type: "text", maxlength: 100, autocomplete: "off" });
  const person = h("input", { type: "text", maxlength: 100, autocomplete: "name", value: choice("person"), required: true });
  const area = h("input", { type: "text", autocomplete: "off" });
  const acres = planter.areaUnit === "ACRE", inches = scaleOf(planter).inches;
  const tolerance = select(tolerances.map((mm) => [String(mm), t("job.within", { length: bothLengths(mm, { inches, ruling: 32 }) })]), String(25.4 / 8), () => {});
  const form = h("form", { class: "panel" },
    h("h2", null, t("job.new")),
    fixtures.length ? field(t("job.fixture"), fixture) : h("p", null, t("job.noFixture"), " ", link(t("fixtures.new"), `#/${planter.name}/fixtures`)),
    field(t("person"), person, { hint: t("person.hint") }),
    field(t("job.order"), order, { hint: t("optional") }),
    field(t(acres ? "job.acres" : "job.hectares"), area, { hint: t(acres ? "job.acres.hint" : "job.hectares.hint") }),
    field(t("job.tolerance"), tolerance, { hint: t("job.tolerance.hint", { length: length(25.4 / 8, { inches, ruling: 8 }) }) }),
    h("button", { class: "go" }, t("job.start")));
  const id = uuid(); // pressed twice, opened once
  form.addEventListener("submit", async (e) => {
    e.preventDefault();
    const planted = area.value.trim() ? areaOf(area.value, planter.areaUnit || "HECTARE") : null;
    if (planted !== null && !Number.isFinite(planted.area)) return explain(new Error(`${t(acres ? "job.acres" : "job.hectares")}: ${t("form.number")}`));
    choose("person", person.value.trim());
    choose("fixture", fixture.value);
    try {
      const body = { fixture: fixture.value, workOrder: order.value.trim(), aim: { toleranceMm: Number(tolerance.value) }, ...(planted === null ? {} : { plantedArea: planted.area, areaUnit: planted.unit }) };
      const job = await post(`${planter.name}/jobs?requestId=${id}&person=${encodeURIComponent(person.value.trim())}`, body);
      go(job.name);
    } catch (error) {
      explain(error);
    }
  });
  return form;
}

/** @param {string} title @param {Job[]} jobs */
function jobList(title, jobs) {
  return jobs.length ? h("section", null, h("h2", null, title), h("ul", { class: "cards" }, jobs.map((j) =>
    h("li", null, h("a", { href: "#/" + j.name }, h("b", null, when(j.createTime)), h("span", null, [t(`stage.${j.stage}`), j.workOrder].filter(Boolean).join(" · "))))))) : null;
}

customElements.define("rd-planter", PlanterView);
