/**
 * Reads lengths as people type them: 2 1/4, 2-1/4", 2¼, 57.2 mm, 57,2 mm. The grammar is that of the package
 * proto/length, which says why it is so; both are tested with testdata/lengths.json.
 */

/** Why a text is not read. @typedef {"NOT_A_NUMBER"|"UNCLEAR_FRACTION"|"UNCLEAR_COMMA"|"TOO_LARGE"|"NOT_A_UNIT"|"NO_UNIT"} Reason */
/** What a comma in a number is; see the package. @typedef {"IF_CLEAR"|"DECIMAL"|"REFUSED"} Comma */
/** @typedef {"mm"|"cm"|"in"} Unit */
/** A number as typed, NaN where it is refused. @typedef {{value: number, refused?: Reason}} NumberRead */
/** A length as typed and in mm, both NaN where it is refused. @typedef {{value: number, unit?: Unit, mm: number, refused?: Reason}} LengthRead */
/** A number as a fraction of whole numbers, neither above 2^46. @typedef {{above: number, below: number}} Exact */

const mostDigits = 12;

/** @type {Record<string, string>} */
const fractions = {
  "½": "1/2", "⅓": "1/3", "⅔": "2/3", "¼": "1/4", "¾": "3/4", "⅕": "1/5", "⅖": "2/5", "⅗": "3/5", "⅘": "4/5", "⅙": "1/6", "⅚": "5/6",
  "⅐": "1/7", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8", "⅑": "1/9", "⅒": "1/10",
};

/** @type {Record<Unit, {words: string[], above: number, below: number}>} 1 in is 25.4 mm (NIST SP 811). */
const units = {
  mm: { words: ["mm", "mm.", "millimeter", "millimeters", "millimetre", "millimetres", "milímetro", "milímetros", "milimetro", "milimetros"], above: 1, below: 1 },
  cm: { words: ["cm", "cm.", "centimeter", "centimeters", "centimetre", "centimetres", "centímetro", "centímetros", "centimetro", "centimetros"], above: 10, below: 1 },
  in: { words: ["in", "in.", "inch", "inches", "pulg", "pulg.", "pulgada", "pulgadas", '"', "″", "”", "''", "’’", "′′"], above: 254, below: 10 },
};

/** Reads a number without a unit. @param {string} text @param {Comma} [comma] @returns {NumberRead} */
export function readNumber(text, comma = "IF_CLEAR") {
  const [number, rest] = split(clean(text));
  const exact = rest ? "NOT_A_NUMBER" : signed(number, comma);
  return typeof exact === "string" ? { value: NaN, refused: exact } : { value: exact.above / exact.below };
}

/** Reads a length. @param {string} text @param {{bare?: Unit, comma?: Comma}} [how] `bare` is the unit of a bare number @returns {LengthRead} */
export function readLength(text, { bare, comma = "IF_CLEAR" } = {}) {
  const [number, word] = split(clean(text));
  const exact = signed(number, comma);
  if (typeof exact === "string") return { value: NaN, mm: NaN, refused: exact };
  const unit = word ? unitOf(word) : bare;
  if (!unit) return { value: NaN, mm: NaN, refused: word ? "NOT_A_UNIT" : "NO_UNIT" };
  const { above, below } = units[unit];
  return { value: exact.above / exact.below, unit, mm: (exact.above * above) / (exact.below * below) };
}

/**
 * Cuts a line of several numbers into their texts, and says what a comma in them is; `refused` is the part whose comma may
 * separate or be a decimal sign.
 * @param {string} text
 * @param {{row?: boolean, plus?: boolean, columns?: number}} [line] whether the first number is that of a row; whether a + separates too; how many columns a heading names
 * @returns {{cells: string[], comma: Comma, refused?: string}}
 */
