/** The words of the page in the technician's language; one catalogue a language. */

/** @type {Record<string, () => Promise<{default: Record<string, string>}>>} */
const catalogues = {
  en: () => import("./words/en.js"),
  es: () => import("./words/es.js"),
};

/** Languages there are words for, each by its own name. @type {[string, string][]} */
export const languages = [["en", "English"], ["es", "Español"]];

let language = "en";
/** @type {Record<string, string>} */
let words = {};
let plural = new Intl.PluralRules("en");

/** The language in use. */
export function spoken() {
  return language;
}

/** Learns the words of the wanted language, else of the browser's, else English. @param {string} wanted */
export async function learn(wanted) {
  const asked = [wanted, ...navigator.languages].map((l) => l.slice(0, 2).toLowerCase());
  language = asked.find((l) => l in catalogues) ?? "en";
  words = (await catalogues[language]()).default;
  plural = new Intl.PluralRules(language);
  document.documentElement.lang = language;
}

/** @type {typeof catalogues} */
const further = {
  en: () => import("./field/words/en.js"),
  es: () => import("./field/words/es.js"),
};

/** Learns the words of the field and of the years, too: the first view does without them. */
export async function learnMore() {
  words = { ...words, ...(await further[language]()).default };
}

/**
 * The words under a key, with {names} filled in.
 * @param {string} key @param {Record<string, string|number>} [values]
 */
export function t(key, values = {}) {
  const text = words[key] ?? key;
  return text.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? String(values[name]) : whole));
}

/** The words for a number of things: `key.one`, `key.other`. @param {string} key @param {number} n @param {Record<string, string|number>} [values] */
export function tn(key, n, values = {}) {
  const form = `${key}.${plural.select(n)}`;
  return t(form in words ? form : `${key}.other`, { n, ...values });
}

/** A list in words: "1, 4 and 7". @param {(string|number)[]} items */
export function listed(items) {
  return new Intl.ListFormat(language).format(items.map(String));
}

/** A time of day, with the date where it is not today. @param {string|undefined} iso */
export function when(iso) {
  if (!iso) return "";
  const time = new Date(iso);
  const today = new Date().toDateString() === time.toDateString();
  return time.toLocaleString(language, today ? { timeStyle: "short" } : { dateStyle: "medium", timeStyle: "short" });
}

/** A date with its time, for what is kept or printed. @param {string|undefined} iso */
export function dated(iso) {
  if (!iso) return "";
  return new Date(iso).toLocaleString(language, { dateStyle: "medium", timeStyle: "short" });
}

/** Rows in words, runs joined: "1–4, 7". @param {number[]} rows */
export function ranges(rows) {
  const out = [];
  for (let i = 0; i < rows.length; i++) {
    const from = i;
    while (rows[i + 1] === rows[i] + 1) i++;
    out.push(i - from > 1 ? `${rows[from]}–${rows[i]}` : rows.slice(from, i + 1).join(", "));
  }
  return out.join(", ");
}
