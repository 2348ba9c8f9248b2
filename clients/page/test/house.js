/** The built programs, and a phone's browser in front of them. */
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { createServer, request } from "node:http";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { chromium } from "playwright-core";
import { shrink } from "./png.js";

/** @import {Browser, BrowserContext, Page} from "playwright-core" */

/** This folder. */
export const here = fileURLToPath(new URL(".", import.meta.url));
/** The top of the source. */
export const root = resolve(here, "../../..");
const bin = process.env.ROWDATUM_BIN ?? join(root, "bin");
/** Where the pictures of every view go: into the docs only when asked (`make pictures`), because some show the day's date. */
export const screens = resolve(root, process.env.ROWDATUM_PICTURES ?? "bin/screens");
mkdirSync(screens, { recursive: true });

/** A service of its own, with its own store; it can be stopped and started again at the same address. */
export class Service {
  dir = mkdtempSync(join(tmpdir(), "rowdatum-page-"));
  url = "";
  #port = 0;
  /** @type {import("node:child_process").ChildProcess|undefined} */
  #process;

  /** @param {{adjusters?: string}} [options] */
  constructor(options = {}) {
    this.adjusters = options.adjusters ?? join(bin, "adjusters");
  }

  async start() {
    const file = join(this.dir, "addr.json");
    rmSync(file, { force: true });
    const args = ["--http", `127.0.0.1:${this.#port}`, "--grpc", "127.0.0.1:0", "--addr-file", file, "--store", join(this.dir, "rowdatum.db"), "--adjusters", this.adjusters, "--log", "warn"];
    this.#process = spawn(join(bin, "rowdatumd"), args, { stdio: ["ignore", "inherit", "inherit"] });
    for (let i = 0; !existsSync(file) || !readFileSync(file, "utf8"); i++) {
      if (i > 300 || this.#process.exitCode !== null) throw new Error("rowdatumd did not start");
      await wait(50);
    }
    const { http } = JSON.parse(readFileSync(file, "utf8"));
    this.#port = Number(http.split(":")[1]);
    this.url = `http://127.0.0.1:${this.#port}`;
    for (let i = 0; ; i++) {
      const { styles } = await this.call("GET", "styles");
      if (styles.length >= 3 && styles.every((/** @type {any} */ s) => s.state === "SERVING")) return this;
      if (i > 200) throw new Error("the adjusters do not serve");
      await wait(50);
    }
  }

  async stop() {
    const p = this.#process;
    if (!p || p.exitCode !== null) return;
    const gone = new Promise((done) => p.once("exit", done));
    p.kill("SIGTERM");
    await gone;
  }

  async end() {
    await this.stop();
    rmSync(this.dir, { recursive: true, force: true });
  }

  /** @param {string} method @param {string} path @param {unknown} [body] @param {string} [language] @returns {Promise<any>} */
  async call(method, path, body, language = "en") {
    const answer = await fetch(`${this.url}/v1/${path}`, { method, headers: { "Content-Type": "application/json", "Accept-Language": language }, ...(body === undefined ? {} : { body: JSON.stringify(body) }) });
    const value = await answer.json();
    if (!answer.ok) throw new Error(`${method} ${path}: ${JSON.stringify(value)}`);
    return value;
  }
}

/** @param {number} ms */
const wait = (ms) => new Promise((done) => setTimeout(done, ms));

/**
 * Waits until something holds, and returns it.
 * @template T
 * @param {() => Promise<T>} look @param {string} what
 */
export async function until(look, what) {
  for (let i = 0; i < 200; i++) {
    const found = await look();
    if (found) return found;
    await wait(50);
  }
  throw new Error(`never came: ${what}`);
}

/** A name that leads to this machine and yet is not secure, as a shop's own plain http is not. */
export const plainHost = "depot.test";

const flags = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync",
  `--host-resolver-rules=MAP ${plainHost} 127.0.0.1`];

/** @returns {Promise<Browser>} */
export function browser() {
  const wanted = process.env.CHROMIUM ?? "chromium";
  const path = [wanted, ...(process.env.PATH ?? "").split(":").map((dir) => join(dir, wanted))].find((p) => existsSync(p) && p.includes("/"));
  if (!path) throw new Error("no Chromium: install the package chromium, or name another in CHROMIUM");
  return chromium.launch({ executablePath: path, args: flags });
}

/** A phone held upright, 360 px wide. @param {Browser} b @param {object} [more] @returns {Promise<BrowserContext>} */
export async function phone(b, more = {}) {
  const context = await b.newContext({ viewport: { width: 360, height: 740 }, deviceScaleFactor: 2, isMobile: true, hasTouch: true, locale: "en-US", ...more });
  context.setDefaultTimeout(10_000);
  return context;
}

