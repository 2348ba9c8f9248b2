/**
 * Draws a form from a JSON Schema, and reads it: what an adjuster's figures and settings are asked with. It knows no
 * style by name, so a new adjuster needs nothing here.
 */
import { button, field, h, newId, put, select } from "./dom.js";
import { t } from "./lang.js";
import { cutLine, readLength, readNumber } from "./lengths.js";
import { decimal, filledIn, nominalInches, stampedInches, unread } from "./units.js";

/** @import {Style} from "./api.js" */
/** @import {Values} from "./shapes.js" */

/**
 * What is read of a JSON Schema.
 * @typedef {{type?: string, title?: string, description?: string, default?: unknown, examples?: unknown[], minimum?: number, maximum?: number,
 *   exclusiveMinimum?: number, exclusiveMaximum?: number, minItems?: number, maxItems?: number, minLength?: number, maxLength?: number,
 *   enum?: (string|number)[], const?: unknown, items?: Schema, uniqueItems?: boolean, properties?: Record<string, Schema>, required?: string[],
 *   oneOf?: Schema[], anyOf?: Schema[], "x-unit"?: string, "x-labels"?: string[]}} Schema
 */

/**
 * One part of a form. `read` gives what stands in it, undefined where it is empty; what is wrong it adds to faults and shows.
 * @typedef {{element: HTMLElement, read: (faults: string[]) => unknown, label?: string}} Part
 */

/**
 * A form of an object's schema; lengths are filled in in inches or in mm, and read in mm.
 * @param {Schema} schema @param {Values|undefined} value @param {boolean} inches @param {() => void} [changed]
 * @returns {{element: HTMLElement, read: (faults: string[]) => Values}}
 */
export function schemaForm(schema, value, inches, changed) {
  const element = h("div", { class: "schema" });
  const part = objectPart(schema, value ?? {}, inches);
  put(element, part.element);
  if (changed) for (const type of ["change", "click"]) element.addEventListener(type, changed);
  return { element, read: (faults) => /** @type {Values} */ (part.read(faults) ?? {}) };
}

/** @param {Schema} schema @param {unknown} value @param {string} name @param {boolean} required @param {boolean} inches @returns {Part} */
function partOf(schema, value, name, required, inches) {
  const label = schema.title ?? spaced(name);
  const start = value === undefined ? schema.default : value;
  if (choicesOf(schema)) return choicePart(schema, start, label, required);
  switch (schema.type) {
    case "object": return framed(label, schema, objectPart(schema, /** @type {Values} */ (start ?? {}), inches));
    case "array": return arrayPart(schema, /** @type {unknown[]|undefined} */ (start), label, required, inches);
    case "boolean": return booleanPart(schema, start, label);
    case "number": case "integer": return numberPart(schema, start, label, required, inches);
    default: return textPart(schema, start, label, required);
  }
}

/** @param {string} name */
function spaced(name) {
  return name.replace(/([a-z])([A-Z])/g, "$1 $2").replace(/_/g, " ").toLowerCase();
}

/** @param {string} label @param {Schema} schema @param {Part} part @returns {Part} */
function framed(label, schema, part) {
  return { ...part, element: h("fieldset", null, h("legend", null, label), schema.description ? h("small", null, schema.description) : null, part.element) };
}

/** @param {Schema} schema @param {Values} value @param {boolean} inches @returns {Part} */
function objectPart(schema, value, inches) {
  const required = new Set(schema.required ?? []);
  const alternatives = alternativesOf(schema);
  const asked = [...(schema.required ?? []), ...Object.keys(schema.properties ?? {}).filter((n) => !required.has(n))];
  const plain = asked.filter((n) => schema.properties?.[n] && !alternatives.some((a) => a.includes(n)));
  const parts = new Map(plain.map((n) => [n, partOf(/** @type {any} */ (schema.properties)[n], value[n], n, required.has(n), inches)]));
  const either = alternatives.length ? alternativePart(schema, alternatives, value, inches) : null;
  return {
    element: h("div", { class: "schema" }, [...parts.values()].map((p) => p.element), either?.element),
    read(faults) {
      const read = [...parts].map(([n, p]) => [n, p.read(faults)]).filter(([, v]) => v !== undefined);
      return { ...Object.fromEntries(read), ...(either?.read(faults) ?? {}) };
    },
  };
}

