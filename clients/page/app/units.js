/** Lengths as people type and read them. The service's own lengths are mm. */
import { spoken as language, t } from "./lang.js";
import { readLength, readNumber } from "./lengths.js";
import { choice } from "./store.js";

/** 1 in (NIST SP 811). */
const inchMm = 25.4;

/** How lengths are shown: mm, or inches to the nearest 1/ruling. @typedef {{inches: boolean, ruling: number}} Scale */

/** n where a ruling of stepMm is 1/n inch and n is a power of two up to 64; else 0. @param {number} stepMm */
export function inchRuling(stepMm) {
  for (let n = 1; n <= 64; n *= 2) if (Math.abs(stepMm * n - inchMm) < 1e-6) return n;
  return 0;
}

/** The lines to an inch of a ruling, or the coarsest that are no coarser: as the service has them. @param {number} [stepMm] */
export function linesPerInch(stepMm) {
  let n = 1;
  while (n < 64 && inchMm / n > (stepMm || inchMm / 16) + 1e-6) n *= 2;
  return n;
}

/** Whose numbers a language writes: Spanish with a point, as in Mexico, and as the service's own sentences do. @type {Record<string, string>} */
const numerals = { es: "es-MX" };

/** A number as it is written. @param {number} n @param {Intl.NumberFormatOptions} [how] */
export function figure(n, how) {
  return new Intl.NumberFormat(numerals[language()] ?? language(), how).format(n);
}

/** A measured number: not grouped, and no minus before nothing. @param {number} n @param {number} [decimals] */
export function decimal(n, decimals = 3) {
  return figure(n, { maximumFractionDigits: decimals, useGrouping: false, signDisplay: "negative" });
}

/** A fraction in lowest terms: 1 13/16. @param {number} counts @param {number} n */
export function fraction(counts, n) {
  const sign = counts < 0 ? "−" : "";
  let rest = Math.abs(counts) % n;
  const whole = (Math.abs(counts) - rest) / n;
  while (rest && rest % 2 === 0) { rest /= 2; n /= 2; }
  if (!rest) return sign + whole;
  return sign + (whole ? `${whole} ` : "") + `${rest}/${n}`;
}

/** How a planter's lengths are shown and typed: in its own unit, else in this phone's. @param {{lengthUnit?: string}} [of] @returns {Scale} */
export function scaleOf(of) {
  const unit = (of?.lengthUnit !== "LENGTH_UNIT_UNSPECIFIED" && of?.lengthUnit) || choice("unit") || (navigator.language === "en-US" ? "IN" : "MM");
  return { inches: unit === "IN", ruling: 16 };
}

/** How the lengths of an answer are shown: as its words say them. @param {{lengthUnit?: string}} answer @returns {Scale} */
export function spoken(answer) {
  return { inches: answer.lengthUnit === "IN", ruling: 16 };
}

/** A length with its unit. @param {number} mm @param {Scale} scale */
export function length(mm, scale) {
  if (!scale.inches) return `${decimal(mm, 1)} mm`;
  return `${fraction(Math.round((mm / inchMm) * scale.ruling), scale.ruling)} ${t("in")}`;
}

/** A length in both units where inches are read, so that rounding hides nothing. @param {number} mm @param {Scale} scale */
export function bothLengths(mm, scale) {
  return scale.inches ? `${length(mm, scale)} (${decimal(mm, 1)} mm)` : length(mm, scale);
}

/** A small length that is not read off a ruling, with its unit: to 0.1 mm, or a thousandth of an inch. @param {number} mm @param {Scale} scale */
export function fineLength(mm, scale) {
  return scale.inches ? `${thousandths(mm)} ${t("in")}` : `${decimal(mm, 1)} mm`;
}

/** @param {number} mm */
const thousandths = (mm) => figure(mm / inchMm, { minimumFractionDigits: 3, maximumFractionDigits: 3, useGrouping: false, signDisplay: "negative" });

