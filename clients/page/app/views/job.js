/** One job: how it stands, and the one thing to do next. */
import { button, field, h, link, put, select } from "../dom.js";
import { dated, languages, spoken, t, tn } from "../lang.js";
import { post } from "../api.js";
import { announce, explain, onward } from "../frame.js";
import { JobPage } from "../job-page.js";
import { profile } from "../picture.js";
import { bothLengths } from "../units.js";
import { worthOfJob } from "../worth.js";
import { cautionList, openCautions } from "../cautions.js";
import { troubles } from "../trouble.js";
import { uuid } from "../api.js";
import { choice } from "../store.js";

/** @import {OpenJob, Row} from "../job.js" */

class JobView extends JobPage {
  get words() {
    return this.job.planter.displayName;
  }

  get backTo() {
    return this.job.reader ? "" : `planters/${this.params[0]}`;
  }

  begin() {
    this.hear(this.job, "change", () => this.draw(this.job));
    this.draw(this.job);
  }

  /** @param {OpenJob} job */
  draw(job) {
    if (this.querySelector("details[open] form") || (this.querySelector("form.open") && openCautions(job).length)) return; // nothing moves under a hand that types
    const focused = document.activeElement instanceof HTMLElement && this.contains(document.activeElement) ? document.activeElement.textContent : null;
    const rows = job.rows();
    put(this, troubles(job), head(job), this.next(job, rows), picture(job, rows), warnings(job),
      rowTable(job, rows), job.closed ? signed(job) : null, more(job));
    if (focused) /** @type {HTMLElement|undefined} */ ([...this.querySelectorAll("a, button")].find((e) => e.textContent === focused))?.focus();
  }

  /** The next step, as one large button. @param {OpenJob} job @param {Row[]} rows */
  next(job, rows) {
    if (job.closed) return null;
    const any = (/** @type {string} */ step) => rows.filter((r) => r.next === step);
    const ready = !openCautions(job).length || rows.some((r) => r.readings > 0);
    if (!ready) return cautionList(job);
    const read = job.toRead(rows), moves = any("MOVE");
    const steps = [];
    if (any("READ").length && read.length) steps.push(onward(tn("next.read", read.length), `${job.name}/walk`));
    else if (moves.length) steps.push(onward(tn("next.move", moves.length), `${job.name}/moves`), read.length ? link(tn("next.readToo", read.length), `#/${job.name}/walk`) : null);
    else if (read.length) steps.push(onward(tn("next.readAgain", read.length), `${job.name}/walk`));
    else if (any("PLAN").length || !job.state.plan) steps.push(onward(t("next.plan"), `${job.name}/plan`));
    else steps.push(onward(t("next.sign"), `${job.name}/sign`));
    if (any("PLAN").length && !steps.some((s) => s?.textContent === t("next.plan"))) steps.push(link(t("next.plan"), `#/${job.name}/plan`));
    return h("div", { class: "next" }, steps);
  }
}

/** @param {OpenJob} job */
function head(job) {
  const s = job.state;
  const facts = [t(`stage.${job.job.stage}`), job.job.workOrder, job.fixture?.displayName].filter(Boolean).join(" · ");
  return h("div", { class: "head" }, h("p", null, facts),
    s.spreadMm !== undefined ? h("p", { class: "figure" }, h("span", null, t("job.spread")), h("b", null, bothLengths(s.spreadMm, job.scale))) : null,
    worthOfJob(s, job.scale),
    s.datumMm !== undefined ? h("p", { class: "figure" }, h("span", null, t("job.datum")), h("b", null, `${bothLengths(s.datumMm, job.scale)} ± ${bothLengths(s.toleranceMm, job.scale)}`)) : null);
}

/** @param {OpenJob} job @param {Row[]} rows */
function picture(job, rows) {
  if (!rows.some((r) => r.estimateMm !== undefined)) return null;
  const stems = rows.map((r) => ({ row: r.row, before: r.asFoundMm, after: r.estimateMm, state: r.verdict === "VERDICT_UNSPECIFIED" ? "none" : r.verdict }));
  return h("figure", null, profile(job.planter, stems, { datumMm: job.state.datumMm, toleranceMm: job.state.toleranceMm, scale: job.scale, label: t("picture.now") }),
    h("figcaption", null, job.state.datumMm === undefined ? t("picture.noDatum") : t("picture.caption")));
}