export function cutLine(text, { row = false, plus = false, columns = 0 } = {}) {
  const strong = /[;\t]/.test(text) || (plus && text.includes("+"));
  const refused = strong ? "" : doubt(text, row, columns);
  if (refused) return { cells: [], comma: "IF_CLEAR", refused };
  /** @type {string[]} */
  const cells = [];
  const parts = plus ? text.split("+") : [text];
  for (const part of parts) {
    const before = cells.length;
    for (const piece of part.split(strong ? /[;\t]/ : ",")) {
      const words = piece.split(/\p{White_Space}+/u).filter(Boolean);
      const units = plus && /[\p{L}"″”'’′]/u.test(piece); // 2 in 1: a list with units has a + or a comma between its numbers
      join(cells, units && words.length ? [words.join(" ")] : words, row);
    }
    if (cells.length === before && parts.length > 1) cells.push(""); // 2+ has a number that is missing
  }
  return { cells, comma: strong ? "DECIMAL" : "REFUSED" };
}

/** A text in one spelling. @param {string} text */
function clean(text) {
  return text.replace(/([0-9]?)([½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅐⅛⅜⅝⅞⅑⅒])/g, (_, digit, c) => `${digit}${digit && " "}${fractions[c]} `)
    .replace(/[‐‑–−]/g, "-").replaceAll("⁄", "/").replace(/\p{White_Space}+/gu, " ").replace(/^ | $/g, "");
}

/** A clean text cut behind its last digit. @param {string} text @returns {[number: string, rest: string]} */
function split(text) {
  const m = /^(.*[0-9][.,]*) ?([^0-9]*)$/s.exec(text);
  return m ? [m[1], m[2]] : ["", text];
}

/** @param {string} word @returns {Unit|undefined} */
function unitOf(word) {
  const lower = word.replace(/[A-Z]/g, (c) => c.toLowerCase());
  return /** @type {Unit[]} */ (["mm", "cm", "in"]).find((unit) => units[unit].words.includes(lower));
}

/** @param {string} text @param {Comma} comma @returns {Exact|Reason} */
function signed(text, comma) {
  const [, sign, rest] = /** @type {RegExpExecArray} */ (/^(?:([-+]) ?)?(.*)$/s.exec(text));
  const exact = rest.includes("/") ? fraction(rest) : rest.includes(",") ? withComma(rest, comma) : decimal(rest);
  return sign !== "-" || typeof exact === "string" ? exact : { above: 0 - exact.above, below: exact.below };
}

/** 57,2 @param {string} text @param {Comma} comma @returns {Exact|Reason} */
function withComma(text, comma) {
  if (!/^[0-9,. ]*$/.test(text)) return "NOT_A_NUMBER";
  const refused = comma === "REFUSED" || (comma === "IF_CLEAR" && /^[1-9][0-9]{0,2},[0-9]{3}$/.test(text)) || !/^[0-9]*,[0-9]+$/.test(text);
  return refused ? "UNCLEAR_COMMA" : decimal(text.replace(",", "."));
}

/** @param {string} text @returns {Exact|Reason} */
function decimal(text) {
  const m = /^0*([0-9]*)\.?([0-9]*)$/.exec(text);
  if (!m || !/[0-9]/.test(text)) return "NOT_A_NUMBER";
  const [, whole, part] = m;
  if (whole.length > mostDigits) return "TOO_LARGE";
  const kept = Math.min(part.length, mostDigits - whole.length);
  const up = part.charAt(kept) >= "5" ? 1 : 0;
  return { above: Number(whole + part.slice(0, kept)) + up, below: 10 ** kept };
}

/** 7/8, 2 1/4, 2-1/4 @param {string} text @returns {Exact|Reason} */
function fraction(text) {
  const m = /^(?:([0-9]+)[- ])?([0-9]+) ?\/ ?([0-9]+)$/.exec(text);
  if (!m) return "NOT_A_NUMBER";
  const digits = [m[1] ?? "", m[2], m[3]].map((d) => d.replace(/^0+/, ""));
  if (digits.join("").length > mostDigits) return "TOO_LARGE";
  const [whole, above, below] = digits.map(Number);
  if (below === 0) return "NOT_A_NUMBER";
  const mixed = m[1] !== undefined;
  if (mixed ? above >= below : m[2].length > 1 && above > below) return "UNCLEAR_FRACTION";
  return { above: whole * below + above, below };
}

/** The first comma that may be either, with its digits; "" where every comma is clear. @param {string} text @param {boolean} row @param {number} columns */
function doubt(text, row, columns) {
  let first = "", tight = true;
  for (const m of text.matchAll(/,/g)) {
    const before = text.slice(0, m.index), after = text.slice(m.index + 1);
    if (/\p{White_Space}$/u.test(before) || /^\p{White_Space}/u.test(after)) tight = false;
    else first ||= eitherWay(before, after, row);
  }
  return tight && onlyCommas(text, columns) ? "" : first;
}

/** The decimal number that a comma may make. @param {string} before @param {string} after @param {boolean} row */
function eitherWay(before, after, row) {
  const whole = /(?<![0-9./⁄])[0-9]+$/.exec(before)?.[0], part = /^[0-9]+(?![0-9/⁄]|\.[0-9])/.exec(after)?.[0];
  return whole && part && !(row && /^\p{White_Space}*[0-9]+$/u.test(before)) ? `${whole},${part}` : "";
}

/** Whether nothing but commas separates the numbers of a line, and the line shows it. @param {string} text @param {number} columns */
function onlyCommas(text, columns) {
  const pieces = text.split(",");
  return pieces.every((p) => !readLength(p, { bare: "mm" }).refused) && (pieces.length <= columns || clean(text).includes("/") || /\.[0-9]/.test(text));
}

/** Adds words to cells, those of one number in one cell: 1 7/8 in. @param {string[]} cells @param {string[]} words @param {boolean} row */
function join(cells, words, row) {
  words.forEach((word, i) => {
    const isRow = row && cells.length === 1;
    if (i > 0 && !isRow && (unitOf(clean(word)) || oneNumber(words[i - 1], word))) cells[cells.length - 1] += ` ${word}`;
    else cells.push(word);
  });
}

/** Whether two words are a whole number and its fraction. @param {string} whole @param {string} part */
function oneNumber(whole, part) {
  const plain = clean(whole).replace(/^[-+]+/, "");
  return /^[0-9]+$/.test(plain) && clean(part).includes("/") && !readLength(`${plain} ${part}`, { bare: "mm" }).refused;
}
