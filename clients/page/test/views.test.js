/** Every view for everyone: axe, two languages, dark and sun, 200 % text, a third party's form, few taps. */
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { chmodSync, cpSync, mkdirSync, mkdtempSync, readdirSync, renameSync, rmSync, statSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, afterEach, before, test } from "node:test";
import { Service, browser, closeAll, pageOf, phone, root, screens, shoot, until, violations } from "./house.js";
import { makeSafe, openJob, readAll, typeReading } from "./story.js";

const folder = mkdtempSync(join(tmpdir(), "rowdatum-adjusters-"));

/** @type {Service} */ let service;
/** @type {import("playwright-core").Browser} */ let chrome;
/** @type {any} */ let fresh;
/** @type {any} */ let planned;
/** @type {any} */ let planeado;

before(async () => {
  const adjusters = join(folder, "adjusters");
  mkdirSync(adjusters, { mode: 0o755 });
  cpSync(join(process.env.ROWDATUM_BIN ?? join(root, "bin"), "adjusters"), adjusters, { recursive: true });
  execFileSync("go", ["build", "-o", join(adjusters, "wedgeladder"), "./clients/page/test/wedgeladder"], { cwd: root });
  chmodSync(join(adjusters, "wedgeladder"), 0o755);
  [service, chrome] = await Promise.all([new Service({ adjusters }).start(), browser()]);
  fresh = await openJob(service);
  [planned, planeado] = [await plannedIn("en"), await plannedIn("es")];
});

/** A job with all rows read and a plan. @param {string} language whose words its log keeps */
async function plannedIn(language) {
  const made = await openJob(service);
  const read = await readAll(service, await makeSafe(service, made.job));
  await service.call("POST", `${made.job.name}:plan`, { etag: read.etag, person: "Ana Ruiz" }, language);
  return made;
}

afterEach(() => closeAll(chrome));
after(async () => { await chrome?.close(); await service?.end(); rmSync(folder, { recursive: true, force: true }); });

/** Every view: its address, its element, and what in it shows that it is there. @param {any} planned @returns {[name: string, place: string, shown: string][]} */
const views = (planned) => [
  ["home", "", "rd-home .cards"],
  ["planter-form", "planters/new", "rd-planter-form .go"],
  ["planter-edit", `${planned.planter.name}/edit`, "rd-planter-form .rowlist"],
  ["planter", planned.planter.name, "rd-planter form.panel"],
  ["fixtures", "fixtures", "rd-fixtures form.panel"],
  ["settings", "settings", "rd-settings form.panel"],
  ["cautions", fresh.job.name, "rd-job .cautions"],
  ["job", planned.job.name, "rd-job .next"],
  ["walk", `${planned.job.name}/walk`, "rd-walk .pad"],
  ["plan", `${planned.job.name}/plan`, "rd-plan .tradeoff"],
  ["moves", `${planned.job.name}/moves`, "rd-moves .bigrow"],
  ["sign", `${planned.job.name}/sign`, "rd-sign form.panel"],
  ["card", `${planned.job.name}/card`, "rd-card .card-sheet"],
  ["log", `${planned.job.name}/log`, "rd-log .log li"],
  ["field", `${planned.planter.name}/field`, "rd-field .onward"],
  ["digs", `${planned.planter.name}/digs`, "rd-digs .pad"],
  ["years", `${planned.planter.name}/years`, "rd-years .warnings"],
  ["study", `${planned.fixture.name}/study`, "rd-study form"],
];

/** Goes through every view with everything in it opened. @param {import("playwright-core").Page} page @param {any} job @param {(name: string) => Promise<void>} look */
async function eachView(page, job, look) {
  for (const [name, place, shown] of views(job)) {
    await page.goto(`${service.url}/#/${place}`);
    await page.locator(shown).first().waitFor();
    await page.evaluate(() => { for (const closed of document.querySelectorAll("main details:not([open])")) closed.setAttribute("open", ""); });
    await look(name);
  }
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
    const context = await phone(chrome, { colorScheme: scheme });
    const page = await pageOf(context);
    await page.addInitScript((l) => localStorage.setItem("rowdatum.look", l), look);
    await eachView(page, planned, async (name) => {
      assert.deepEqual(await violations(page), [], name);
      assert.deepEqual(await misfits(page), [], name);
      assert.ok((await page.locator("h1").textContent())?.trim(), `${name} has no title`);
      if (scheme === "dark" && ["walk", "plan", "moves"].includes(name)) await shoot(page, `30-dark-${name}`);
      if (look === "sun" && name === "walk") await shoot(page, "31-sun-walk");
    });
    assert.deepEqual(page.faults, []);
    });
}

