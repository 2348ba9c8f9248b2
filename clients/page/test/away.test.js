/** The network goes and comes, answers are lost, the service is stopped, pages are closed: nothing is lost and nothing is written twice. */
import assert from "node:assert/strict";
import { after, afterEach, before, test } from "node:test";
import { Service, allHere, browser, closeAll, pageOf, phone, plainHost, shoot, until, violations, wire } from "./house.js";
import { inches, makeSafe, openJob, readAll, readings, typeReading } from "./story.js";

/** @type {Service} */ let service;
/** @type {import("playwright-core").Browser} */ let chrome;
before(async () => { [service, chrome] = await Promise.all([new Service().start(), browser()]); });
afterEach(() => closeAll(chrome));
after(async () => { await chrome?.close(); await service?.end(); });

/** What the log holds of readings, in order. @param {any} job */
async function logged(job) {
  const { events } = await service.call("GET", `${job.name}/events?pageSize=1000`);
  return events.filter((/** @type {any} */ e) => e.reading).map((/** @type {any} */ e) => [e.reading.row, e.reading.value]);
}

/** Waits until the log holds so many readings. @param {any} job @param {number} n */
const holds = (job, n) => until(async () => (await logged(job)).length >= n, `${n} readings in the log`);

/** @param {number[]} rows */
const wanted = (rows) => rows.map((r) => [r, inches(readings[r - 1])]);

/** @param {import("playwright-core").Page} page @param {string} words */
const badge = (page, words) => page.locator(".unsent", { hasText: words }).waitFor();

/** The page keeps itself. @param {import("playwright-core").Page} page */
const shelved = (page) => page.waitForFunction(() => navigator.serviceWorker?.controller);

test("the network goes in mid-walk; reload; closed and opened; back online", async (t) => {
  const { job } = await openJob(service);
  await makeSafe(service, job);
  const way = await wire(service);
  t.after(() => way.down());
  const context = await phone(chrome);
  let page = await pageOf(context);
  await page.goto(`${way.url}/#/${job.name}/walk`);
  await shelved(page);
  for (const r of [1, 2, 3]) await typeReading(page, readings[r - 1]);
  await holds(job, 3);
  way.down();
  await context.setOffline(true);
  for (const r of [4, 5, 6]) await typeReading(page, readings[r - 1]);
  await badge(page, "3 unsent");
  await page.getByText("Kept on this phone").first().waitFor();
  await shoot(page, "20-walk-away");
  await page.locator(".pad").getByRole("button", { name: "2", exact: true }).tap(); // half typed
  await page.reload();
  await badge(page, "3 unsent");
  assert.equal(await page.getByLabel("Which row").inputValue(), "7");
  assert.equal(await page.locator(".typed").inputValue(), "2", "what was half typed is still there");
  await page.getByRole("button", { name: "Enter", exact: true }).tap();
  await badge(page, "4 unsent");
  await page.close();
  page = await pageOf(context);
  await page.goto(`${way.url}/#/settings`);
  await badge(page, "4 unsent");
  await shoot(page, "21-unsent");
  const [file] = await Promise.all([page.waitForEvent("download"), page.getByRole("button", { name: "Save them to a file" }).tap()]);
  assert.match(file.suggestedFilename(), /^rowdatum-unsent-.*\.json$/);
  assert.deepEqual(await logged(job), wanted([1, 2, 3]));
  await way.up();
  await context.setOffline(false);
  await badge(page, "All sent");
  assert.deepEqual(await logged(job), wanted([1, 2, 3, 4, 5, 6, 7]));
  assert.deepEqual(page.faults, []);
});

test("the service stops and starts again, at the same address", async () => {
  const { job } = await openJob(service);
  await makeSafe(service, job);
  const context = await phone(chrome);
  const page = await pageOf(context);
  await page.goto(`${service.url}/#/${job.name}/walk`);
  await typeReading(page, readings[0]);
  await holds(job, 1);
  await service.stop();
  for (const r of [2, 3]) await typeReading(page, readings[r - 1]);
  await badge(page, "2 unsent");
  await service.start();
  await badge(page, "All sent");
  assert.deepEqual(await logged(job), wanted([1, 2, 3]));
});

