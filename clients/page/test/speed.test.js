/**
 * Cold first view under 100 KB, usable within a second at 10 Mbit/s, 40 ms and a quarter of the processor; a key answers within 50 ms there.
 * A machine that is slower than that is measured in the same run, and what the page may take is a multiple of it.
 */
import assert from "node:assert/strict";
import { availableParallelism, loadavg } from "node:os";
import { after, afterEach, before, test } from "node:test";
import { Service, allHere, browser, closeAll, pageOf, phone } from "./house.js";
import { makeSafe, openJob } from "./story.js";

/** Where the machine itself is slow, a view may take as long as linesOfText such views, and a key as long as bareFrames frames. */
const most = { bytes: 100_000, usableMs: 1000, linesOfText: 4, keyMs: 50, bareFrames: 3 };

/** @type {Service} */ let service;
/** @type {import("playwright-core").Browser} */ let chrome;
before(async () => { [service, chrome] = await Promise.all([new Service().start(), browser()]); });
afterEach(() => closeAll(chrome));
after(async () => { await chrome?.close(); await service?.end(); });

/** @param {import("playwright-core").Page} page */
async function slow(page) {
  const control = await page.context().newCDPSession(page);
  await control.send("Network.enable");
  await control.send("Network.emulateNetworkConditions", { offline: false, latency: 40, downloadThroughput: 10e6 / 8, uploadThroughput: 10e6 / 8 });
  await control.send("Emulation.setCPUThrottlingRate", { rate: 4 });
  return control;
}

/** @param {number[]} list */
const middle = (list) => [...list].sort((a, b) => a - b)[Math.floor(list.length / 2)];

/**
 * Rounds of tries, judged by their middle. A machine that is busy with something else is not the page's fault: there the
 * fastest try tells what the page needs.
 */
const rounds = 3, tries = 5;
const judged = (/** @type {number[]} */ list) => (loadavg()[0] > availableParallelism() ? Math.min(...list) : middle(list));

/** How long a line of text takes there: a machine on which that alone takes most of a second is slow itself. */
async function lineOfText() {
  const times = [];
  for (let i = 0; i < tries; i++) {
    const context = await phone(chrome, { serviceWorkers: "block" });
    const page = await pageOf(context);
    await slow(page);
    await page.goto(`${service.url}/healthz`, { waitUntil: "commit" });
    await page.locator("body").waitFor();
    times.push(await page.evaluate(() => performance.now()));
    await context.close();
  }
  return middle(times);
}

test("first view", async (t) => {
  await openJob(service);
  const sizes = [];
  /** @type {number[]} */ let times = [];
  /** @type {number[]} */ const all = [];
  for (let i = 0; i < rounds * tries && !(times.length === tries && middle(times) < most.usableMs); i++) {
    if (times.length === tries) times = [];
    const context = await phone(chrome, { serviceWorkers: "block" });
    const page = await pageOf(context);
    const control = await slow(page);
    let bytes = 0;
    control.on("Network.loadingFinished", (/** @type {any} */ e) => { bytes += e.encodedDataLength; });
    await page.goto(service.url, { waitUntil: "commit" });
    await page.locator(".cards a").first().waitFor();
    const took = await page.evaluate(() => performance.now());
    times.push(took);
    all.push(took);
    sizes.push(bytes);
    if (i === 0) { // the rest of the page comes by itself
      await allHere(page);
      t.diagnostic(`${sizes[0]} bytes until usable, ${bytes} with everything`);
      assert.ok(bytes < most.bytes, `${bytes} bytes in all`);
    }
    await context.close();
    if (times.length === tries) t.diagnostic(`usable after ${times.map(Math.round).join(", ")} ms`);
  }
  if (middle(times) < most.usableMs || judged(all) < most.usableMs) return;
  const bare = await lineOfText();
  t.diagnostic(`a line of text after ${Math.round(bare)} ms`);
  assert.ok(judged(all) < Math.max(most.usableMs, most.linesOfText * bare), `usable after ${Math.round(judged(all))} ms`);
});

test("a reading answers at once", async (t) => {
  const { job } = await openJob(service, 24);
  await makeSafe(service, job);
  const page = await pageOf(await phone(chrome));
  await page.goto(`${service.url}/#/${job.name}/walk`);
  await page.locator(".pad").waitFor();
  await allHere(page);
  await slow(page);
  const took = await page.evaluate(async () => {
    const painted = () => new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
    const press = (/** @type {string} */ name) => [...document.querySelectorAll(".pad button")].find((b) => (b.getAttribute("aria-label") ?? b.textContent) === name)?.dispatchEvent(new MouseEvent("click", { bubbles: true }));
    const row = () => /** @type {HTMLSelectElement} */ (document.querySelector(".which select")).value;
    const keys = [], enters = [], frames = [];
    for (let i = 0; i < 11; i++) {
      const bare = performance.now();
      await painted();
      frames.push(performance.now() - bare);
      for (const key of ["2", "1/16"]) {
        const start = performance.now();
        press(key);
        await painted();
        keys.push(performance.now() - start);
      }
      const was = row(), typed = () => /** @type {HTMLInputElement} */ (document.querySelector(".typed")).value;
      if (typed() !== "2 1/16") throw new Error(`the pad shows ${typed()}`);
      const start = performance.now();
      press("Enter");
      await painted();
      enters.push(performance.now() - start);
      if (typed() !== "") throw new Error("the pad is not ready for the next row");
      while (row() === was) await painted();
    }
    return { keys, enters, frames };
  });
  t.diagnostic(`a frame ${middle(took.frames).toFixed(1)} ms, a key ${middle(took.keys).toFixed(1)} ms, Enter ${middle(took.enters).toFixed(1)} ms (medians), at most ${Math.max(...took.keys, ...took.enters).toFixed(1)} ms`);
  const longest = Math.max(most.keyMs, most.bareFrames * middle(took.frames));
  assert.ok(judged(took.keys) < longest && judged(took.enters) < longest, `longer than ${longest.toFixed(1)} ms`);
});
