/** Shows the view that the address names. Addresses are behind the #, so that the page is one file for every server. */
import { put } from "./dom.js";
import { closeMenu, explain, title } from "./frame.js";

const job = "planters/([^/]+)/jobs/([^/]+)";

/** @type {[RegExp, string, string][]} */
const routes = [
  [/^$/, "home", "rd-home"],
  [/^planters\/new$/, "planter-form", "rd-planter-form"],
  [/^planters\/([^/]+)\/edit$/, "planter-form", "rd-planter-form"],
  [/^planters\/([^/]+)\/fixtures$/, "fixtures", "rd-fixtures"],
  [/^planters\/([^/]+)\/field$/, "../field/move", "rd-field"],
  [/^planters\/([^/]+)\/digs$/, "../field/digs", "rd-digs"],
  [/^planters\/([^/]+)\/digs\/([^/]+)$/, "../field/dig", "rd-dig"],
  [/^planters\/([^/]+)\/years$/, "../field/years", "rd-years"],
  [/^fixtures\/([^/]+)\/study$/, "../field/study", "rd-study"],
  [/^planters\/([^/]+)$/, "planter", "rd-planter"],
  [new RegExp(`^${job}$`), "job", "rd-job"],
  [new RegExp(`^${job}/walk$`), "walk", "rd-walk"],
  [new RegExp(`^${job}/plan$`), "plan", "rd-plan"],
  [new RegExp(`^${job}/moves$`), "moves", "rd-moves"],
  [new RegExp(`^${job}/sign$`), "sign", "rd-sign"],
  [new RegExp(`^${job}/card$`), "card", "rd-card"],
  [new RegExp(`^${job}/log$`), "log", "rd-log"],
  [/^fixtures$/, "fixtures", "rd-fixtures"],
  [/^settings$/, "settings", "rd-settings"],
];

let turn = 0;

/** Shows what the address names now. */
export async function show() {
  const mine = ++turn;
  const place = decodeURIComponent(location.hash.replace(/^#\/?/, ""));
  const [match, file, tag] = find(place);
  closeMenu();
  try {
    await import(`./views/${file}.js`);
  } catch (error) {
    if (mine === turn) explain(error);
    return;
  }
  if (mine !== turn) return;
  const view = /** @type {import("./dom.js").View} */ (document.createElement(tag));
  view.params = match.slice(1);
  const main = /** @type {HTMLElement} */ (document.querySelector("main"));
  title("");
  put(main, view);
  scrollTo(0, 0);
}

/** @param {string} place @returns {[RegExpExecArray, string, string]} */
function find(place) {
  for (const [pattern, file, tag] of routes) {
    const match = pattern.exec(place);
    if (match) return [match, file, tag];
  }
  return [/** @type {RegExpExecArray} */ (/^/.exec("")), "home", "rd-home"];
}

/** @param {string} place */
export function go(place) {
  location.hash = "#/" + place;
}