test("an answer that is lost on the way is asked for again, and written once", async (t) => {
  const { job } = await openJob(service);
  await makeSafe(service, job);
  const way = await wire(service);
  t.after(() => way.down());
  const context = await phone(chrome);
  const page = await pageOf(context);
  await page.goto(`${way.url}/#/${job.name}/walk`);
  await page.locator(".pad").waitFor();
  let lost = 0;
  way.state.lose = (path) => path.endsWith(":addReadings") && ++lost > 0;
  for (const r of [1, 2, 3]) await typeReading(page, readings[r - 1]);
  await badge(page, "3 unsent");
  await until(async () => lost >= 2, "the same again, on its own");
  assert.deepEqual(await logged(job), wanted([1]), "the first is in the log, its answer was lost, the rest waits behind it");
  way.state.lose = () => false;
  await badge(page, "All sent");
  assert.deepEqual(await logged(job), wanted([1, 2, 3]));
});

test("while the store is damaged nothing is lost: it is said, and sent once the store is well", async () => {
  const { job } = await openJob(service);
  await makeSafe(service, job);
  const page = await pageOf(await phone(chrome));
  await page.route(/:addReadings/, (r) => r.fulfill({ status: 500, json: { code: 15, message: "The store is damaged.", details: [{ reason: "STORE_DAMAGED" }] } }));
  await page.goto(`${service.url}/#/${job.name}/walk`);
  await page.locator(".pad").waitFor();
  for (const r of [1, 2]) await typeReading(page, readings[r - 1]);
  await page.locator("[role=alert]", { hasText: "The store is damaged." }).waitFor();
  await badge(page, "2 unsent");
  assert.equal(await page.locator("[role=alert] button, [role=alert] a").count(), 0, "nobody is asked about an entry that nothing is wrong with");
  await page.unroute(/:addReadings/);
  await badge(page, "All sent");
  assert.deepEqual(await logged(job), wanted([1, 2]));
});

test("where no watch comes through, the page goes on by the answers to its own writes", async (t) => {
  const { job } = await openJob(service);
  const way = await wire(service);
  t.after(() => way.down());
  way.state.lose = (path) => path.includes(":watch");
  const page = await pageOf(await phone(chrome));
  await page.goto(`${way.url}/#/${job.name}`);
  await page.getByLabel("Your name").fill("Ana Ruiz");
  for (const box of await page.locator(".cautions input[type=checkbox]").all()) await box.tap();
  await page.getByRole("button", { name: "All done, go on" }).tap();
  await page.getByRole("link", { name: "Read 16 rows" }).tap();
  await page.locator(".pad").waitFor();
  await typeReading(page, readings[0]);
  await page.locator(".result", { hasText: "The first row read" }).waitFor();
  await typeReading(page, readings[1]);
  await page.locator(".result", { hasText: "3/16 in deeper than the others so far" }).waitFor();
  assert.deepEqual(page.faults, []);
});

test("undo strikes, whether it was sent or not; a move and its reading wait in order", async () => {
  const { job } = await openJob(service);
  const read = await readAll(service, await makeSafe(service, job));
  await service.call("POST", `${job.name}:plan`, { etag: read.etag, person: "Ana Ruiz" });
  const context = await phone(chrome);
  const page = await pageOf(context);
  await page.goto(`${service.url}/#/${job.name}/moves`);
  await page.getByRole("button", { name: "Done" }).waitFor();
  await shelved(page);
  await page.goto(`${service.url}/#/${job.name}/walk`); // once, so that it is on the phone
  await page.locator(".pad").waitFor();
  await page.goto(`${service.url}/#/${job.name}/moves`);
  const row = Number((await page.locator(".bigrow").textContent())?.replace(/\D/g, ""));
  await context.setOffline(true);
  await page.getByRole("button", { name: "Done" }).tap();
  await badge(page, "1 unsent");
  await page.goto(`${service.url}/#/${job.name}/walk`);
  await page.locator(".pad").waitFor();
  await page.getByLabel("Which row").selectOption(String(row));
  await typeReading(page, "2 1/16");
  await badge(page, "2 unsent");
  await page.getByRole("button", { name: "Undo" }).tap();
  await page.getByText("Struck").first().waitFor();
  await typeReading(page, "1 15/16");
  await badge(page, "3 unsent");
  await context.setOffline(false);
  await badge(page, "All sent");
  const { events } = await service.call("GET", `${job.name}/events?pageSize=1000`);
  const move = events.find((/** @type {any} */ e) => e.move);
  const [wrong, right] = events.filter((/** @type {any} */ e) => e.reading?.row === row).slice(-2);
  assert.equal(move.move.row, row);
  assert.equal(wrong.reading.afterMove, move.revision, "the reading follows the move that was not sent yet when it was made");
  assert.equal(right.reading.afterMove, move.revision);
  assert.ok(wrong.struckBy > 0 && right.struckBy === 0, "the wrong one is struck, not erased");
  assert.deepEqual(page.faults, []);
});

