/**
 * The pad that readings are typed with, by one thumb: whole inches and the fractions of the fixture's ruling, or mm. The
 * line above it takes a keyboard too.
 */
import { button, h, put } from "./dom.js";
import { t } from "./lang.js";
import { readNumber } from "./lengths.js";
import { decimal, fraction, unread } from "./units.js";

/** @typedef {{inches: boolean, ruling: number}} Ruled */

export class Pad extends EventTarget {
  /** What is typed. @type {HTMLInputElement} */
  line;
  element = h("div", { class: "pad" });
  #keys = h("div");
  /** @type {Ruled} */
  #ruled = { inches: true, ruling: 16 };
  #unit = h("span", { class: "unit", "aria-hidden": "true" });

  constructor() {
    super();
    // inputmode none: the pad is the keyboard of a phone.
    this.line = h("input", { type: "text", inputmode: "none", autocomplete: "off", class: "typed", enterkeyhint: "next" });
    this.line.addEventListener("keydown", (e) => { if (e.key === "Enter") { e.preventDefault(); this.enter(); } });
    this.line.addEventListener("input", () => this.dispatchEvent(new Event("typed")));
    put(this.element, h("div", { class: "entry" }, this.line, this.#unit), this.#keys);
  }

  /** @param {Ruled} ruled */
  rule(ruled) {
    this.#ruled = ruled;
    this.#unit.textContent = ruled.inches ? t("in") : "mm";
    put(this.#keys, ruled.inches ? this.#inchKeys() : this.#mmKeys());
    this.#keys.className = ruled.inches ? "keys inches" : "keys mm";
  }

  get text() {
    return this.line.value;
  }

  set text(text) {
    this.line.value = text;
  }

  /** The number typed; NaN where there is none. */
  get value() {
    return readNumber(this.line.value).value;
  }

  /** Why there is none, and how to write it; "" where there is one. */
  get wrong() {
    return unread(this.line.value, readNumber(this.line.value).refused);
  }

  enter() {
    this.dispatchEvent(new Event("enter"));
  }

  /** @param {string} text */
  #set(text) {
    this.line.value = text;
    this.dispatchEvent(new Event("typed"));
  }

  /** The sign, the whole and the fraction of what is typed. @returns {[string, string, string]} */
  #parts() {
    const m = /^([-−]?)\s*(\d*)\s*((?:\d+\/\d+)?)$/.exec(this.line.value.trim().replace(/^([-−]?\s*)(\d+\/\d+)$/, "$1 $2"));
    return m ? [m[1], m[2], m[3]] : ["", "", ""];
  }

  /** @param {string} sign @param {string} whole @param {string} part */
  #join(sign, whole, part) {
    this.#set(sign + [whole, part].filter(Boolean).join(" "));
  }

  #inchKeys() {
    const n = Math.min(16, this.#ruled.ruling);
    const digits = "0123456789".split("").map((d) => key(d, () => {
      const [sign, whole, part] = this.#parts();
      this.#join(sign, (whole + d).replace(/^0+(?=\d)/, ""), part);
    }));
    const fractions = Array.from({ length: n - 1 }, (_, i) => fraction(i + 1, n)).map((f) => {
      const [over, under] = f.split("/");
      const b = key("", () => { const [sign, whole] = this.#parts(); this.#join(sign, whole, f); }, { "aria-label": f, class: "fraction" });
      put(b, h("span", { "aria-hidden": "true" }, h("sup", null, over), "⁄", h("sub", null, under)));
      return b;
    });
    return [
      h("div", { class: "digits" }, digits, this.#back(), this.#sign()),
      h("div", { class: "fractions" }, fractions),
      this.#ruled.ruling > 16 ? h("div", { class: "finer" }, this.#finer()) : null,
      this.#enterKey(),
    ];
  }

  /** Half a step more than the fractions shown, for rulings finer than 1/16. */
  #finer() {
    const n = this.#ruled.ruling;
    return key(`+ ${fraction(1, n)}`, () => {
      const [sign, whole, part] = this.#parts();
      const counts = Math.round(readNumber(part || "0").value * n);
      this.#join(sign, whole, fraction((counts + 1) % n, n).replace(/^0$/, ""));
    });
  }

  #mmKeys() {
    const dot = decimal(0.5).charAt(1);
    const type = (/** @type {string} */ d) => key(d, () => this.#set(this.line.value + d));
    return [
      h("div", { class: "phone" }, "123456789".split("").map(type), key(dot, () => { if (!/[.,]/.test(this.line.value)) this.#set((this.line.value || "0") + dot); }), type("0"), this.#back()),
      h("div", { class: "finer" }, this.#sign()),
      this.#enterKey(),
    ];
  }

  #back() {
    return key("⌫", () => {
      const [sign, whole, part] = this.#parts();
      if (this.#ruled.inches && part) this.#join(sign, whole, "");
      else this.#set(this.line.value.slice(0, -1));
    }, { "aria-label": t("pad.back") });
  }

  #sign() {
    return key("±", () => this.#set(/^[-−]/.test(this.line.value) ? this.line.value.slice(1) : "-" + this.line.value), { "aria-label": t("pad.sign") });
  }

  #enterKey() {
    return button(t("pad.enter"), () => this.enter(), { class: "go enter" });
  }
}

/** @param {string} label @param {() => void} press @param {import("./dom.js").Props} [props] */
function key(label, press, props) {
  return button(label, press, props);
}