/** Sets of fields of which one set is to be given. @param {Schema} schema @returns {string[][]} */
function alternativesOf(schema) {
  const sets = (schema.oneOf ?? schema.anyOf ?? []).map((s) => s.required ?? []).filter((s) => s.length > 0);
  return sets.length > 1 ? sets : [];
}

/**
 * @param {Schema} schema @param {string[][]} sets @param {Values} value @param {boolean} inches
 * @returns {{element: HTMLElement, read: (faults: string[]) => Values}}
 */
function alternativePart(schema, sets, value, inches) {
  const properties = schema.properties ?? {};
  const known = Math.max(0, sets.findIndex((set) => set.some((n) => value[n] !== undefined)));
  const all = sets.map((set) => set.filter((n) => properties[n]).map((n) => ({ n, part: partOf(properties[n], value[n], n, true, inches) })));
  let chosen = known;
  const place = h("div", { class: "schema" });
  const show = () => put(place, all[chosen].map((a) => a.part.element));
  const names = sets.map((set, i) => /** @type {[string, string]} */ ([String(i), set.map((n) => properties[n]?.title ?? spaced(n)).join(" + ")]));
  const choice = select(names, String(known), (v) => { chosen = Number(v); show(); });
  show();
  return {
    element: h("div", { class: "schema" }, field(t("form.which"), choice), place),
    read: (faults) => Object.fromEntries(all[chosen].map((a) => [a.n, a.part.read(faults)]).filter(([, v]) => v !== undefined)),
  };
}

/** @param {Schema} schema @returns {[value: unknown, label: string][]|null} */
function choicesOf(schema) {
  if (schema.enum) return schema.enum.map((v, i) => [v, schema["x-labels"]?.[i] ?? (typeof v === "string" ? spaced(v) : decimal(v))]);
  const consts = (schema.oneOf ?? []).filter((s) => "const" in s);
  return consts.length ? consts.map((s) => [s.const, s.title ?? String(s.const)]) : null;
}

/** @param {Schema} schema @param {unknown} value @param {string} label @param {boolean} required @returns {Part} */
function choicePart(schema, value, label, required) {
  const choices = choicesOf(schema) ?? [];
  const at = choices.findIndex(([v]) => v === value);
  const input = select([["", t("form.choose")], ...choices.map(([, l], i) => /** @type {[string, string]} */ ([String(i), l]))], at < 0 ? "" : String(at), () => {});
  const shown = faulty(field(label, input, { hint: schema.description, unit: schema["x-unit"] }), input, label);
  return {
    element: shown.element,
    read(faults) {
      const empty = input.value === "";
      shown.say(empty && required ? t("form.missing") : "", faults);
      return empty ? undefined : choices[Number(input.value)][0];
    },
  };
}

/** @param {Schema} schema @param {unknown} value @param {string} label @returns {Part} */
function booleanPart(schema, value, label) {
  const input = h("input", { type: "checkbox", id: newId(), checked: value === true });
  return { element: h("div", { class: "tick" }, input, h("label", { for: input.id }, label), schema.description ? h("small", null, schema.description) : null), read: () => input.checked };
}

/** @param {Schema} schema @param {unknown} value @param {string} label @param {boolean} required @param {boolean} inches @returns {Part} */
function numberPart(schema, value, label, required, inches) {
  const as = told(schema["x-unit"], inches);
  const input = h("input", { type: "text", inputmode: as.inches ? "text" : "decimal", autocomplete: "off", value: typeof value === "number" ? as.fill(value) : "", placeholder: exampleOf(schema, as) });
  const echo = h("output", { class: "echo" });
  const shown = faulty(field(label, input, { hint: schema.description, unit: as.unit }), input, label);
  shown.element.append(echo);
  const parse = () => readFigure(input.value, as);
  input.addEventListener("input", () => {
    const n = parse().value;
    echo.textContent = Number.isFinite(n) && !/^[-+−]?[\d.,]+$/.test(input.value.trim()) && as.write(n) !== input.value.trim() ? `= ${as.write(n)} ${as.unit ?? ""}` : "";
  });
  return {
    element: shown.element,
    read(faults) {
      if (!input.value.trim()) {
        shown.say(required ? t("form.missing") : "", faults);
        return undefined;
      }
      const { value, refused } = parse();
      shown.say(unread(input.value, refused) || numberFault(schema, value, as), faults);
      return value;
    },
  };
}

