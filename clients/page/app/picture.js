/**
 * Pictures. A planter seen from behind, turned into a line of openers: the deeper the row, the lower its point; the
 * datum is a line, its tolerance a band. Places on the paper are worked out here, never a judgement.
 */
import { h, svg } from "./dom.js";
import { t } from "./lang.js";
import { sectionsOf } from "./job.js";
import { decimal, fraction, length } from "./units.js";

/** @import {Planter, TradeoffPoint} from "./shapes.js" */
/** @import {Scale} from "./units.js" */
/** @typedef {{row: number, before?: number, after?: number, state: string}} Stem */

/**
 * All rows, before and after, against the datum and its band.
 * @param {Planter} planter @param {Stem[]} stems @param {{datumMm?: number, toleranceMm?: number, scale: Scale, label: string}} more
 */
export function profile(planter, stems, more) {
  const { datumMm, toleranceMm = 0, scale } = more;
  const wide = 320, tall = 190, left = 52, top = 22, floor = tall - 26; // as wide as a phone shows it, so that its figures can be read
  const depths = stems.flatMap((s) => [s.before, s.after]).filter((d) => d !== undefined);
  if (datumMm !== undefined) depths.push(datumMm - toleranceMm * 1.3, datumMm + toleranceMm * 1.3);
  const low = Math.min(...depths), high = Math.max(...depths, low + 1);
  const y = (/** @type {number} */ mm) => top + 26 + ((mm - low) / (high - low)) * (floor - top - 40);
  const step = (wide - left - 6) / stems.length;
  const x = (/** @type {number} */ i) => left + step * (i + 0.5);
  const r = Math.min(6.5, step * 0.38), every = Math.ceil(15 / step); // two digits take 15
  const mark = (/** @type {number} */ mm, /** @type {string} */ of) => svg("text", { x: 2, y: y(mm) + 4, class: "axis " + of }, shortLength(mm, scale));
  const band = datumMm === undefined ? null : svg("g", { class: "datum" },
    svg("rect", { x: left, width: wide - left, y: y(datumMm - toleranceMm), height: Math.max(2, y(datumMm + toleranceMm) - y(datumMm - toleranceMm)), class: "band" }),
    svg("line", { x1: left, x2: wide, y1: y(datumMm), y2: y(datumMm) }), mark(datumMm, "of-datum"));
  const edges = depths.length && datumMm === undefined ? [mark(low, ""), high > low + 1 ? mark(high, "") : null] : null;
  return svg("svg", { viewBox: `0 0 ${wide} ${tall}`, class: "profile", role: "img", "aria-label": more.label, width: "100%" },
    band, edges, svg("line", { x1: left, x2: wide, y1: top, y2: top, class: "ground" }), dividers(planter, stems, x, step, tall),
    stems.map((s, i) => stem(s, x(i), top, y, r)),
    stems.map((s, i) => (i % every ? null : svg("text", { x: x(i), y: tall - 8, class: "number" }, s.row))));
}

/** @param {Stem} s @param {number} x @param {number} top @param {(mm: number) => number} y @param {number} r */
function stem(s, x, top, y, r) {
  const deepest = s.after ?? s.before;
  const out = [];
  if (deepest === undefined) return svg("g", { class: "stem", "data-state": s.state }, svg("line", { x1: x, x2: x, y1: top, y2: top + 10 }));
  out.push(svg("line", { x1: x, x2: x, y1: top, y2: y(deepest) - r }));
  if (s.after !== undefined && s.before !== undefined && Math.abs(y(s.after) - y(s.before)) > 1) {
    out.push(svg("line", { x1: x, x2: x, y1: y(s.before), y2: y(s.after), class: "way" }), point(x, y(s.before), r, "before"));
  }
  out.push(point(x, y(deepest), r, "now " + s.state));
  return svg("g", { class: "stem", "data-state": s.state }, out);
}

