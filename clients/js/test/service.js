/** The built service, in a process of its own; and a planter of two rows to try it with. */
import { spawn } from "node:child_process";
import { existsSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";

const bin = process.env.ROWDATUM_BIN ?? resolve(import.meta.dirname, "../../../bin");

/** Stop and start may follow each other: its address and what it keeps stay. */
export class Service {
  dir = mkdtempSync(join(tmpdir(), "rowdatum-js-"));
  url = "http://127.0.0.1:0";
  /** @type {import("node:child_process").ChildProcess|undefined} */
  #process;

  async start() {
    const file = join(this.dir, "addresses.json");
    rmSync(file, { force: true });
    const started = this.#process = spawn(join(bin, "rowdatumd"), ["--http", this.url.slice("http://".length), "--grpc", "127.0.0.1:0", "--addr-file", file,
      "--store", join(this.dir, "rowdatum.db"), "--adjusters", join(bin, "adjusters"), "--log", "error"], { stdio: ["ignore", "inherit", "inherit"] });
    for (let i = 0; !existsSync(file) || !readFileSync(file, "utf8"); i++) {
      if (i > 300 || started.exitCode !== null) throw new Error("rowdatumd did not start");
      await wait(50);
    }
    this.url = `http://${JSON.parse(readFileSync(file, "utf8")).http}`;
    for (let i = 0; !(await this.#serves()); i++) {
      if (i > 200) throw new Error("the adjusters do not serve");
      await wait(50);
    }
    return this;
  }

  async #serves() {
    const answer = await fetch(`${this.url}/v1/styles`);
    /** @type {{styles: {state: string}[]}} */
    const { styles } = await answer.json();
    return styles.length >= 3 && styles.every((s) => s.state === "SERVING");
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
}

/** @param {number} ms */
const wait = (ms) => new Promise((done) => setTimeout(done, ms));

/** A planter of two rows. @param {string} displayName */
export const twoRows = (displayName) => ({
  displayName,
  mechanisms: [{ id: "handle", style: "threaded-handle", figures: { mmPerTurn: 6.35, smallestTurn: 0.25, totalTurns: 16 } }],
  rows: [1, 2].map((row) => ({ row, mechanism: "handle", setting: { turns: 8 } })),
});
