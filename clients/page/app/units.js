/** Lengths as people type and read them. The service's own lengths are mm. */
import { spoken, t } from "./lang.js";
import { readNumber } from "./lengths.js";

/** 1 in (NIST SP 811). */
const inchMm = 25.4;

/** How lengths are shown: mm, or inches to the nearest 1/ruling. @typedef {{inches: boolean, ruling: number}} Scale */

/** n where a ruling of stepMm is 1/n inch and n is a power of two up to 64; else 0. @param {number} stepMm */
export function inchRuling(stepMm) {
  for (let n = 1; n <= 64; n *= 2) if (Math.abs(stepMm * n - inchMm) < 1e-6) return n;
  return 0;
}

/** Whose numbers a language writes: Spanish with a point, as in Mexico, and as the service's own sentences do. @type {Record<string, string>} */
const numerals = { es: "es-MX" };

/** A number as it is written. @param {number} n @param {Intl.NumberFormatOptions} [how] */
export function figure(n, how) {
  return new Intl.NumberFormat(numerals[spoken()] ?? spoken(), how).format(n);
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

/** A length with its unit. @param {number} mm @param {Scale} scale */
export function length(mm, scale) {
  if (!scale.inches) return `${decimal(mm, 1)} mm`;
  return `${fraction(Math.round((mm / inchMm) * scale.ruling), scale.ruling)} ${t("in")}`;
}

/** A length in both units where inches are read, so that rounding hides nothing. @param {number} mm @param {Scale} scale */
export function bothLengths(mm, scale) {
  return scale.inches ? `${length(mm, scale)} (${decimal(mm, 1)} mm)` : length(mm, scale);
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

/** The hectares in a text: "1720,5", "4,250 ac"; three digits behind a comma or a point are thousands. @param {string} text */
export function hectaresOf(text) {
  const m = /^(.*?)\s*(ha|ac|acres?)?$/i.exec(text.trim());
  const plain = (m?.[1] ?? "").replace(/^(\d{1,3})((?:[.,  ’']\d{3})+)$/, (_, first, rest) => first + rest.replace(/\D/g, ""));
  return Math.round(readNumber(plain).value * (/^a/i.test(m?.[2] ?? "") ? acreHa : 1) * 1e3) / 1e3;
}
