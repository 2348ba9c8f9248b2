/** The sixteen-row mixed planter from empty to signed, by hand, on a phone; then the card and the link. */
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, afterEach, before, test } from "node:test";
import { Service, browser, closeAll, pageOf, phone, screens, shoot, until } from "./house.js";
import { inches, readings, typeReading } from "./story.js";

/** @type {Service} */ let service;
/** @type {import("playwright-core").Browser} */ let chrome;
before(async () => { [service, chrome] = await Promise.all([new Service().start(), browser()]); });
afterEach(() => closeAll(chrome));
after(async () => { await chrome?.close(); await service?.end(); });

test("from empty to signed", async () => {
  const context = await phone(chrome);
  const page = await pageOf(context);
  await page.goto(service.url);
  await page.getByText("No planter is described yet.").waitFor();
  await shoot(page, "01-empty");

  await describePlanter(page);
  assert.equal(await page.locator("h1").textContent(), "Depot sixteen");
  const { planters } = await service.call("GET", "planters");
  assert.deepEqual(planters[0].rows.map((/** @type {any} */ r) => [r.row, r.mechanism, r.setting ?? null]), Array.from({ length: 16 }, (_, i) => {
    const row = i + 1;
    if (row >= 13) return [row, "shimmed-arm", { shimsMm: row === 14 ? [1] : [2, 1] }];
    if ((row >= 7 && row <= 10) || row === 12) return [row, "notched-stop", { notch: 9 }];
    return [row, "threaded-handle", row === 11 ? null : { turns: row === 6 ? 8.5 : 8 }];
  }));
  assert.equal(planters[0].rowSpacingMm, 762);
  assert.equal(planters[0].reach.shallowerMm, 19.05);

  await page.getByText("Describe a fixture first.").waitFor();
  await page.getByRole("link", { name: "A new fixture" }).tap();
  await page.getByLabel("Its name").fill("Window box");
  await shoot(page, "02-fixtures");
  await page.getByRole("button", { name: "Save" }).tap();

  await page.getByLabel("Your name").fill("Ana Ruiz");
  await page.getByLabel("Work order").fill("WO-1174");
  await shoot(page, "05-planter", true);
  await page.getByRole("button", { name: "Start" }).tap();

  await page.getByText("Make it safe first").waitFor();
  const go = page.getByRole("button", { name: "All done, go on" });
  assert.ok(await go.isDisabled(), "no caution is ticked beforehand");
  await shoot(page, "06-cautions");
  for (const box of await page.locator(".cautions input[type=checkbox]").all()) await box.tap();
  await go.tap();
  await page.getByRole("link", { name: "Read 16 rows" }).tap();

  await walk(page);
  await page.getByText("Every row is read.").waitFor();
  await page.getByRole("link", { name: "See the plan" }).tap();

  await page.getByRole("button", { name: "Take this plan" }).waitFor();
  await shoot(page, "10-plan", true);
  const before = await page.locator(".sum").textContent();
  await page.getByRole("slider").focus();
  for (let i = 0; i < 2; i++) await page.keyboard.press("ArrowLeft");
  await page.waitForFunction((was) => document.querySelector(".sum")?.textContent !== was, before);
  await shoot(page, "11-plan-slid", true);
  for (let i = 0; i < 2; i++) await page.keyboard.press("ArrowRight");
  await page.waitForFunction((was) => document.querySelector(".sum")?.textContent === was, before);
  await page.getByRole("button", { name: "Take this plan" }).tap();
  await page.getByRole("link", { name: "Do the moves" }).tap();

  await moves(page);
  await page.getByRole("link", { name: /^Read .* again$/ }).tap();
  await readMoved(page);
  await page.getByRole("link", { name: "Sign off" }).tap();
  await sign(page);

  await page.getByText("Signed by Ana Ruiz").waitFor();
  await shoot(page, "15-signed", true);
  const { jobs } = await service.call("GET", "planters/-/jobs");
  assert.equal(jobs[0].stage, "SIGNED");
  await link(page);
  await card(page);
  await page.goto(`${service.url}/#/${jobs[0].name}/log`);
  await page.locator(".log li").first().waitFor();
  await shoot(page, "18-log");
  assert.deepEqual(page.faults, []);
});