/**
 * How the figures of a unit are written, filled in and read: those of mm in inches where that is the reader's unit.
 * @typedef {{unit: string|undefined, length: boolean, inches: boolean, write: (n: number) => string, fill: (n: number) => string}} Told
 */

/** @param {string|undefined} unit @param {boolean} inches @returns {Told} */
function told(unit, inches) {
  if (unit === "mm" && inches) return { unit: t("in"), length: true, inches: true, write: nominalInches, fill: (n) => filledIn(n, true) };
  const write = (/** @type {number} */ n) => decimal(n, 6);
  return { unit, length: unit === "mm", inches: false, write, fill: write };
}

/** A figure as typed, a length in mm. @param {string} text @param {Told} as @param {import("./lengths.js").Comma} [comma] */
function readFigure(text, as, comma) {
  if (!as.length) return readNumber(text, comma);
  const { mm, refused } = readLength(text, { bare: as.inches ? "in" : "mm", comma });
  return { value: mm, refused };
}

/** @param {Schema} schema @param {Told} [as] */
function exampleOf(schema, as) {
  const one = schema.examples?.[0];
  const write = (/** @type {unknown} */ n) => (typeof n === "number" ? (as?.write ?? decimal)(n) : String(n));
  return one === undefined ? "" : t("form.example", { value: Array.isArray(one) ? one.map(write).join("  ") : write(one) });
}

/** What is wrong with a number, "" where nothing is. @param {Schema} s @param {number} n @param {Told} as */
function numberFault(s, n, as) {
  const limit = (/** @type {number} */ x) => [as.write(x), as.inches ? as.unit : ""].filter(Boolean).join(" ");
  if (s.type === "integer" && !Number.isInteger(n)) return t("form.whole");
  if (s.minimum !== undefined && n < s.minimum) return t("form.least", { n: limit(s.minimum) });
  if (s.maximum !== undefined && n > s.maximum) return t("form.most", { n: limit(s.maximum) });
  if (s.exclusiveMinimum !== undefined && n <= s.exclusiveMinimum) return t("form.above", { n: limit(s.exclusiveMinimum) });
  if (s.exclusiveMaximum !== undefined && n >= s.exclusiveMaximum) return t("form.below", { n: limit(s.exclusiveMaximum) });
  return "";
}

/** @param {Schema} schema @param {unknown} value @param {string} label @param {boolean} required @returns {Part} */
function textPart(schema, value, label, required) {
  const input = h("input", { type: "text", autocomplete: "off", value: typeof value === "string" ? value : "", maxlength: schema.maxLength ?? null, placeholder: exampleOf(schema) });
  const shown = faulty(field(label, input, { hint: schema.description, unit: schema["x-unit"] }), input, label);
  return {
    element: shown.element,
    read(faults) {
      const empty = input.value.trim() === "";
      shown.say(empty && required ? t("form.missing") : "", faults);
      return empty ? undefined : input.value.trim();
    },
  };
}

/** @param {Schema} schema @param {unknown[]|undefined} value @param {string} label @param {boolean} required @param {boolean} inches @returns {Part} */
function arrayPart(schema, value, label, required, inches) {
  const items = schema.items ?? {};
  return items.type === "number" || items.type === "integer" ? numbersPart(schema, value, label, required, inches) : listPart(schema, value, label, inches);
}

/** Numbers in one line, as a technician writes them. @param {Schema} schema @param {unknown[]|undefined} value @param {string} label @param {boolean} required @param {boolean} inches @returns {Part} */
function numbersPart(schema, value, label, required, inches) {
  const items = schema.items ?? {};
  const as = told(items["x-unit"] ?? schema["x-unit"], inches);
  const text = Array.isArray(value) ? value.map((n) => as.fill(Number(n))).join(as.inches ? ", " : "  ") : "";
  const input = h("input", { type: "text", autocomplete: "off", value: text, placeholder: exampleOf(schema, as) });
  const hint = [schema.description, t("form.numbers")].filter(Boolean).join(" ");
  const shown = faulty(field(label, input, { hint, unit: as.unit }), input, label);
  const mayBeEmpty = (schema.minItems ?? 0) === 0;
  return {
    element: shown.element,
    read(faults) {
      const line = cutLine(input.value.trim() === "0" && mayBeEmpty ? "" : input.value, { plus: true });
      if (line.cells.length === 0 && !line.refused && !required) {
        shown.say("", faults);
        return undefined;
      }
      const read = line.cells.map((cell) => ({ cell, ...readFigure(cell, as, line.comma) }));
      const wrong = line.refused ? unread(line.refused, "UNCLEAR_COMMA") : read.map((r) => unread(r.cell, r.refused) || numberFault(items, r.value, as)).find(Boolean);
      shown.say(wrong ?? countFault(schema, read.length), faults);
      return read.map((r) => r.value);
    },
  };
}

