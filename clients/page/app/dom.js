/**
 * Makes elements. Text goes in as text only: names of planters and words of adjusters are other people's.
 *
 * @typedef {Node|string|number|null|undefined|false} One
 * @typedef {One|(One|(One|One[])[])[]} Child
 * @typedef {Record<string, any>} Props
 */

/**
 * An element: `on…` is a listener, true and false are attributes without a value, `value` and `checked` are the input's own.
 * @type {{
 *   <T extends keyof HTMLElementTagNameMap>(tag: T, props?: Props|null, ...children: Child[]): HTMLElementTagNameMap[T],
 *   (tag: string, props?: Props|null, ...children: Child[]): HTMLElement,
 * }}
 */
export const h = (/** @type {string} */ tag, /** @type {Props|null} */ props = null, /** @type {Child[]} */ ...children) =>
  /** @type {any} */ (fill(document.createElement(tag), props, children));

/**
 * The same for pictures.
 * @param {string} tag @param {Props|null} [props] @param {...Child} children
 * @returns {SVGElement}
 */
export function svg(tag, props, ...children) {
  return fill(document.createElementNS("http://www.w3.org/2000/svg", tag), props, children);
}

/**
 * @template {Element} E
 * @param {E} element @param {Props|null|undefined} props @param {Child[]} children
 * @returns {E}
 */
function fill(element, props, children) {
  for (const [name, value] of Object.entries(props ?? {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "value" || name === "checked") /** @type {any} */ (element)[name] = value;
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  element.append(...nodes(children));
  return element;
}

/** @param {Child[]} children @returns {(Node|string)[]} */
function nodes(children) {
  return children.flatMap((c) => (Array.isArray(c) ? nodes(c) : c === null || c === undefined || c === false ? [] : c instanceof Node ? c : String(c)));
}

/**
 * Puts children in the place of what an element holds.
 * @param {Element} element @param {...Child} children
 */
export function put(element, ...children) {
  element.replaceChildren(...nodes(children));
}

/** A button. @param {string} label @param {(event: MouseEvent) => void} press @param {Props} [props] */
export function button(label, press, props) {
  return h("button", { type: "button", onclick: press, ...props }, label);
}

/** A link. @param {string} label @param {string} href @param {Props} [props] */
export function link(label, href, props) {
  return h("a", { href, ...props }, label);
}

let ids = 0;

/** An id for a label to name its input by. */
export function newId() {
  return `f${++ids}`;
}

/**
 * A labelled input.
 * @param {string} label @param {HTMLElement} input @param {{hint?: string, unit?: string}} [more]
 */
export function field(label, input, more = {}) {
  input.id ||= newId();
  const hint = more.hint ? h("small", { id: input.id + "h" }, more.hint) : null;
  if (hint) input.setAttribute("aria-describedby", hint.id);
  return h("div", { class: "field" }, h("label", { for: input.id }, label, more.unit ? h("span", { class: "unit" }, ` (${more.unit})`) : null), input, hint);
}

/** A box to tick. @param {string} label @param {boolean} checked @param {(on: boolean) => void} change */
export function tick(label, checked, change) {
  const id = newId();
  const input = h("input", { type: "checkbox", id, checked });
  input.addEventListener("change", () => change(input.checked));
  return h("div", { class: "tick" }, input, h("label", { for: id }, label));
}

/**
 * Choices, one of them chosen.
 * @param {[value: string, label: string][]} choices @param {string} chosen @param {(value: string) => void} change @param {Props} [props]
 */
export function select(choices, chosen, change, props) {
  const input = h("select", props, choices.map(([value, label]) => h("option", { value, selected: value === chosen }, label)));
  input.addEventListener("change", () => change(input.value));
  return input;
}

/**
 * A view: a custom element that lives from when it is shown until it is left.
 */
export class View extends HTMLElement {
  /** What the address names. @type {string[]} */
  params = [];
  #life = new AbortController();

  /** Ends when the view is left. */
  get life() {
    return this.#life.signal;
  }

  connectedCallback() {
    this.#life = new AbortController();
    void this.open();
  }

  disconnectedCallback() {
    this.#life.abort();
  }

  /** Shows the view. @returns {void|Promise<void>} */
  open() {}

  /** Listens while the view is shown. @param {EventTarget} target @param {string} type @param {(event: any) => void} hear */
  hear(target, type, hear) {
    target.addEventListener(type, hear, { signal: this.life });
  }
}