/** @param {import("playwright-core").Page} page */
async function describePlanter(page) {
  await page.getByRole("link", { name: "Describe a planter" }).tap();
  await page.getByLabel("Name of the planter").fill("Depot sixteen");
  await page.getByLabel("Whose it is").fill("Larkfield Farms");
  await page.getByLabel("Row spacing").fill("30 in");
  await page.getByLabel("Rows", { exact: true }).fill("16");
  await page.getByLabel("Rows", { exact: true }).blur();
  const one = page.locator("fieldset.panel").nth(0);
  await one.getByLabel("Kind").selectOption({ label: "Threaded depth handle" });
  await one.getByLabel("Depth per turn").fill("1/4 in");
  await one.getByText("= 1/4 in").waitFor();
  await one.getByLabel("Whole travel").fill("16");
  await one.getByLabel("Turns from the shallow stop").fill("8");
  await one.getByRole("button", { name: "Set all these rows so" }).tap();
  await shoot(page, "03-describe", true);

  await page.getByRole("button", { name: "Another mechanism" }).tap();
  const two = page.locator("fieldset.panel").nth(1);
  await two.getByLabel("Kind").selectOption({ label: "Notched depth stop" });
  await two.getByLabel("Notches", { exact: true }).fill("20");
  await two.getByLabel("Depth per notch").fill("4 mm");
  await two.getByLabel("On which rows").fill("7-10, 12");
  await two.getByLabel("On which rows").blur();
  await two.getByLabel("Notch", { exact: true }).fill("9");
  await two.getByRole("button", { name: "Set all these rows so" }).tap();

  await page.getByRole("button", { name: "Another mechanism" }).tap();
  const three = page.locator("fieldset.panel").nth(2);
  await three.getByLabel("Kind").selectOption({ label: "Shimmed gauge-wheel arm" });
  await three.getByLabel("Lever ratio").fill("1.8");
  await three.getByLabel("Shim kit").fill("0.5 mm, 1 mm, 2 mm, 3 mm");
  await three.getByLabel("Largest stack").fill("12 mm");
  await three.getByLabel("A shim more makes the row").selectOption({ label: "shallower" });
  await three.getByLabel("On which rows").fill("13-16");
  await three.getByLabel("On which rows").blur();
  await three.getByLabel("Shims in the stack now").fill("2 mm, 1 mm");
  await three.getByRole("button", { name: "Set all these rows so" }).tap();

  await page.reload(); // nothing typed is lost
  assert.equal(await page.getByLabel("Name of the planter").inputValue(), "Depot sixteen");
  assert.equal(await page.locator("fieldset.panel").nth(2).getByLabel("Lever ratio").inputValue(), "1.8");

  await page.getByLabel("How many").selectOption("3");
  await page.getByText("Travel to keep for the season").tap();
  await page.getByLabel("Shallower", { exact: true }).fill("3/4 in");
  await page.getByLabel("Deeper", { exact: true }).fill("1 in");
  const row = (/** @type {number} */ n) => page.locator(".rowlist details").nth(n - 1);
  await row(6).locator("summary").tap();
  await row(6).getByLabel("Turns from the shallow stop").fill("8 1/2");
  await row(6).getByLabel("Turns from the shallow stop").blur();
  await row(11).locator("summary").tap();
  await row(11).getByLabel("Nobody knows where it stands").tap();
  await row(14).locator("summary").tap();
  await row(14).getByLabel("Shims in the stack now").fill("1 mm");
  await row(14).getByLabel("Shims in the stack now").blur();
  await shoot(page, "04-row-by-row");
  await page.getByRole("button", { name: "Save" }).tap();
  await page.getByRole("heading", { name: "A new job" }).waitFor();
}

/** Every row as the tape showed it; what surprises is read twice. @param {import("playwright-core").Page} page */
async function walk(page) {
  for (let turn = 0; turn < 24 && !(await page.getByText("Every row is read.").isVisible()); turn++) {
    const row = Number(await page.getByLabel("Which row").inputValue());
    await typeReading(page, readings[row - 1]);
    await settled(page, turn + 1);
    if (turn === 0) await shoot(page, "07-walk");
    if (turn === 10) await shoot(page, "08-walk-again");
  }
  await shoot(page, "09-walk-done");
  const logged = await events("reading");
  assert.deepEqual(logged.map((e) => [e.reading.row, e.reading.value]), logged.map((e) => [e.reading.row, inches(readings[e.reading.row - 1])]), "every reading is of its own row");
}

/** The job's events of one kind. @param {string} kind @returns {Promise<any[]>} */
async function events(kind) {
  const { jobs } = await service.call("GET", "planters/-/jobs");
  return (await service.call("GET", `${jobs[0].name}/events?pageSize=1000`)).events.filter((/** @type {any} */ e) => e[kind]);
}

