/** Every view for everyone: axe, two languages, dark and sun, 200 % text, a third party's form, few taps. */
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { chmodSync, cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { after, before, test } from "node:test";
import { Service, browser, pageOf, phone, shoot } from "./house.js";
import { makeSafe, openJob, readAll, readings } from "./story.js";

const root = resolve(import.meta.dirname, "../../..");
const axe = readFileSync(join(import.meta.dirname, "node_modules/axe-core/axe.min.js"), "utf8");
const folder = mkdtempSync(join(tmpdir(), "rowdatum-adjusters-"));

/** @type {Service} */ let service;
/** @type {import("playwright-core").Browser} */ let chrome;
/** @type {any} */ let fresh;
/** @type {any} */ let planned;

before(async () => {
  const adjusters = join(folder, "adjusters");
  mkdirSync(adjusters, { mode: 0o755 });
  cpSync(join(process.env.ROWDATUM_BIN ?? join(root, "bin"), "adjusters"), adjusters, { recursive: true });
  execFileSync("go", ["build", "-o", join(adjusters, "wedgeladder"), "./clients/page/test/wedgeladder"], { cwd: root });
  chmodSync(join(adjusters, "wedgeladder"), 0o755);
  [service, chrome] = await Promise.all([new Service({ adjusters }).start(), browser()]);
  fresh = await openJob(service);
  planned = await openJob(service);
  const read = await readAll(service, await makeSafe(service, planned.job));
  await service.call("POST", `${planned.job.name}:plan`, { etag: read.etag, person: "Ana Ruiz" });
});
after(async () => { await chrome?.close(); await service?.end(); rmSync(folder, { recursive: true, force: true }); });

/** Every view, and what shows that it is there. @returns {[name: string, place: string, shown: string][]} */
const views = () => [
  ["home", "", ".cards"],
  ["planter-form", "planters/new", "form .go"],
  ["planter-edit", `${planned.planter.name}/edit`, ".rowlist"],
  ["planter", planned.planter.name, "form.panel"],
  ["fixtures", "fixtures", "form.panel"],
  ["settings", "settings", "form.panel"],
  ["cautions", fresh.job.name, ".cautions"],
  ["job", planned.job.name, ".next"],
  ["walk", `${planned.job.name}/walk`, ".pad"],
  ["plan", `${planned.job.name}/plan`, ".tradeoff"],
  ["moves", `${planned.job.name}/moves`, ".bigrow"],
  ["sign", `${planned.job.name}/sign`, "form.panel"],
  ["card", `${planned.job.name}/card`, ".card-sheet"],
  ["log", `${planned.job.name}/log`, ".log li"],
];

/** @param {import("playwright-core").Page} page @returns {Promise<string[]>} */
async function violations(page) {
  return page.evaluate(async (source) => {
    const world = /** @type {any} */ (window);
    if (!world.axe) new world.Function(source)();
    const found = await world.axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] });
    return found.violations.flatMap((/** @type {any} */ v) => v.nodes.map((/** @type {any} */ n) => `${v.id}: ${n.html.slice(0, 160)} ${n.failureSummary.split("\n")[1]}`));
  }, axe);
}

/** What is wider than the screen, and what a thumb would miss. @param {import("playwright-core").Page} page */
function misfits(page) {
  return page.evaluate(() => {
    const out = [];
    if (document.documentElement.scrollWidth > innerWidth) out.push(`the view is ${document.documentElement.scrollWidth} px wide`);
    for (const e of document.querySelectorAll("button, a, select, input:not([type=checkbox]), summary")) {
      const box = e.getBoundingClientRect();
      if (!box.width || e.closest("[hidden]") || getComputedStyle(e).visibility === "hidden") continue;
      if (box.height < 47.5 || box.width < 47.5) out.push(`${e.outerHTML.slice(0, 100)} is ${Math.round(box.width)} × ${Math.round(box.height)}`);
    }
    return out;
  });
}

for (const [look, scheme] of /** @type {const} */ ([["auto", "light"], ["auto", "dark"], ["sun", "light"]])) {
  test(`axe finds nothing on any view, and every target fits a thumb: ${look} ${scheme}`, async () => {
    const context = await phone(chrome, { colorScheme: scheme, bypassCSP: true });
    const page = await pageOf(context);
    await page.addInitScript((l) => localStorage.setItem("rowdatum.look", l), look);
    for (const [name, place, shown] of views()) {
      await page.goto("about:blank");
      await page.goto(`${service.url}/#/${place}`);
      await page.locator(shown).first().waitFor();
      for (const closed of await page.locator("main details:not([open]) > summary").all()) if (await closed.isVisible()) await closed.evaluate((s) => s.click());
      assert.deepEqual(await violations(page), [], name);
      assert.deepEqual(await misfits(page), [], name);
      assert.ok((await page.locator("h1").textContent())?.trim(), `${name} has no title`);
      if (scheme === "dark" && ["walk", "plan", "moves"].includes(name)) await shoot(page, `30-dark-${name}`);
      if (look === "sun" && name === "walk") await shoot(page, "31-sun-walk");
    }
    assert.deepEqual(page.faults, []);
    await context.close();
  });
}

test("at 200 % text on 360 px nothing is cut off", async () => {
  const context = await phone(chrome);
  const page = await pageOf(context);
  for (const [name, place, shown] of views()) {
    await page.goto("about:blank");
    await page.goto(`${service.url}/#/${place}`);
    await page.locator(shown).first().waitFor();
    await page.evaluate(() => { document.documentElement.style.fontSize = "2.125rem"; });
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    assert.ok(wide <= 0, `${name} is ${wide} px too wide`);
    if (name === "walk" || name === "plan") await shoot(page, `32-large-${name}`);
  }
  await context.close();
});

