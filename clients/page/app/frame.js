/** What stands around every view: where one is, what waits to be sent, what went wrong. */
import { button, h, link, put } from "./dom.js";
import { t, tn } from "./lang.js";
import { Refusal, Unreachable, network } from "./api.js";
import { outbox } from "./outbox.js";

/** @type {HTMLElement} */ let heading;
/** @type {HTMLElement} */ let back;
/** @type {HTMLElement} */ let notices;
/** @type {HTMLElement} */ let speaker;

/** Builds the frame. */
export function frame() {
  heading = h("h1", { tabindex: -1 });
  back = h("a", { href: "#/", class: "back" }, h("span", { "aria-hidden": "true" }, "‹"), h("span", { class: "sr" }, t("nav.back")));
  notices = h("div", { class: "notices" });
  speaker = h("p", { class: "sr", role: "status", "aria-live": "polite" });
  put(document.body,
    h("header", { class: "top" }, back, heading, unsentBadge()),
    notices, speaker, h("main"));
}

function unsentBadge() {
  const badge = h("a", { href: "#/settings", class: "unsent" });
  const update = () => {
    const n = outbox.entries.length;
    const trouble = outbox.entries.some((e) => e.trouble);
    badge.dataset.state = trouble || outbox.halted ? "trouble" : n ? "waiting" : network.up === false ? "away" : "sent";
    const words = n ? tn("unsent", n) : network.up === false ? t("unsent.away") : t("unsent.none");
    if (badge.textContent !== words) badge.textContent = words;
  };
  outbox.addEventListener("change", update);
  network.addEventListener("change", update);
  update();
  return badge;
}

/**
 * Names the view, and takes the reader of the screen there.
 * @param {string} text @param {string} [backTo] where the arrow leads
 */
export function title(text, backTo = "") {
  document.title = text ? `${text} · rowdatum` : "rowdatum";
  heading.textContent = text;
  back.setAttribute("href", "#/" + backTo);
  back.hidden = location.hash.replace(/^#\/?/, "") === "";
  if (text && !document.activeElement?.closest("main")) heading.focus({ preventScroll: true });
}

/** Says something to those who listen to the screen. @param {string} text */
export function announce(text) {
  speaker.textContent = text;
}

/**
 * A line above the view that stays until it is dealt with.
 * @param {string} text @param {string} [label] @param {() => void} [act]
 */
export function notice(text, label, act) {
  const line = h("div", { class: "notice", role: "status" }, h("p", null, text),
    label ? button(label, () => { line.remove(); act?.(); }) : null,
    button(t("close"), () => line.remove(), { class: "quiet" }));
  notices.append(line);
  return line;
}

/** Takes notices away when one goes on. */
export function closeMenu() {
  notices.replaceChildren();
}

/** What went wrong before is over: nobody is to read it beside what went well. */
export function allWell() {
  for (const old of notices.querySelectorAll("[data-kind=fault]")) old.remove();
}

/**
 * Says in words what went wrong, where it is seen from wherever one was.
 * @param {unknown} error @param {(field: string) => string} [name] what the view calls a field of its request
 */
export function explain(error, name) {
  allWell();
  const line = notice(wordsOf(error, name));
  line.dataset.kind = "fault";
  line.scrollIntoView({ block: "nearest" });
}

/** @param {unknown} error @param {(field: string) => string} [name] @returns {string} */
export function wordsOf(error, name = (field) => field) {
  if (error instanceof Refusal) {
    const list = error.violations.map((v) => `${name(v.field)}: ${v.description}`).join("\n");
    return error.status === 401 ? t("fault.unpaired", { message: error.message }) : [error.message, list].filter(Boolean).join("\n");
  }
  if (error instanceof Unreachable || error instanceof TypeError) return error instanceof Unreachable && error.status ? error.message : t("fault.away");
  return error instanceof Error ? error.message : String(error);
}

/** The link that leads on, large. @param {string} label @param {string} place */
export function onward(label, place) {
  return link(label, "#/" + place, { class: "onward" });
}