test("two phones at once: each sees the other within a second; the same move twice is decided by a person", async (t) => {
  const { job } = await openJob(service);
  await makeSafe(service, job);
  const [one, two] = [await phone(chrome), await phone(chrome)];
  const [ana, ben] = [await pageOf(one), await pageOf(two)];
  for (const p of [ana, ben]) {
    await p.goto(`${service.url}/#/${job.name}/walk`);
    await p.locator(".pad").waitFor();
  }
  await ben.getByRole("button", { name: "From the right" }).tap(); // they meet in the middle
  const took = [];
  for (const [i, [from, to, row]] of /** @type {const} */ ([[ana, ben, 1], [ben, ana, 16], [ana, ben, 2]]).entries()) {
    const seen = to.getByText(`${15 - i} to read`).waitFor().then(() => Date.now());
    await typeReading(from, readings[row - 1]);
    const entered = Date.now();
    took.push((await seen) - entered);
  }
  took.sort((a, b) => a - b);
  t.diagnostic(`the other phone shows it after ${took.join(", ")} ms`);
  assert.ok(took[1] < 1000, "seen within a second");
  assert.deepEqual(await logged(job), wanted([1, 16, 2]), "each from its own end");

  const read = await readAll(service, (await service.call("GET", job.name)));
  await service.call("POST", `${job.name}:plan`, { etag: read.etag, person: "Ana Ruiz" });
  for (const p of [ana, ben]) {
    await p.goto(`${service.url}/#/${job.name}/moves`);
    await p.getByRole("button", { name: "Done" }).waitFor();
    await shelved(p);
  }
  await two.setOffline(true);
  const row = await ben.locator(".bigrow").textContent();
  await ben.getByRole("button", { name: "Done" }).tap();
  await ana.getByRole("button", { name: "Done" }).tap();
  await until(async () => (await service.call("GET", `${job.name}/events?pageSize=1000`)).events.some((/** @type {any} */ e) => e.move), "Ana's move in the log");
  await two.setOffline(false);
  await ben.getByText(`Not taken: ${row}`).waitFor();
  await ben.getByText("In the log").waitFor();
  await shoot(ben, "22-both-moved", true);
  await ben.getByRole("button", { name: /^It stands at: / }).tap();
  await badge(ben, "All sent");
  const { events } = await service.call("GET", `${job.name}/events?pageSize=1000`);
  assert.equal(events.filter((/** @type {any} */ e) => e.move).length, 1);
  assert.deepEqual([...ana.faults, ...ben.faults], []);
});

/** A phone that was paired by its door. @param {string} address @param {string} label */
async function pairedPhone(address, label) {
  const context = await phone(chrome);
  const page = await pageOf(context);
  const { code } = await service.call("POST", "pairings", { role: "TECHNICIAN", label });
  await page.goto(`${address}/pair#${code}`);
  await page.getByRole("button", { name: "Pair this phone" }).tap();
  await page.getByText("This phone is paired.").waitFor();
  return { context, page };
}