/** @param {OpenJob} job */
function warnings(job) {
  return job.state.warnings.length ? h("ul", { class: "warnings" }, job.state.warnings.map((w) => h("li", null, w))) : null;
}

/** Every row in words. @param {OpenJob} job @param {Row[]} rows */
function rowTable(job, rows) {
  if (!rows.some((r) => r.estimateMm !== undefined || r.unsent.length)) return null;
  return h("details", { class: "panel" }, h("summary", null, t("job.rows")),
    h("ul", { class: "rows" }, rows.map((r) => h("li", { "data-state": r.verdict },
      h("b", null, t("row", { n: r.row })),
      h("span", null, r.unsent.length ? t("walk.kept") : r.estimateMm === undefined ? t("row.notRead") : `${bothLengths(r.estimateMm, job.scale)} · ${t(`verdict.${r.verdict}`)}`),
      h("small", null, r.exception ? `${r.exception}` : r.why)))));
}

/** @param {OpenJob} job */
function signed(job) {
  const s = job.state.signature;
  if (!s) return job.state.voidReason ? h("p", null, job.state.voidReason) : null;
  return h("section", { class: "panel" }, h("h2", null, t("signed.by", { person: s.person })), h("p", null, dated(s.signTime)),
    s.exceptions?.length ? h("ul", null, s.exceptions.map((e) => h("li", null, `${e.unproven ? t("sign.unproven") : t("row", { n: e.row ?? 0 })}: ${e.reason}`))) : null,
    h("p", { class: "hash" }, t("signed.hash"), " ", h("code", null, s.contentHash)), sheet(job), job.reader ? null : share(job));
}

/** What is handed over with the planter, as the service writes it, in the language of whoever gets it. @param {OpenJob} job */
function sheet(job) {
  const forms = h("nav", { class: "more sheet", "aria-label": t("sheet.title") });
  const draw = (/** @type {string} */ language) => {
    const as = (/** @type {string} */ words, /** @type {string} */ query) => link(words, `/v1/${job.name}:sheet?language=${language}&format=${query}`, { target: "_blank", rel: "noopener" });
    put(forms, as(t("sheet.screen"), "HTML"), ["A4", "Letter"].map((paper) => as(t("sheet.paper", { paper }), `PDF&paper=${paper.toUpperCase()}`)), as(t("sheet.csv"), "CSV"));
  };
  draw(spoken());
  return h("section", null, h("h3", null, t("sheet.title")), field(t("sheet.language"), select(languages, spoken(), draw)), forms);
}

/** A link that opens this job, to read. @param {OpenJob} job */
function share(job) {
  const place = h("div");
  return h("div", null, button(t("share.make"), async () => {
    try {
      const made = await post(`${job.name}:share`, {});
      const address = location.origin + made.path;
      const line = h("input", { type: "text", readonly: true, value: address, "aria-label": t("share.address") });
      line.addEventListener("focus", () => line.select());
      // Plain http has no sharing and no clipboard of its own; copying what is selected works everywhere.
      const copy = button(t("share.copy"), () => { line.select(); if (document.execCommand("copy")) { copy.textContent = t("share.copied"); announce(t("share.copied")); } });
      put(place, h("p", null, t("share.until", { when: dated(made.expireTime) }), " ", t("share.where", { host: location.host })), line,
        h("div", { class: "choices" }, "share" in navigator ? button(t("share.send"), () => void navigator.share({ url: address, title: job.planter.displayName }).catch(() => {})) : null, copy));
    } catch (error) {
      explain(error);
    }
  }), place);
}

/** @param {OpenJob} job */
function more(job) {
  return h("nav", { class: "more", "aria-label": t("job.more") },
    job.closed ? null : [link(t("walk.title"), `#/${job.name}/walk`), link(t("plan.title"), `#/${job.name}/plan`), link(t("moves.title"), `#/${job.name}/moves`), link(t("sign.title"), `#/${job.name}/sign`)],
    link(t("card.title"), `#/${job.name}/card`), link(t("log.title"), `#/${job.name}/log`),
    job.closed ? null : button(t("job.void"), () => voided(job), { class: "quiet" }));
}

/** @param {OpenJob} job */
async function voided(job) {
  const reason = prompt(t("job.void.why"));
  if (!reason?.trim()) return;
  try {
    job.take((await post(`${job.name}:void`, { reason: reason.trim(), person: choice("person"), requestId: uuid() })).job);
  } catch (error) {
    explain(error);
  }
}

customElements.define("rd-job", JobView);
