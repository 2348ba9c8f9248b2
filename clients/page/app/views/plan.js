/** The plan: all rows before and after, what to do in walking order, and what other tolerances would cost. */
import { button, field, h, put, select } from "../dom.js";
import { t, tn } from "../lang.js";
import { Refusal, post, uuid } from "../api.js";
import { announce, explain, onward } from "../frame.js";
import { walkingOrder } from "../job.js";
import { JobPage } from "../job-page.js";
import { profile, tradeoff } from "../picture.js";
import { choice } from "../store.js";
import { readLength } from "../lengths.js";
import { bothLengths, fineLength, length, unread } from "../units.js";
import { worthOfPlan } from "../worth.js";

/** @import {Aim, Plan, RowPlan} from "../shapes.js" */

/** Half bands to slide along, mm: 1/64 to 1/2 in, as tapes are ruled. */
const stops = [1, 2, 3, 4, 6, 8, 12, 16, 24, 32].map((n) => (n * 25.4) / 64);
const pause = 120;

class PlanView extends JobPage {
  /** The plan that is shown. @type {Plan|undefined} */ plan;
  /** Whether it is the one in force. */ issued = false;
  /** @type {Partial<Aim>} */ aim = {};
  replan = false;
  #turn = 0;
  /** @type {ReturnType<typeof setTimeout>|undefined} */ #timer;
  place = { top: h("div"), list: h("div"), trade: h("div"), take: h("div", { class: "next" }) };

  get words() {
    return t("plan.title");
  }

  async begin() {
    const s = this.job.state;
    this.aim = { ...this.job.job.aim, toleranceMm: s.toleranceMm };
    this.plan = s.plan;
    this.issued = Boolean(s.plan);
    put(this, this.place.top, this.place.take, h("section", null, this.place.trade, this.slider()), this.place.list, this.other());
    this.draw();
    const stale = !s.plan || this.job.rows().some((r) => r.next === "PLAN");
    if (stale && !this.job.closed) await this.look();
  }

