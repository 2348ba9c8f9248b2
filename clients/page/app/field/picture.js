/** Pictures of the field: what each row differs by, with the interval that it is known to. */
import { svg } from "../dom.js";
import { t } from "../lang.js";
import { point } from "../picture.js";
import { decimal } from "../units.js";

/** @typedef {{row: number, at?: number, from?: number, to?: number, state: string}} Interval */

/**
 * A line a row around nought: its figure and the interval; right is deeper.
 * @param {Interval[]} rows @param {string} label @param {string} unit
 */
export function intervals(rows, label, unit) {
  const wide = 320, step = 20, left = 30, right = 10, top = 22, tall = top + rows.length * step + 22;
  const most = Math.max(0.1, ...rows.flatMap((r) => [Math.abs(r.from ?? 0), Math.abs(r.to ?? 0)]));
  const x = (/** @type {number} */ v) => left + ((v / most + 1) / 2) * (wide - left - right);
  return svg("svg", { viewBox: `0 0 ${wide} ${tall}`, class: "profile intervals", role: "img", width: "100%", "aria-label": label },
    svg("text", { x: left, y: 12 }, `◂ ${t("planter.shallower")}`), svg("text", { x: wide - right, y: 12, class: "last" }, `${t("planter.deeper")} ▸`),
    svg("line", { x1: x(0), x2: x(0), y1: top - 4, y2: tall - 18, class: "ground" }),
    rows.map((r, i) => line(r, top + (i + 0.5) * step, x)),
    svg("text", { x: left, y: tall - 4 }, `−${decimal(most, 1)}`), svg("text", { x: x(0), y: tall - 4, class: "number" }, "0"), svg("text", { x: wide - right, y: tall - 4, class: "last" }, `${decimal(most, 1)} ${unit}`));
}

/** @param {Interval} r @param {number} y @param {(v: number) => number} x */
function line(r, y, x) {
  const number = svg("text", { x: 2, y: y + 4 }, r.row);
  if (r.at === undefined || r.from === undefined || r.to === undefined) return [number, svg("text", { x: x(0) + 6, y: y + 4 }, "?")];
  return [number, svg("line", { x1: x(r.from), x2: x(r.to), y1: y, y2: y, class: "whisker" }), point(x(r.at), y, 5, r.state)];
}