test("a phone that is handed back forgets the shop, and its key is good nowhere; the other phone stays", async (t) => {
  const { job } = await openJob(service);
  await makeSafe(service, job);
  const way = await wire(service);
  t.after(() => way.down());
  const address = way.url.replace("127.0.0.1", plainHost); // a name under which a key is needed
  const { context, page } = await pairedPhone(address, "Ana's phone");
  const other = await pairedPhone(address, "Ben's phone");
  const copied = await context.cookies();
  assert.deepEqual(copied.map((c) => c.name), ["rowdatum"]);
  /** Whether the page's browser is let in. @param {import("playwright-core").Page} p */
  const session = (p) => p.evaluate(async () => { const a = await fetch("/v1/session"); return [a.status, (await a.json()).details?.[0].reason]; });

  way.state.lose = (path) => path.endsWith(":addReadings");
  await page.goto(`${address}/#/${job.name}/walk`);
  await page.locator(".pad").waitFor();
  for (const r of [1, 2]) await typeReading(page, readings[r - 1]);
  await badge(page, "2 unsent");
  await page.goto(`${address}/#/settings`);
  await page.getByText("Ana's phone may do jobs, until ").waitFor();
  await shoot(page, "53-forget-phone", true);
  const forget = page.getByRole("button", { name: "Forget this phone" });

  /** @type {string[]} */
  const asked = [];
  page.once("dialog", (d) => { asked.push(d.message()); void d.dismiss(); });
  await forget.tap();
  await until(async () => asked.length === 1, "the question");
  assert.match(asked[0], /^2 entries on this phone were not sent and would be lost\.\n\nForget this phone\?/);
  assert.deepEqual([await session(page), await page.locator(".unsent").textContent()], [[200, undefined], "2 unsent"], "who says no stays");

  page.once("dialog", (d) => void d.accept());
  await forget.tap();
  await page.waitForURL(`${address}/pair`);
  await page.getByRole("button", { name: "Pair this phone" }).waitFor();
  assert.deepEqual([await session(page), await context.cookies()], [[401, "KEY_MISSING"], []]);
  assert.deepEqual(await page.evaluate(() => Object.keys(localStorage).filter((k) => /person|draft/.test(k))), []);
  await page.goto(address);
  await page.getByText("This phone is not paired with the shop").waitFor();
  await badge(page, "All sent");

  await context.addCookies(copied);
  assert.deepEqual(await session(page), [401, "KEY_REVOKED"], "the cookie, copied before");
  assert.deepEqual(await session(other.page), [200, undefined], "the other phone");
  assert.deepEqual([...page.faults, ...other.page.faults], []);
});

test("where the service cannot be reached, a phone forgets nothing", async (t) => {
  const way = await wire(service);
  t.after(() => way.down());
  const address = way.url.replace("127.0.0.1", plainHost);
  const { context, page } = await pairedPhone(address, "Ana's phone");
  await page.goto(`${address}/#/settings`);
  const forget = page.getByRole("button", { name: "Forget this phone" });
  await forget.waitFor();
  page.on("dialog", (d) => void d.accept());
  await context.setOffline(true);
  await forget.tap();
  await page.getByText("The service cannot be reached").waitFor();
  await context.setOffline(false);
  assert.equal((await context.cookies()).length, 1);
  await page.route("**/unpair", (r) => r.fulfill({ status: 503, json: { code: 14, message: "x", details: [{ reason: "KEY_NOT_ENDED" }] } }));
  await forget.tap();
  await page.getByText("Have it revoked at the machine that runs the service").waitFor();
  assert.deepEqual(await violations(page), []);
  assert.deepEqual(page.faults, []);
});

test("plain http on a shop's network: no service worker, the queue is there all the same", async () => {
  const { job } = await openJob(service);
  await makeSafe(service, job);
  const address = service.url.replace("127.0.0.1", plainHost);
  const context = await phone(chrome);
  const page = await pageOf(context);
  const { code } = await service.call("POST", "pairings", { role: "TECHNICIAN", label: "Ana's phone" });
  await page.goto(`${address}/pair#${code}`);
  await page.getByRole("button", { name: "Pair this phone" }).tap();
  await page.getByRole("link", { name: "Go on to rowdatum" }).tap();
  await page.getByText("On this address the page cannot open without a network").waitFor();
  assert.equal(await page.evaluate(() => isSecureContext || "serviceWorker" in navigator || "wakeLock" in navigator), false);
  await page.goto(`${address}/#/${job.name}/walk`);
  await page.locator(".pad").waitFor();
  await allHere(page);
  await context.setOffline(true);
  for (const r of [1, 2]) await typeReading(page, readings[r - 1]);
  await badge(page, "2 unsent");
  await page.goto(`${address}/#/settings`);
  await page.getByText("rowdatumd tls init").scrollIntoViewIfNeeded();
  await shoot(page, "23-plain-http");
  await page.close();
  await context.setOffline(false);
  const again = await pageOf(context);
  await again.goto(address);
  await holds(job, 2);
  await badge(again, "All sent");
  assert.deepEqual(await logged(job), wanted([1, 2]));
  assert.deepEqual([...page.faults, ...again.faults], []);
});