/** Its shape says what its colour says. @param {number} x @param {number} y @param {number} r @param {string} kind */
export function point(x, y, r, kind) {
  if (/OFF|STUCK|MOVE/.test(kind)) return svg("path", { d: `M${x} ${y - r}L${x + r} ${y}L${x} ${y + r}L${x - r} ${y}z`, class: "point " + kind });
  if (/UNSURE|READ/.test(kind)) return svg("rect", { x: x - r * 0.8, y: y - r * 0.8, width: r * 1.6, height: r * 1.6, class: "point " + kind });
  return svg("circle", { cx: x, cy: y, r: r * 0.9, class: "point " + kind });
}

/** Where the frame folds. @param {Planter} planter @param {Stem[]} stems @param {(i: number) => number} x @param {number} step @param {number} tall */
function dividers(planter, stems, x, step, tall) {
  return sectionsOf(planter).slice(1).map((s) => {
    const i = stems.findIndex((m) => m.row >= s.firstRow);
    return i > 0 ? svg("line", { x1: x(i) - step / 2, x2: x(i) - step / 2, y1: 14, y2: tall - 20, class: "fold" }) : null;
  });
}

/** @param {number} mm @param {Scale} scale */
function shortLength(mm, scale) {
  return scale.inches ? fraction(Math.round((mm / 25.4) * scale.ruling), scale.ruling) : decimal(mm, 1);
}

/**
 * Handles against spread: how far each further row touched brings it, and where the plan stands.
 * @param {TradeoffPoint[]} points @param {{touchedRows: number, spreadMm: number}} here @param {Scale} scale
 */
export function tradeoff(points, here, scale) {
  const wide = 320, tall = 150, left = 44, top = 12, floor = tall - 34;
  const most = Math.max(...points.map((p) => p.touchedRows), here.touchedRows, 1);
  const widest = Math.max(...points.map((p) => p.spreadMm), here.spreadMm, 0.1);
  const x = (/** @type {number} */ n) => left + 8 + (n / most) * (wide - left - 24);
  const y = (/** @type {number} */ mm) => top + (1 - mm / widest) * (floor - top);
  const steps = points.map((p, i) => (i ? `H${x(p.touchedRows)}V${y(p.spreadMm)}` : `M${x(p.touchedRows)} ${y(p.spreadMm)}`)).join("");
  const every = Math.ceil(most / 8);
  return svg("svg", { viewBox: `0 0 ${wide} ${tall}`, class: "tradeoff", role: "img", width: "100%", "aria-label": t("tradeoff.label", { list: points.map((p) => t("tradeoff.point", { n: p.touchedRows, length: length(p.spreadMm, scale) })).join("; ") }) },
    svg("line", { x1: left, x2: wide - 6, y1: floor, y2: floor, class: "ground" }), svg("path", { d: steps, class: "steps" }),
    points.map((p) => svg("circle", { cx: x(p.touchedRows), cy: y(p.spreadMm), r: 3.5, class: "point" })),
    svg("line", { x1: x(here.touchedRows), x2: x(here.touchedRows), y1: y(here.spreadMm), y2: floor, class: "here" }),
    svg("path", { d: `M${x(here.touchedRows)} ${y(here.spreadMm) - 9}l8 9-8 9-8-9z`, class: "here" }),
    svg("text", { x: 2, y: top + 6, class: "axis" }, shortLength(widest, scale)), svg("text", { x: 2, y: floor, class: "axis" }, "0"),
    Array.from({ length: most + 1 }, (_, n) => (n % every ? null : svg("text", { x: x(n), y: floor + 14, class: "number" }, n))),
    svg("text", { x: (wide + left) / 2, y: tall - 4, class: "number" }, t("tradeoff.axis")));
}

/**
 * The strip of rows above a walk: which are done, which one this is.
 * @param {Planter} planter @param {{row: number, next: string}[]} rows @param {number} here
 */
export function strip(planter, rows, here) {
  const starts = new Set(sectionsOf(planter).map((s) => s.firstRow));
  return h("div", { class: "strip", "aria-hidden": "true" }, rows.map((r) =>
    h("span", { "data-next": r.next, class: [r.row === here ? "here" : "", starts.has(r.row) ? "starts" : ""].join(" ") })));
}