test("at 200 % text on 360 px nothing is cut off", async () => {
  const context = await phone(chrome);
  const page = await pageOf(context);
  await page.goto(service.url);
  await page.evaluate(() => { document.documentElement.style.fontSize = "2.125rem"; });
  await eachView(page, planned, async (name) => {
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    assert.ok(wide <= 0, `${name} is ${wide} px too wide`);
    if (name === "walk" || name === "plan") await shoot(page, `32-large-${name}`);
  });
});

/** Words that no Spanish sentence has; names that people gave are taken out first. */
const englishWords = /\b(the|and|of|is|are|was|be|been|to|from|with|at|on|it|its|this|that|not|nobody|has|have|row|rows|turn|turns|reads?|reading|deeper|shallower|depth|handle|shims?|stop|notch|notches|moved?|keep|hands|each|every|only|all|kind|figures?)\b/i;
const given = /Depot sixteen|Larkfield Farms|Window box|Left wing|Right wing|Middle|Wedge on a ladder|WO-1174|rowdatumd? ?(tls init)?/g;

/** What of all that can be read or heard on the page is English. @param {import("playwright-core").Page} page */
async function english(page) {
  const lines = await page.evaluate(() => [document.title, ...document.body.innerText.split("\n"), ...[...document.querySelectorAll("option")].map((o) => o.text),
    ...["aria-label", "placeholder", "alt", "title", "aria-valuetext"].flatMap((a) => [...document.querySelectorAll(`[${a}]`)].map((e) => e.getAttribute(a) ?? ""))]);
  return lines.filter((l) => englishWords.test(l.replace(given, "")) && l !== "English");
}

test("Spanish, every view, the service's and the styles' words too: no English is left", async () => {
  const context = await phone(chrome, { locale: "es-MX" });
  const page = await pageOf(context);
  /** @type {Set<string>} */ const asked = new Set(); // "es GET watch": what each call says of the language
  page.on("request", (r) => {
    const path = new URL(r.url()).pathname;
    if (path.startsWith("/v1/")) asked.add(`${r.headers()["accept-language"]} ${path.endsWith(":watch") ? "watch" : "call"}`);
  });
  const words = Object.values((await import("../app/words/en.js")).default);
  const spanish = new Set(Object.values((await import("../app/words/es.js")).default));
  const ours = new Set(words.filter((w) => !w.includes("{") && !spanish.has(w) && w.length > 3));
  await eachView(page, planeado, async (name) => {
    assert.equal(await page.evaluate(() => document.documentElement.lang), "es");
    const texts = await page.evaluate(() => [...document.querySelectorAll("h1, h2, button, label, a, summary, small, p, legend")].map((e) => e.textContent?.trim() ?? ""));
    assert.deepEqual(texts.filter((w) => ours.has(w)), [], name);
    assert.deepEqual(texts.filter((w) => /\d,\d/.test(w)), [], `${name}: numbers are written as in the service's sentences`);
    assert.deepEqual(await english(page), [], name);
    assert.deepEqual(await violations(page), [], name);
    if (["home", "walk", "plan", "moves"].includes(name)) await shoot(page, `40-es-${name}`, name === "plan");
  });
  assert.deepEqual([...asked].sort(), ["es call", "es watch"]);
  await page.goto(`${service.url}/#/settings`);
  await page.getByLabel("Idioma").selectOption("en");
  await page.getByRole("heading", { name: "This phone" }).first().waitFor();
  asked.clear(); // the settings themselves ask in the language before
  await page.goto(`${service.url}/#/${planned.job.name}/moves`);
  await page.getByText("Keep hands clear").first().waitFor(); // the language chosen here, not the browser's
  await until(async () => asked.size === 2, "a watch in English");
  assert.deepEqual([...asked].sort(), ["en call", "en watch"]);
});