/** @param {Schema} s @param {number} n */
function countFault(s, n) {
  if (n < (s.minItems ?? 0)) return t("form.fewest", { n: s.minItems ?? 0 });
  return s.maxItems !== undefined && n > s.maxItems ? t("form.mostOf", { n: s.maxItems }) : "";
}

/** Things one under another, to add and take away. @param {Schema} schema @param {unknown[]|undefined} value @param {string} label @param {boolean} inches @returns {Part} */
function listPart(schema, value, label, inches) {
  const items = schema.items ?? {};
  /** @type {Part[]} */
  let parts = [];
  const place = h("div", { class: "schema" });
  const fault = h("small", { class: "fault" });
  const show = () => put(place, parts.map((p, i) => h("div", { class: "item" }, p.element, button(t("form.remove", { what: `${label} ${i + 1}` }), () => { parts = parts.filter((q) => q !== p); show(); }, { class: "quiet" }))));
  const add = (/** @type {unknown} */ v) => { parts.push(partOf(items, v, `${label} ${parts.length + 1}`, true, inches)); show(); };
  for (const v of value ?? []) add(v);
  while (parts.length < (schema.minItems ?? 0)) add(undefined);
  show();
  const element = h("fieldset", null, h("legend", null, label), schema.description ? h("small", null, schema.description) : null, place, fault,
    button(t("form.add", { what: items.title ?? label }), () => add(undefined), { class: "quiet" }));
  return {
    element,
    read(faults) {
      fault.textContent = countFault(schema, parts.length);
      if (fault.textContent) faults.push(`${label}: ${fault.textContent}`);
      return parts.map((p) => p.read(faults));
    },
  };
}

/**
 * A field that can say what is wrong with it.
 * @param {HTMLElement} element @param {HTMLElement} input @param {string} label
 */
function faulty(element, input, label) {
  const words = h("small", { class: "fault", id: newId() });
  element.append(words);
  return {
    element,
    /** @param {string} wrong @param {string[]} faults */
    say(wrong, faults) {
      words.textContent = wrong;
      if (wrong) faults.push(`${label}: ${wrong}`);
      if (wrong) input.setAttribute("aria-invalid", "true");
      else input.removeAttribute("aria-invalid");
      const hint = document.getElementById(input.id + "h") ? input.id + "h " : "";
      if (wrong || hint) input.setAttribute("aria-describedby", hint + (wrong ? words.id : ""));
    },
  };
}

/**
 * A setting in words: "8 turns", "Notch 9", "2 + 1 mm", "0.079 in (2 mm) + 0.039 in (1 mm)".
 * @param {Style|undefined} style @param {Values|undefined} setting @param {boolean} inches
 */
export function settingWords(style, setting, inches) {
  if (!setting) return t("setting.unknown");
  /** @type {Record<string, Schema>} */
  const properties = /** @type {Schema|undefined} */ (style?.settingSchema)?.properties ?? {};
  const names = Object.keys(setting);
  return names.map((name) => {
    const schema = properties[name] ?? {};
    const v = setting[name];
    const own = schema["x-unit"] ?? schema.items?.["x-unit"] ?? "";
    const stamped = own === "mm" && inches; // each figure has its unit then
    const unit = stamped || (Array.isArray(v) && !v.length) ? "" : own;
    const one = (/** @type {unknown} */ n) => (typeof n !== "number" ? String(n) : stamped ? stampedInches(n) : decimal(n));
    const text = Array.isArray(v) ? v.map(one).join(" + ") || t("setting.none") : one(v);
    const labelled = names.length > 1 || (!own && !Array.isArray(v));
    return [labelled ? (schema.title ?? spaced(name)) : "", text, unit].filter(Boolean).join(" ");
  }).join(", ");
}
