/** The built programs, and a phone's browser in front of them. */
import { spawn } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { createServer, request } from "node:http";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { chromium } from "playwright-core";

/** @import {Browser, BrowserContext, Page} from "playwright-core" */

const root = resolve(import.meta.dirname, "../../..");
const bin = process.env.ROWDATUM_BIN ?? join(root, "bin");
/** Where the pictures of every view go. */
export const screens = join(root, "gateway/docs/screens");
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

  /** @param {string} method @param {string} path @param {unknown} [body] @returns {Promise<any>} */
  async call(method, path, body) {
    const answer = await fetch(`${this.url}/v1/${path}`, { method, headers: { "Content-Type": "application/json" }, ...(body === undefined ? {} : { body: JSON.stringify(body) }) });
    const value = await answer.json();
    if (!answer.ok) throw new Error(`${method} ${path}: ${JSON.stringify(value)}`);
    return value;
  }
}

/** @param {number} ms */
export const wait = (ms) => new Promise((done) => setTimeout(done, ms));

const flags = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"];

/** @returns {Promise<Browser>} */
export function browser() {
  const path = [process.env.CHROMIUM, "/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"].find((p) => p && existsSync(p));
  if (!path) throw new Error("no Chromium: install the package chromium, or name one in CHROMIUM");
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

/** Keeps a small picture of a view. @param {Page} page @param {string} name @param {boolean} [whole] */
export async function shoot(page, name, whole = false) {
  await page.evaluate(() => document.fonts.ready);
  await page.screenshot({ path: join(screens, name + ".png"), fullPage: whole, scale: "css", animations: "disabled" });
}

/**
 * A stand-in for the way to the service: answers can be lost after they were made, or all be held up.
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
  await new Promise((done) => server.listen(0, "127.0.0.1", () => done(undefined)));
  const { port } = /** @type {import("node:net").AddressInfo} */ (server.address());
  return { url: `http://127.0.0.1:${port}`, state, close: () => { server.closeAllConnections(); server.close(); } };
}
