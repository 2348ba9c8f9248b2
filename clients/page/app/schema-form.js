/**
 * Draws a form from a JSON Schema, and reads it: what an adjuster's figures and settings are asked with. It knows no
 * style by name, so a new adjuster needs nothing here.
 */
import { button, field, h, newId, put, select } from "./dom.js";
import { t } from "./lang.js";
import { cutLine, readLength, readNumber } from "./lengths.js";
import { decimal, unread } from "./units.js";

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
 * A form of an object's schema.
 * @param {Schema} schema @param {Values|undefined} value @param {() => void} [changed]
 * @returns {{element: HTMLElement, read: (faults: string[]) => Values}}
 */
export function schemaForm(schema, value, changed) {
  const element = h("div", { class: "schema" });
  const part = objectPart(schema, value ?? {});
  put(element, part.element);
  if (changed) for (const type of ["change", "click"]) element.addEventListener(type, changed);
  return { element, read: (faults) => /** @type {Values} */ (part.read(faults) ?? {}) };
}

/** @param {Schema} schema @param {unknown} value @param {string} name @param {boolean} required @returns {Part} */
function partOf(schema, value, name, required) {
  const label = schema.title ?? spaced(name);
  const start = value === undefined ? schema.default : value;
  if (choicesOf(schema)) return choicePart(schema, start, label, required);
  switch (schema.type) {
    case "object": return framed(label, schema, objectPart(schema, /** @type {Values} */ (start ?? {})));
    case "array": return arrayPart(schema, /** @type {unknown[]|undefined} */ (start), label, required);
    case "boolean": return booleanPart(schema, start, label);
    case "number": case "integer": return numberPart(schema, start, label, required);
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

/** @param {Schema} schema @param {Values} value @returns {Part} */
function objectPart(schema, value) {
  const required = new Set(schema.required ?? []);
  const alternatives = alternativesOf(schema);
  const asked = [...(schema.required ?? []), ...Object.keys(schema.properties ?? {}).filter((n) => !required.has(n))];
  const plain = asked.filter((n) => schema.properties?.[n] && !alternatives.some((a) => a.includes(n)));
  const parts = new Map(plain.map((n) => [n, partOf(/** @type {any} */ (schema.properties)[n], value[n], n, required.has(n))]));
  const either = alternatives.length ? alternativePart(schema, alternatives, value) : null;
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
 * @param {Schema} schema @param {string[][]} sets @param {Values} value
 * @returns {{element: HTMLElement, read: (faults: string[]) => Values}}
 */
function alternativePart(schema, sets, value) {
  const properties = schema.properties ?? {};
  const known = Math.max(0, sets.findIndex((set) => set.some((n) => value[n] !== undefined)));
  const all = sets.map((set) => set.filter((n) => properties[n]).map((n) => ({ n, part: partOf(properties[n], value[n], n, true) })));
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

/** @param {Schema} schema @param {unknown} value @param {string} label @param {boolean} required @returns {Part} */
function numberPart(schema, value, label, required) {
  const unit = schema["x-unit"];
  const input = h("input", { type: "text", inputmode: "decimal", autocomplete: "off", value: typeof value === "number" ? decimal(value, 6) : "", placeholder: exampleOf(schema) });
  const echo = h("output", { class: "echo" });
  const shown = faulty(field(label, input, { hint: schema.description, unit }), input, label);
  shown.element.append(echo);
  const parse = () => readFigure(input.value, unit);
  input.addEventListener("input", () => {
    const n = parse().value;
    echo.textContent = Number.isFinite(n) && !/^[-+−]?[\d.,]+$/.test(input.value.trim()) ? `= ${decimal(n, 4)} ${unit ?? ""}` : "";
  });
  return {
    element: shown.element,
    read(faults) {
      if (!input.value.trim()) {
        shown.say(required ? t("form.missing") : "", faults);
        return undefined;
      }
      const { value, refused } = parse();
      shown.say(unread(input.value, refused) || numberFault(schema, value), faults);
      return value;
    },
  };
}

/** A figure as typed, a length in mm. @param {string} text @param {string|undefined} unit @param {import("./lengths.js").Comma} [comma] */
function readFigure(text, unit, comma) {
  if (unit !== "mm") return readNumber(text, comma);
  const { mm, refused } = readLength(text, { bare: "mm", comma });
  return { value: mm, refused };
}

/** @param {Schema} schema */
function exampleOf(schema) {
  const one = schema.examples?.[0];
  return one === undefined ? "" : t("form.example", { value: Array.isArray(one) ? one.map((n) => (typeof n === "number" ? decimal(n) : n)).join("  ") : typeof one === "number" ? decimal(one) : String(one) });
}

/** What is wrong with a number, "" where nothing is. @param {Schema} s @param {number} n */
function numberFault(s, n) {
  if (s.type === "integer" && !Number.isInteger(n)) return t("form.whole");
  if (s.minimum !== undefined && n < s.minimum) return t("form.least", { n: decimal(s.minimum) });
  if (s.maximum !== undefined && n > s.maximum) return t("form.most", { n: decimal(s.maximum) });
  if (s.exclusiveMinimum !== undefined && n <= s.exclusiveMinimum) return t("form.above", { n: decimal(s.exclusiveMinimum) });
  if (s.exclusiveMaximum !== undefined && n >= s.exclusiveMaximum) return t("form.below", { n: decimal(s.exclusiveMaximum) });
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

/** @param {Schema} schema @param {unknown[]|undefined} value @param {string} label @param {boolean} required @returns {Part} */
function arrayPart(schema, value, label, required) {
  const items = schema.items ?? {};
  return items.type === "number" || items.type === "integer" ? numbersPart(schema, value, label, required) : listPart(schema, value, label);
}

/** Numbers in one line, as a technician writes them. @param {Schema} schema @param {unknown[]|undefined} value @param {string} label @param {boolean} required @returns {Part} */
function numbersPart(schema, value, label, required) {
  const items = schema.items ?? {};
  const unit = items["x-unit"] ?? schema["x-unit"];
  const text = Array.isArray(value) ? value.map((n) => decimal(Number(n), 6)).join("  ") : "";
  const input = h("input", { type: "text", autocomplete: "off", value: text, placeholder: exampleOf(schema) });
  const hint = [schema.description, t("form.numbers")].filter(Boolean).join(" ");
  const shown = faulty(field(label, input, { hint, unit }), input, label);
  const mayBeEmpty = (schema.minItems ?? 0) === 0;
  return {
    element: shown.element,
    read(faults) {
      const line = cutLine(input.value.trim() === "0" && mayBeEmpty ? "" : input.value, { plus: true });
      if (line.cells.length === 0 && !line.refused && !required) {
        shown.say("", faults);
        return undefined;
      }
      const read = line.cells.map((cell) => ({ cell, ...readFigure(cell, unit, line.comma) }));
      const wrong = line.refused ? unread(line.refused, "UNCLEAR_COMMA") : read.map((r) => unread(r.cell, r.refused) || numberFault(items, r.value)).find(Boolean);
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

/** Things one under another, to add and take away. @param {Schema} schema @param {unknown[]|undefined} value @param {string} label @returns {Part} */
function listPart(schema, value, label) {
  const items = schema.items ?? {};
  /** @type {Part[]} */
  let parts = [];
  const place = h("div", { class: "schema" });
  const fault = h("small", { class: "fault" });
  const show = () => put(place, parts.map((p, i) => h("div", { class: "item" }, p.element, button(t("form.remove", { what: `${label} ${i + 1}` }), () => { parts = parts.filter((q) => q !== p); show(); }, { class: "quiet" }))));
  const add = (/** @type {unknown} */ v) => { parts.push(partOf(items, v, `${label} ${parts.length + 1}`, true)); show(); };
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
 * A setting in words: "8 turns", "Notch 9", "2 + 1 mm".
 * @param {Style|undefined} style @param {Values|undefined} setting
 */
export function settingWords(style, setting) {
  if (!setting) return t("setting.unknown");
  /** @type {Record<string, Schema>} */
  const properties = /** @type {Schema|undefined} */ (style?.settingSchema)?.properties ?? {};
  const names = Object.keys(setting);
  return names.map((name) => {
    const schema = properties[name] ?? {};
    const v = setting[name];
    const unit = schema["x-unit"] ?? schema.items?.["x-unit"] ?? "";
    const text = Array.isArray(v) ? (v.length ? v.map((n) => (typeof n === "number" ? decimal(n) : String(n))).join(" + ") : t("setting.none")) : typeof v === "number" ? decimal(v) : String(v);
    const labelled = names.length > 1 || (!unit && !Array.isArray(v));
    return [labelled ? (schema.title ?? spaced(name)) : "", text, Array.isArray(v) && !v.length ? "" : unit].filter(Boolean).join(" ");
  }).join(", ");
}