/** A figure in inches, without its unit: a fraction where it is one, else thousandths. @param {number} mm */
export function nominalInches(mm) {
  const lines = (mm / inchMm) * 64, near = 2.5e-4; // of a line: 0.0001 mm
  return Math.abs(lines - Math.round(lines)) < near ? fraction(Math.round(lines), 64) : thousandths(mm);
}

/**
 * A length as it stands in a field whose bare numbers are inches or mm. It reads back as the same length: what is no figure in
 * inches keeps its mm.
 * @param {number} mm @param {boolean} inches
 */
export function filledIn(mm, inches) {
  if (!inches) return decimal(mm, 6);
  const text = nominalInches(mm), close = 2e-4; // mm
  return Math.abs(readLength(text, { bare: "in" }).mm - mm) < close ? text : `${decimal(mm, 6)} mm`;
}

/** A length as it stands in a field that names no unit. @param {number} mm @param {boolean} inches */
export function filledWithUnit(mm, inches) {
  const text = filledIn(mm, inches);
  return text.endsWith("mm") ? text : `${text} ${inches ? t("in") : "mm"}`;
}

/** A part that is sold by its size, without its unit; a metric part has its own mm in brackets where inches are read. @param {number} mm */
export function stampedInches(mm) {
  const said = nominalInches(mm), inches = (mm / inchMm) * 1000;
  return said.includes("/") || Math.abs(inches - Math.round(inches)) < 0.004 ? `${said} ${t("in")}` : `${said} ${t("in")} (${decimal(mm)} mm)`;
}

/** A figure of an inspection point, with its unit. @param {number} x @param {string} unit @param {Scale} scale */
export function measured(x, unit, scale) {
  return unit === "mm" && scale.inches ? `${nominalInches(x)} ${t("in")}` : [decimal(x), unit].filter(Boolean).join(" ");
}

/** What was typed on the fixture, with its unit. @param {number} value @param {string} unit @param {number} ruling */
export function typed(value, unit, ruling) {
  if (unit !== "IN") return `${decimal(value)} mm`;
  const counts = value * (ruling || 16);
  return Number.isInteger(counts) ? `${fraction(counts, ruling || 16)} ${t("in")}` : `${decimal(value)} ${t("in")}`;
}

/** Why what was typed is not read, and how to write it; "" where it is read. @param {string} text @param {import("./lengths.js").Reason|undefined} refused */
export function unread(text, refused) {
  return refused ? t(`typed.${refused}`, { text: text.trim() }) : "";
}

/** The mm of a number as typed, to compare. @param {number} value @param {string} unit */
export function mmTyped(value, unit) {
  return unit === "IN" ? value * inchMm : value;
}

/** The rows in a text: "1-3, 8". @param {string} text @param {number} most */
export function rowNumbers(text, most) {
  const out = new Set();
  for (const m of text.matchAll(/(\d+)\s*(?:[-–]\s*(\d+))?/g)) {
    for (let r = Number(m[1]); r <= Math.min(most, Number(m[2] ?? m[1])); r++) out.add(r);
  }
  return out;
}

/** 1 acre, ha: 43,560 square feet of exactly 0.3048 m. */
const acreHa = 0.40468564224;

/** Hectares in one of a unit of area. @param {string|undefined} unit */
export function hectaresIn(unit) {
  return unit === "ACRE" ? acreHa : 1;
}

/** A unit of area as it is written behind a figure. @param {string|undefined} unit */
export function areaSymbol(unit) {
  return unit === "ACRE" ? "ac" : "ha";
}

/** The area in a text, as it was typed: "1720,5", "4,250 ac"; three digits behind a comma or a point are thousands. @param {string} text @param {string} [bare] the unit of a bare number @returns {{area: number, unit: string}} */
export function areaOf(text, bare = "HECTARE") {
  const m = /^(.*?)\s*(ha|ac|acres?)?$/i.exec(text.trim());
  const plain = (m?.[1] ?? "").replace(/^(\d{1,3})((?:[.,  ’']\d{3})+)$/, (_, first, rest) => first + rest.replace(/\D/g, ""));
  const unit = m?.[2] ? (/^a/i.test(m[2]) ? "ACRE" : "HECTARE") : bare;
  return { area: readNumber(plain).value, unit };
}
