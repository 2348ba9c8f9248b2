/** Calls of the service. Nothing is retried here: what must not be lost goes through the outbox. */
import { spoken } from "./lang.js";
import { keep, kept } from "./store.js";

/** @import {Style, Trouble} from "./types.js" */

/** The service refused: its own words, and what it found wrong where. */
export class Refusal extends Error {
  /** @param {number} status @param {any} body */
  constructor(status, body) {
    super(body?.message ?? `HTTP ${status}`);
    this.status = status;
    /** @type {any[]} */
    const details = body?.details ?? [];
    /** UPPER_SNAKE word of the refusal. @type {string} */
    this.reason = details.find((d) => d.reason)?.reason ?? "";
    /** @type {{field: string, description: string}[]} */
    this.violations = details.flatMap((d) => d.fieldViolations ?? []);
  }

  /** @returns {Trouble} */
  trouble() {
    return { status: this.status, reason: this.reason, message: [this.message, ...this.violations.map((v) => `${v.field}: ${v.description}`)].join("\n") };
  }
}

/** The service could not be reached, or was too busy: the same may be asked again. */
export class Unreachable extends Error {}

/** How long one call may take. */
const patience = 15_000;

/** @type {EventTarget & {up?: boolean}} */
export const network = new EventTarget();

/** @param {boolean} up */
function reached(up) {
  if (network.up === up) return;
  network.up = up;
  network.dispatchEvent(new Event("change"));
}

/** A UUID; crypto.randomUUID is missing on plain http. */
export function uuid() {
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = (b[6] & 0x0f) | 0x40;
  b[8] = (b[8] & 0x3f) | 0x80;
  const hex = Array.from(b, (x) => x.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

/**
 * Asks the service. @param {string} method @param {string} path @param {unknown} [body]
 * @returns {Promise<any>}
 */
export async function ask(method, path, body) {
  const headers = { "Accept": "application/json", "Accept-Language": spoken(), ...(body === undefined ? {} : { "Content-Type": "application/json" }) };
  let answer, text;
  try {
    answer = await fetch("/v1/" + path, { method, headers, body: body === undefined ? null : JSON.stringify(body), signal: AbortSignal.timeout(patience) });
    text = await answer.text();
  } catch (cause) {
    reached(false);
    throw new Unreachable("", { cause });
  }
  /** @type {any} */
  let value = null;
  try { value = JSON.parse(text); } catch { /* a proxy's page */ }
  if (answer.status >= 500 || answer.status === 429 || answer.status === 408 || value === null) {
    reached(answer.status < 502);
    if (answer.status === 500 && value) throw new Refusal(500, value);
    throw new Unreachable(value?.message ?? `HTTP ${answer.status}`);
  }
  reached(true);
  if (!answer.ok) throw new Refusal(answer.status, value);
  return value;
}

/** How long a watch may be silent, ms; the service says that it stands more often than that. */
const silence = 45_000;

/**
 * Follows what the service tells as it happens, a line of JSON a message, until it ends. No EventSource: that cannot say
 * which language is read here.
 * @param {string} path @param {AbortSignal} signal @param {(message: any) => void} hear
 */
export async function follow(path, signal, hear) {
  const stop = new AbortController();
  /** @type {ReturnType<typeof setTimeout>|undefined} */ let late;
  const alive = () => { clearTimeout(late); late = setTimeout(() => stop.abort(), silence); };
  signal.addEventListener("abort", () => stop.abort(), { once: true });
  alive();
  try {
    const answer = await fetch("/v1/" + path, { headers: { "Accept": "application/json", "Accept-Language": spoken() }, signal: stop.signal });
    if (!answer.ok || !answer.body) return;
    reached(true);
    hear({});
    const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
    for (let rest = ""; ; ) {
      const { done, value } = await reader.read();
      if (done) return;
      alive();
      const lines = (rest + value).split("\n");
      rest = lines.pop() ?? "";
      for (const line of lines) hear(JSON.parse(line).result ?? {});
    }
  } catch {
    if (!signal.aborted) reached(false);
  } finally {
    clearTimeout(late);
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

/** Every installed style, by id; none for a link that reads one job and nothing else. @returns {Promise<Map<string, Style>>} */
export async function styles() {
  const { styles } = await get("styles").catch((error) => {
    if (error instanceof Refusal && error.status === 403) return { styles: [] };
    throw error;
  });
  return new Map(styles.map((/** @type {Style} */ s) => [s.name.replace("styles/", ""), s]));
}