/** Waits until so many readings are in the log, and the page has heard of it. @param {import("playwright-core").Page} page @param {number} n */
async function settled(page, n) {
  const last = await until(async () => (await events("reading"))[n - 1], `reading ${n}`);
  await page.waitForFunction((revision) => /** @type {any} */ (document.querySelector("rd-walk")).job.job.revision >= revision
    && /** @type {HTMLElement} */ (document.querySelector(".unsent")).dataset.state === "sent", last.revision);
}

/** @param {import("playwright-core").Page} page */
async function moves(page) {
  await page.getByRole("button", { name: "Done" }).waitFor();
  await shoot(page, "12-moves");
  for (let i = 0; i < 16 && !(await page.getByText("No move is left to do.").isVisible()); i++) {
    const row = await page.locator(".bigrow").textContent();
    await page.getByRole("button", { name: "Done" }).tap();
    await page.waitForFunction((was) => document.querySelector(".bigrow")?.textContent !== was, row);
  }
  await shoot(page, "13-moves-done");
}

/** The moved rows, read where the plan said that they would stand. @param {import("playwright-core").Page} page */
async function readMoved(page) {
  await page.locator(".pad").waitFor();
  const before = (await events("reading")).length;
  for (let i = 1; i < 8 && !(await page.getByText("Every row is read.").isVisible()); i++) {
    await typeReading(page, "1 15/16");
    await settled(page, before + i);
  }
}

/** @param {import("playwright-core").Page} page */
async function sign(page) {
  await page.getByRole("button", { name: "Sign", exact: true }).waitFor();
  for (const input of await page.locator("form.panel .field input").all()) {
    if (!(await input.inputValue())) await input.fill("Arm bushing loose, parts on order");
  }
  await shoot(page, "14-sign", true);
  await page.getByRole("button", { name: "Sign", exact: true }).tap();
}

/** Somebody else reads the signed job by its link, and can write nothing. @param {import("playwright-core").Page} page */
async function link(page) {
  await page.getByRole("button", { name: "Make a link to read it" }).tap();
  const address = await page.getByLabel("Address of the link").inputValue();
  assert.match(address, /\/share#rd_/);
  const other = await phone(chrome);
  const guest = await pageOf(other);
  await guest.goto(address);
  await guest.getByRole("button", { name: "Open" }).tap();
  await guest.getByText("may read").waitFor();
  await guest.getByRole("link", { name: "Go on to rowdatum" }).tap();
  await guest.getByText("Signed by Ana Ruiz").waitFor();
  assert.equal(await guest.getByRole("button").count(), 0, "there is nothing to press");
  await shoot(guest, "16-shared", true);
  assert.deepEqual(guest.faults, []);
}

/** @param {import("playwright-core").Page} page */
async function card(page) {
  const dir = mkdtempSync(join(tmpdir(), "rowdatum-card-"));
  await page.getByRole("link", { name: "Marks card" }).tap();
  for (const [paper, width, height] of /** @type {const} */ ([["a4", 595, 842], ["letter", 612, 792]])) {
    await page.getByLabel("Paper").selectOption(paper);
    const file = join(dir, paper + ".pdf");
    await page.pdf({ path: file, preferCSSPageSize: true, printBackground: true });
    const info = execFileSync("pdfinfo", [file], { encoding: "utf8" });
    const size = /Page size:\s+([\d.]+) x ([\d.]+)/.exec(info);
    assert.ok(Math.abs(Number(size?.[1]) - width) < 2 && Math.abs(Number(size?.[2]) - height) < 2, `${paper}: ${size?.[0]}`);
    assert.match(info, /Pages:\s+1\b/, "the card is one sheet");
    const words = execFileSync("pdftotext", ["-layout", file, "-"], { encoding: "utf8" });
    for (const wanted of ["Depot sixteen", "Notched depth stop", "Row 12", "Counted from row", "Signed by Ana Ruiz"]) assert.ok(words.includes(wanted), `${wanted} is not on the card:\n${words}`);
    assert.ok(!words.includes("Print"), "a button is on the card");
    execFileSync("pdftoppm", ["-png", "-r", "50", "-singlefile", file, join(screens, "17-card-" + paper)]);
    assert.ok(readFileSync(join(screens, `17-card-${paper}.png`)).length > 3000);
  }
  rmSync(dir, { recursive: true });
}