for (const locale of ["en-US", "es-MX"]) {
  test(`the doors that a phone is let in by: ${locale}`, async () => {
    const page = await pageOf(await phone(chrome, { locale }));
    for (const door of ["pair", "share"]) {
      await page.goto("about:blank");
      await page.goto(`${service.url}/${door}#ABCD-EFGH`);
      assert.deepEqual(await violations(page), [], door);
      assert.deepEqual(await misfits(page), [], door);
      if (locale === "es-MX") assert.deepEqual(await english(page), [], door);
    }
    await page.goto("about:blank");
    await page.goto(`${service.url}/pair#${(await service.call("POST", "pairings", { role: "TECHNICIAN", label: "Ben Ode" })).code}`);
    await shoot(page, `52-door-${locale.slice(0, 2)}`);
    await page.getByRole("button").tap();
    await page.getByText(locale === "es-MX" ? "puede hacer trabajos" : "may do jobs").waitFor();
    await page.goto(`${service.url}/#/settings`); // where it is seen whose the phone is now
    await page.getByRole("button", { name: locale === "es-MX" ? "Olvidar este teléfono" : "Forget this phone" }).waitFor();
    assert.deepEqual(await misfits(page), []);
    if (locale === "es-MX") assert.deepEqual(await english(page), []);
    assert.deepEqual(page.faults, []);
  });
}

test("a third party's adjuster: its form needs nothing of ours", async () => {
  const context = await phone(chrome);
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
  for (const [i, [name, depth]] of [["first", "40 mm"], ["second", "1 3/4"], ["third", "52 mm"]].entries()) {
    await form.getByLabel("Name", { exact: true }).nth(i).fill(name);
    await form.getByLabel("Depth (in)").nth(i).fill(depth);
  }
  await form.getByLabel("Rise").fill("41 mm");
  await form.getByLabel("Rise").blur();
  await page.getByRole("button", { name: "Save" }).tap();
  await form.getByText("must be at most 1.575 in").waitFor();
  await form.getByLabel("Rise").fill("12 mm");
  await form.getByLabel("Thick end").selectOption({ label: "rear end" });
  await form.getByLabel("Fastened by").selectOption({ label: "A bolt" });
  await form.getByLabel("Made of steel").tap();
  await form.getByLabel("Step", { exact: true }).last().fill("2");
  await form.getByRole("button", { name: "Set all these rows so" }).tap();
  assert.deepEqual(await violations(page), []);
  await form.getByLabel("Rise").scrollIntoViewIfNeeded();
  await shoot(page, "50-third-party");
  await page.getByRole("button", { name: "Save" }).tap();
  await page.getByRole("heading", { name: "A new job" }).waitFor();
  const { planters } = await service.call("GET", "planters");
  const made = planters.find((/** @type {any} */ p) => p.displayName === "Ladder two");
  assert.deepEqual(made.mechanisms[0].figures, { steps: [{ name: "first", depthMm: 40 }, { name: "second", depthMm: 44.45 }, { name: "third", depthMm: 52 }], wedge: { riseMm: 12, side: "REAR_END" }, steel: false, fastened: "bolt" });
  assert.deepEqual(made.rows[1].setting, { step: 2, turned: false });
});

test("an adjuster made elsewhere, dropped into the running service: its form is there", async () => {
  const bin = process.env.ROWDATUM_BIN ?? join(root, "bin");
  execFileSync(join(bin, "rowdatum"), ["adjuster", "new", "slide-latch", "--sdk", root, "--into", join(folder, "slide-latch")], { cwd: folder });
  const program = join(folder, "adjusters", "slide-latch");
  execFileSync("go", ["build", "-o", program + ".part", "."], { cwd: join(folder, "slide-latch") });
  chmodSync(program + ".part", 0o755);
  renameSync(program + ".part", program);
  await until(async () => (await service.call("GET", "styles")).styles.some((/** @type {any} */ s) => s.name === "styles/slide-latch" && s.state === "SERVING"), "the new style");

  const page = await pageOf(await phone(chrome));
  await page.goto(`${service.url}/#/planters/new`);
  await page.getByLabel("Name of the planter").fill("Latch two");
  await page.getByLabel("Rows", { exact: true }).fill("2");
  await page.getByLabel("Rows", { exact: true }).blur();
  const form = page.locator("fieldset.panel").first();
  await form.getByLabel("Kind").selectOption("slide-latch");
  await form.getByLabel("Depth per step").fill("5 mm");
  await form.getByLabel("Steps", { exact: true }).fill("12");
  await page.getByRole("button", { name: "Save" }).tap();
  await page.getByRole("heading", { name: "A new job" }).waitFor();
  const { planters } = await service.call("GET", "planters");
  const made = planters.find((/** @type {any} */ p) => p.displayName === "Latch two");
  assert.deepEqual(made.mechanisms[0].figures, { mmPerStep: 5, steps: 12 });
});

