/** Calls of the service. Nothing is retried here: what must not be lost goes through the outbox. */
import { spoken } from "./lang.js";
import { Client, Refusal, Unreachable, uuid } from "./rowdatum.js";
import { keep, kept } from "./store.js";

/** @import {Job} from "./shapes.js" */
/** @typedef {Required<import("./shapes.js").Style>} Style as it is answered: the service always says all of it */
/** @typedef {Required<import("./shapes.js").Fixture>} Fixture as it is answered: the service fills in what was left out */
/** @typedef {{status: number, reason: string, message: string}} Trouble */

export { Refusal, Unreachable, uuid };

/** What a refusal leaves to the technician. @param {Refusal} refusal @returns {Trouble} */
export function trouble({ status, reason, message, violations }) {
  return { status, reason, message: [message, ...violations.map((v) => `${v.field}: ${v.description}`)].join("\n") };
}

/** @type {EventTarget & {up?: boolean}} */
export const network = new EventTarget();

/** @param {boolean} up */
function reached(up) {
  if (network.up === up) return;
  network.up = up;
  network.dispatchEvent(new Event("change"));
}

const service = new Client({ language: spoken, onNetwork: reached });

/**
 * Asks the service. @param {string} method @param {string} path @param {unknown} [body]
 * @returns {Promise<any>}
 */
export const ask = (method, path, body) => service.once(method, path, body);

/**
 * Follows a job from behind a revision until the connection ends. Whoever asks begins again.
 * @param {string} job @param {number} after @param {AbortSignal} signal @param {(message: {job?: Job}) => void} hear
 */
export async function follow(job, after, signal, hear) {
  try {
    for await (const message of service.listen(job, after, signal)) hear(message);
  } catch (error) {
    if (!(error instanceof Refusal || error instanceof Unreachable)) throw error;
  }
}

/** @param {string} path @param {unknown} body */
export const post = (path, body) => ask("POST", path, body);

/**
 * Gets, and keeps the answer on this phone; where the service cannot be reached, what was kept last.
 * @param {string} path @returns {Promise<any>}
 */
export async function get(path) {
  try {
    const value = await ask("GET", path);
    void keep(path, value);
    return value;
  } catch (error) {
    const last = error instanceof Unreachable ? await kept(path) : undefined;
    if (last === undefined) throw error;
    return last;
  }
}

/** Whether this phone may only read. @returns {Promise<boolean>} */
export async function mayOnlyRead() {
  return (await get("session")).role === "READER";
}

/** Every installed style, by id, its words in a unit of lengths. @param {string} [unit] @returns {Promise<Map<string, Style>>} */
export async function styles(unit) {
  const { styles } = await get(unit === "IN" ? "styles?lengthUnit=IN" : "styles");
  return new Map(styles.map((/** @type {Style} */ s) => [s.name.replace("styles/", ""), s]));
}
