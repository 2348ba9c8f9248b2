/** What is known of all rows together: how far apart they truly are, and how sure it is that all are within tolerance. */
import { h } from "./dom.js";
import { t } from "./lang.js";
import { bothLengths, figure, length } from "./units.js";

/** @import {JobState, Plan, TrueSpread} from "./shapes.js" */
/** @import {Scale} from "./units.js" */

/** A chance, never told as certain. @param {number} chance */
export function sure(chance) {
  const percent = (/** @type {number} */ n) => `${figure(n, { maximumFractionDigits: 0 })} %`;
  if (chance < 0.01) return `< ${percent(1)}`;
  return chance > 0.99 ? `> ${percent(99)}` : percent(100 * chance);
}

/** How far apart the rows truly are. @param {TrueSpread} spread @param {Scale} scale */
function apart(spread, scale) {
  return t("worth.spread", { mean: bothLengths(spread.mean, scale), from: length(spread.from, scale), to: length(spread.to, scale) });
}

/** The rows of a plan together, in two sentences. @param {Plan} plan @param {number} toleranceMm @param {Scale} scale */
export function worthOfPlan(plan, toleranceMm, scale) {
  const { trueSpreadMm: before, trueSpreadAfterMm: after } = plan;
  if (!before || !after) return []; // a plan issued before this was worked out
  const rows = plan.rows.filter((r) => r.verdict !== "STUCK").length;
  return [
    t("plan.trueSpread", { before: length(before.mean, scale), beforeFrom: length(before.from, scale), beforeTo: length(before.to, scale),
      after: length(after.mean, scale), afterFrom: length(after.from, scale), afterTo: length(after.to, scale) }),
    rows > 1 ? t("plan.all", { n: rows, length: bothLengths(toleranceMm, scale), sure: sure(plan.planterChanceAfter) }) : "",
  ];
}

/** The rows of a job together, as they stand. @param {JobState} state @param {Scale} scale */
export function worthOfJob(state, scale) {
  const rows = state.rows.filter((r) => r.estimateMm !== undefined && r.verdict !== "STUCK" && !r.exception).length;
  const line = (/** @type {string} */ name, /** @type {string} */ said) => h("p", { class: "figure" }, h("span", null, name), h("b", null, said));
  return [
    state.trueSpreadMm ? line(t("job.trueSpread"), apart(state.trueSpreadMm, scale)) : null,
    state.planterChance !== undefined && rows > 1
      ? line(t("job.together"), t("worth.all", { n: rows, length: bothLengths(state.toleranceMm, scale), sure: sure(state.planterChance) })) : null,
  ];
}