test("a plan for the confidence of all rows together: asked for, said, taken", async () => {
  const page = await pageOf(await phone(chrome));
  const { job } = await plannedIn("en");
  await page.goto(`${service.url}/#/${job.name}/plan`);
  await page.getByText("Other ways").tap();
  const of = page.getByLabel("How sure to be, of what");
  assert.equal(await of.inputValue(), "ROW");
  assert.equal(await page.getByText(/rows together are to be within/).count(), 0);
  await of.selectOption({ label: "All rows together" });
  const together = page.getByText(/^All \d+ rows together are to be within ± 1\/8 in with 90/);
  await together.waitFor({ state: "attached" });
  await page.getByText("Mind", { exact: true }).tap();
  assert.match(String(await together.textContent()), /each row is asked for 99\.\d/);
  await page.locator(".sum").filter({ hasText: "rows within ± 1/8 in" }).waitFor();
  assert.deepEqual(await violations(page), []);
  const answered = page.waitForResponse((r) => r.url().endsWith(":plan") && !r.request().postDataJSON().validateOnly);
  await page.getByRole("button", { name: "Take this plan" }).tap();
  const answer = await answered;
  assert.equal(answer.request().postDataJSON().aim.confidenceOf, "PLANTER");
  assert.match((await answer.json()).job.state.plan.cautions.join(" "), /rows together are to be within/);
  assert.deepEqual(page.faults, []);
});

test("moves and what readings mean are said aloud, when that is wanted", async () => {
  const page = await pageOf(await phone(chrome));
  await page.addInitScript(() => {
    const said = /** @type {any} */ (window).said = /** @type {string[]} */ ([]);
    speechSynthesis.speak = (words) => { said.push(`${words.lang}: ${words.text}`); };
  });
  const said = () => page.evaluate(() => /** @type {any} */ (window).said);
  const { job } = await plannedIn("en");
  await page.goto(`${service.url}/#/${job.name}/moves`);
  await page.getByRole("button", { name: "Say it" }).tap();
  const say = await page.locator(".say").textContent();
  const row = await page.locator(".bigrow").textContent();
  assert.deepEqual(await said(), [`en: ${row}. ${say}`]);
  await page.getByRole("button", { name: "Say moves and readings aloud" }).tap();
  await page.getByRole("button", { name: "Done" }).tap();
  await until(async () => (await said()).length === 3, "what comes after the move, by itself");
  await page.goto(`${service.url}/#/${job.name}/walk`);
  await page.locator(".pad").waitFor();
  await page.getByLabel("Which row").selectOption("2");
  await typeReading(page, "2");
  await until(async () => (await said()).at(-1).startsWith("en: Row 2: Even."), "what the reading means");
});

test("a walk of 24 rows takes at most two taps and the digits per row", async (t) => {
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
  t.diagnostic(`${rows} rows: ${taps} taps besides ${digits} digits and fractions`);
  assert.ok(taps <= 2 * 24, `${taps} taps besides ${digits} digits`);
  await until(async () => (await service.call("GET", job.name)).state.rows.every((/** @type {any} */ r) => r.readings === 1), "one reading of every row in the log");
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
  await page.waitForFunction(() => scrollY > 0); // it is brought into view
  await shoot(page, "51-pairing");
  assert.deepEqual(page.faults, []);
});

test("the pictures of the views are there, and small", () => {
  const sizes = readdirSync(screens).map((f) => statSync(join(screens, f)).size);
  assert.ok(sizes.length >= 30, `${sizes.length} pictures`);
  assert.ok(sizes.reduce((a, b) => a + b) < 2_000_000, "all of them under 2 MB");
});