  /** Asks what a plan with this aim would be; nothing is issued. */
  async look() {
    const turn = ++this.#turn;
    try {
      const answer = await post(`${this.job.name}:plan`, { etag: this.job.job.etag, aim: this.aim, replan: this.replan, validateOnly: true });
      if (turn !== this.#turn) return;
      this.plan = answer.events[0].planIssued.plan;
      this.issued = false;
      this.draw();
      announce(this.sum());
    } catch (error) {
      if (turn === this.#turn) await this.refused(error, () => this.look());
    }
  }

  /** Issues it. */
  async take() {
    try {
      const answer = await post(`${this.job.name}:plan`, { etag: this.job.job.etag, aim: this.aim, replan: this.replan, person: choice("person"), requestId: uuid() });
      this.job.take(answer.job);
      this.plan = this.job.state.plan;
      this.issued = true;
      this.draw();
      announce(t("plan.taken"));
    } catch (error) {
      await this.refused(error, () => this.look());
    }
  }

  /** Somebody wrote in between: the newer state first, then again. @param {unknown} error @param {() => Promise<void>} again */
  async refused(error, again) {
    if (!(error instanceof Refusal && error.reason === "STALE_ETAG")) return explain(error);
    const before = this.job.job.etag;
    await this.job.refresh();
    if (this.job.job.etag !== before) await again();
    else explain(error);
  }

  draw() {
    const { job, plan, place } = this;
    if (!plan) {
      put(place.top, h("p", null, t("plan.none")));
      return;
    }
    const stems = plan.rows.map((r) => ({ row: r.row, before: r.estimateMm, after: r.predictedMm, state: r.move ? "MOVE" : r.readingsToSettle ? "READ" : r.verdict }));
    put(place.top,
      h("p", { class: "sum" }, this.sum()),
      h("figure", null, profile(job.planter, stems, { datumMm: plan.datumMm, toleranceMm: this.aim.toleranceMm, scale: job.scale, label: t("picture.plan") }), h("figcaption", null, t("picture.planCaption"))),
      plan.provableToleranceMm > (this.aim.toleranceMm ?? Infinity) ? h("p", { class: "hint" }, t("plan.notProvable", { length: fineLength(plan.provableToleranceMm, job.scale) })) : null);
    put(place.take, this.issued ? (plan.touchedRows && job.rows().some((r) => r.next === "MOVE") ? onward(t("next.moves"), `${job.name}/moves`) : onward(t("plan.back"), job.name))
      : button(t("plan.take"), () => void this.take(), { class: "go" }));
    put(place.list, this.list(plan));
    put(place.trade, h("h2", null, t("tradeoff.title")), tradeoff(plan.tradeoff, { touchedRows: plan.touchedRows, spreadMm: plan.spreadAfterMm }, job.scale));
  }

  /** The plan in one sentence. */
  sum() {
    const p = /** @type {Plan} */ (this.plan);
    const scale = this.job.scale;
    return [p.touchedRows ? tn("plan.move", p.touchedRows) : t("plan.noMove"), p.rereadRows ? tn("plan.reread", p.rereadRows) : "",
      t("plan.spread", { before: length(p.spreadBeforeMm, scale), after: length(p.spreadAfterMm, scale) }),
      ...worthOfPlan(p, this.aim.toleranceMm ?? this.job.state.toleranceMm, scale), tn("plan.minutes", Math.max(1, Math.round(p.workSeconds / 60)))].filter(Boolean).join(" ");
  }

  /** @param {Plan} plan */
  list(plan) {
    const order = walkingOrder(this.job.planter, plan.rows, choice("fromRight") === "1");
    const doing = order.filter((r) => r.move || r.readingsToSettle || r.verdict === "STUCK" || (r.verdict !== "EVEN" && !r.move));
    const left = order.filter((r) => !doing.includes(r));
    return h("section", null, h("h2", null, t("plan.todo")), h("ol", { class: "todo" }, doing.map(item)),
      left.length ? h("details", null, h("summary", null, tn("plan.left", left.length)), h("ul", { class: "todo" }, left.map(item))) : null,
      plan.cautions.length ? h("details", null, h("summary", null, t("plan.mind")), h("ul", null, plan.cautions.map((c) => h("li", null, c)))) : null);
  }

  /** Slides to another tolerance. */
  slider() {
    const at = stops.reduce((best, mm, i) => (Math.abs(mm - (this.aim.toleranceMm ?? 0)) < Math.abs(stops[best] - (this.aim.toleranceMm ?? 0)) ? i : best), 0);
    const input = h("input", { type: "range", min: 0, max: stops.length - 1, step: 1, value: String(at) });
    const words = () => t("job.within", { length: bothLengths(stops[Number(input.value)], { inches: this.job.scale.inches, ruling: 64 }) });
    const said = h("output", null, words());
    input.setAttribute("aria-valuetext", words());
    input.addEventListener("input", () => {
      this.aim = { ...this.aim, toleranceMm: stops[Number(input.value)] };
      said.textContent = words();
      input.setAttribute("aria-valuetext", words());
      clearTimeout(this.#timer);
      this.#timer = setTimeout(() => void this.look(), pause);
    });
    const box = field(t("tradeoff.slide"), input);
    box.append(said);
    return this.job.closed ? null : box;
  }

  /** Other aims than least work. */
  other() {
    if (this.job.closed) return null;
    const rows = this.job.state.rows.map((r) => /** @type {[string, string]} */ ([String(r.row), t("row", { n: r.row })]));
    const row = field(t("aim.row"), select(rows, String(this.aim.row ?? rows[0][0]), (v) => { this.aim.row = Number(v); void this.look(); }));
    const depth = h("input", { type: "text", autocomplete: "off", inputmode: "text", placeholder: t("form.example", { value: this.job.scale.inches ? `2 ${t("in")}` : "50 mm" }) });
    depth.addEventListener("change", () => {
      const { mm, refused } = readLength(depth.value, { bare: this.job.scale.inches ? "in" : "mm" });
      if (refused) return explain(new Error(`${t("aim.depth")}: ${unread(depth.value, refused)}`));
      this.aim.datumMm = mm;
      void this.look();
    });
    const set = field(t("aim.depth"), depth);
    const more = h("div");
    const fit = () => put(more, this.aim.kind === "MATCH_ROW" ? row : this.aim.kind === "SET_DEPTH" ? set : null);
    const kinds = ["LEAST_WORK", "CLOSEST", "MATCH_ROW", "SET_DEPTH"].map((k) => /** @type {[string, string]} */ ([k, t(`aim.${k}`)]));
    const kind = select(kinds, this.aim.kind ?? "LEAST_WORK", (v) => {
      const { row: _row, datumMm: _datum, ...rest } = this.aim;
      this.aim = { ...rest, kind: /** @type {Aim["kind"]} */ (v), ...(v === "MATCH_ROW" ? { row: Number(rows[0][0]) } : {}) };
      fit();
      if (v !== "SET_DEPTH") void this.look();
    });
    const of = select(["ROW", "PLANTER"].map((o) => /** @type {[string, string]} */ ([o, t(`aim.${o}`)])), this.aim.confidenceOf ?? "ROW", (v) => {
      this.aim = { ...this.aim, confidenceOf: /** @type {Aim["confidenceOf"]} */ (v) };
      void this.look();
    });
    fit();
    return h("details", { class: "panel" }, h("summary", null, t("aim.title")), field(t("aim.kind"), kind), more, field(t("aim.of"), of),
      button(t("plan.replan"), () => { this.replan = true; void this.look(); }, { class: "quiet" }), h("small", null, t("plan.replan.hint")));
  }
}

/** @param {RowPlan} r */
function item(r) {
  return h("li", { "data-state": r.move ? "MOVE" : r.verdict }, h("b", null, t("row", { n: r.row })), h("span", null, r.move ? r.move.say : t(`verdict.${r.verdict}`)), h("small", null, r.why));
}

customElements.define("rd-plan", PlanView);