/** A page whose faults are remembered. @param {BrowserContext} context @returns {Promise<Page & {faults: string[]}>} */
export async function pageOf(context) {
  const page = /** @type {any} */ (await context.newPage());
  page.faults = [];
  page.on("pageerror", (/** @type {Error} */ e) => page.faults.push(String(e)));
  page.on("console", (/** @type {any} */ m) => {
    if (m.type() === "error" && !/Failed to load resource|net::ERR/.test(m.text())) page.faults.push(m.text());
  });
  return page;
}

/** The longest that a picture may be, a screen and a half, so that all together stay small. */
const tallest = 1110;

/** Keeps a small picture of a view, and has axe look at what is in it. @param {Page} page @param {string} name @param {boolean} [whole] */
export async function shoot(page, name, whole = false) {
  const height = await page.evaluate(async (top) => { await document.fonts.ready; if (top) scrollTo(0, 0); return document.documentElement.scrollHeight; }, whole);
  const clip = whole ? { clip: { x: 0, y: 0, width: 360, height: Math.min(height, tallest) } } : {};
  const picture = await page.screenshot({ fullPage: whole, scale: "css", animations: "disabled", ...clip });
  writeFileSync(join(screens, name + ".png"), shrink(picture));
  assert.deepEqual(await violations(page), [], name);
  assert.deepEqual(await bareMillimeters(page), [], `${name}: its planter is one of inches`);
}

/** Where a page says mm outside brackets: in its text, folded or not, in its pictures, and in what its fields ask. A choice of units is none. @param {Page} page @returns {Promise<string[]>} */
export async function bareMillimeters(page) {
  return page.evaluate(() => {
    const asked = [...document.querySelectorAll("[placeholder], [aria-label], [title]")].flatMap((e) => ["placeholder", "aria-label", "title"].map((n) => e.getAttribute(n) ?? ""));
    const lines = [...document.querySelectorAll("body *")].filter((e) => !["SCRIPT", "STYLE", "OPTION", "BUTTON"].includes(e.tagName)).map((e) => [...e.childNodes].filter((n) => n.nodeType === Node.TEXT_NODE).map((n) => n.textContent).join(" "));
    return [...asked, ...lines].filter((text) => /(^|[\d\s±])mm\b/.test(text.replace(/\([^()]*\)/g, "")));
  });
}

const axe = readFileSync(join(here, "node_modules/axe-core/axe.min.js"), "utf8");

/** What axe finds, under the page's own policy: axe comes in by the debugger. @param {Page} page @returns {Promise<string[]>} */
export async function violations(page) {
  if (!(await page.evaluate(() => "axe" in window))) {
    const control = await page.context().newCDPSession(page);
    await control.send("Runtime.evaluate", { expression: axe });
    await control.detach();
  }
  return page.evaluate(async () => {
    const found = await /** @type {any} */ (window).axe.run(document, { resultTypes: ["violations"], runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] });
    return found.violations.flatMap((/** @type {any} */ v) => v.nodes.map((/** @type {any} */ n) => `${v.id}: ${n.html.slice(0, 160)} ${n.failureSummary.split("\n")[1]}`));
  });
}

/** Closes what a test left open, so that nothing hangs when it fails. @param {Browser|undefined} b */
export async function closeAll(b) {
  await Promise.all((b?.contexts() ?? []).map((c) => c.close()));
}

/** All that the page is made of on every address: what is of the field comes when it is asked for, the worker and its keeper for secure ones. */
const scripts = readdirSync(join(root, "clients/page/app"), { recursive: true, encoding: "utf8" }).filter((f) => f.endsWith(".js") && !["sw.js", "shell.js"].includes(f) && !f.startsWith("field/"));

/** Waits until the rest of the page is here, so that it works with the network gone. @param {Page} page */
export async function allHere(page) {
  await page.waitForFunction((wanted) => {
    const here = new Set(performance.getEntriesByType("resource").map((e) => /** @type {PerformanceResourceTiming} */ (e).responseEnd && new URL(e.name).pathname));
    return wanted.every((f) => here.has("/app/" + f) || f.startsWith("words/") && f !== `words/${document.documentElement.lang}.js`);
  }, scripts);
}

/**
 * A stand-in for the way to the service: answers can be lost after they were made, or the way be gone altogether.
 * @param {Service} service
 */
export async function wire(service) {
  const state = { lose: (/** @type {string} */ _path) => false };
  const server = createServer((from, to) => {
    const on = request(service.url + from.url, { method: from.method, headers: from.headers }, (answer) => {
      if (state.lose(from.url ?? "")) {
        answer.resume();
        to.destroy();
        return;
      }
      to.writeHead(answer.statusCode ?? 500, answer.headers);
      to.flushHeaders();
      answer.pipe(to);
    });
    on.on("error", () => to.destroy());
    to.on("close", () => on.destroy());
    from.pipe(on);
  });
  const up = (port = 0) => new Promise((done) => server.listen(port, "127.0.0.1", () => done(undefined)));
  await up();
  const { port } = /** @type {import("node:net").AddressInfo} */ (server.address());
  const down = () => { server.closeAllConnections(); server.close(); };
  return { url: `http://127.0.0.1:${port}`, state, down, up: () => up(port) };
}