test("Spanish, every view: no English is left of ours", async () => {
  const context = await phone(chrome, { locale: "es-MX", bypassCSP: true });
  const page = await pageOf(context);
  const english = Object.values((await import("../app/words/en.js")).default);
  const spanish = new Set(Object.values((await import("../app/words/es.js")).default));
  const ours = new Set(english.filter((w) => !w.includes("{") && !spanish.has(w) && w.length > 3));
  for (const [name, place, shown] of views()) {
    await page.goto("about:blank");
    await page.goto(`${service.url}/#/${place}`);
    await page.locator(shown).first().waitFor();
    assert.equal(await page.evaluate(() => document.documentElement.lang), "es");
    const texts = await page.evaluate(() => [...document.querySelectorAll("h1, h2, button, label, a, summary, small, p, legend")].map((e) => e.textContent?.trim() ?? ""));
    assert.deepEqual(texts.filter((w) => ours.has(w)), [], name);
    assert.deepEqual(await violations(page), [], name);
    if (["home", "walk", "plan", "moves"].includes(name)) await shoot(page, `40-es-${name}`, name === "plan");
  }
  await page.goto(`${service.url}/#/settings`);
  await page.getByLabel("Idioma").selectOption("en");
  await page.getByRole("heading", { name: "This phone" }).first().waitFor();
  await context.close();
});

test("a third party's adjuster: its form needs nothing of ours", async () => {
  const context = await phone(chrome, { bypassCSP: true });
  const page = await pageOf(context);
  await page.goto(`${service.url}/#/planters/new`);
  await page.getByLabel("Name of the planter").fill("Ladder two");
  await page.getByLabel("Rows", { exact: true }).fill("2");
  await page.getByLabel("Rows", { exact: true }).blur();
  const form = page.locator("fieldset.panel").first();
  await form.getByLabel("Kind").selectOption({ label: "Wedge on a ladder" });
  await page.getByRole("button", { name: "Save" }).tap();
  await page.getByText("Thick end: is needed").waitFor();
  await form.getByRole("button", { name: "Add: step" }).tap();
  for (const [i, [name, depth]] of [["first", "40"], ["second", "1 3/4 in"], ["third", "52"]].entries()) {
    await form.getByLabel("Name", { exact: true }).nth(i).fill(name);
    await form.getByLabel("Depth (mm)").nth(i).fill(depth);
  }
  await form.getByLabel("Rise").fill("41");
  await form.getByLabel("Rise").blur();
  await page.getByRole("button", { name: "Save" }).tap();
  await form.getByText("must be at most 40").waitFor();
  await form.getByLabel("Rise").fill("12");
  await form.getByLabel("Thick end").selectOption({ label: "rear end" });
  await form.getByLabel("Fastened by").selectOption({ label: "A bolt" });
  await form.getByLabel("Made of steel").tap();
  await form.getByLabel("Step", { exact: true }).last().fill("2");
  await form.getByRole("button", { name: "Set all these rows so" }).tap();
  assert.deepEqual(await violations(page), []);
  await shoot(page, "50-third-party", true);
  await page.getByRole("button", { name: "Save" }).tap();
  await page.getByRole("heading", { name: "A new job" }).waitFor();
  const { planters } = await service.call("GET", "planters");
  const made = planters.find((/** @type {any} */ p) => p.displayName === "Ladder two");
  assert.deepEqual(made.mechanisms[0].figures, { steps: [{ name: "first", depthMm: 40 }, { name: "second", depthMm: 44.45 }, { name: "third", depthMm: 52 }], wedge: { riseMm: 12, side: "REAR_END" }, steel: false, fastened: "bolt" });
  assert.deepEqual(made.rows[1].setting, { step: 2, turned: false });
  await context.close();
});

test("a walk of 24 rows takes at most two taps and the digits per row", async () => {
  const { job } = await openJob(service, 24);
  await makeSafe(service, job);
  const context = await phone(chrome);
  const page = await pageOf(context);
  await page.goto(`${service.url}/#/${job.name}/walk`);
  await page.locator(".pad").waitFor();
  let taps = 0, digits = 0, rows = 0;
  for (; rows < 30 && !(await page.getByText("Every row is read.").isVisible()); rows++) {
    const row = Number(await page.getByLabel("Which row").inputValue());
    for (const part of ["2", ...(row % 3 ? [] : ["1/16"])]) {
      await page.locator(".pad").getByRole("button", { name: part, exact: true }).tap();
      digits++;
    }
    await page.getByRole("button", { name: "Enter", exact: true }).tap();
    taps++;
    await page.waitForFunction((was) => /** @type {any} */ (document.querySelector(".which select")).value !== String(was) || document.querySelector("rd-walk .next"), row);
  }
  assert.equal(rows, 24, "each row once, nothing else to press");
  assert.ok(taps <= 2 * 24, `${taps} taps besides ${digits} digits`);
  const { state } = await service.call("GET", job.name);
  assert.ok(state.rows.every((/** @type {any} */ r) => r.readings === 1));
  assert.ok(readings.length);
  await context.close();
});

test("pairing shows a picture to scan", async () => {
  const context = await phone(chrome);
  const page = await pageOf(context);
  await page.goto(`${service.url}/#/settings`);
  await page.getByLabel("Whose phone").fill("Ben Ode");
  await page.getByRole("button", { name: "Make a code" }).tap();
  const picture = page.getByAltText("The code as a picture to scan");
  await picture.waitFor();
  assert.ok(await picture.evaluate((i) => /** @type {HTMLImageElement} */ (i).naturalWidth > 0), "the picture is drawn under the page's own policy");
  await shoot(page, "51-pairing", true);
  assert.deepEqual(page.faults, []);
  await context.close();
});
