/** The field and the years: seasons by the API, then every view by hand, in both languages. */
import assert from "node:assert/strict";
import { after, afterEach, before, test } from "node:test";
import { Service, browser, closeAll, pageOf, phone, shoot, until, violations } from "./house.js";
import { makeSafe, openJob } from "./story.js";

/** @type {Service} */ let service;
/** @type {import("playwright-core").Browser} */ let chrome;
/** @type {any} */ let planter;
/** @type {any} */ let fixture;
/** The job signed last. @type {any} */ let job;

before(async () => {
  [service, chrome] = await Promise.all([new Service().start(), browser()]);
  ({ planter, fixture } = await openJob(service, 6));
  for (const [hectares, first] of [[0, 2], [400, 2.0625], [900, 2.0625], [1500, 2.125]]) job = await season(hectares, first);
  await service.call("POST", `${planter.name}/digs`, { title: "Larkfield", person: "Ana Ruiz", targetMm: 50, rows: seeds });
});
afterEach(() => closeAll(chrome));
after(async () => { await chrome?.close(); await service?.end(); });

/** Row 3 plants shallow, the others alike, mm. */
const seeds = [1, 2, 3, 4, 5, 6].map((row) => ({ row, depthsMm: [50, 52, 49, 51, 53, 48, 50, 52].map((mm) => (row === 3 ? mm - 14 : mm + (row % 2))) }));

/** One visit: read, planned and signed. @param {number} hectares @param {number} first what row 1 reads, inches */
async function season(hectares, first) {
  let made = await service.call("POST", `${planter.name}/jobs`, { fixture: fixture.name, hectares });
  made = await makeSafe(service, made);
  const readings = [1, 2, 3, 4, 5, 6].map((row) => ({ row, value: row === 1 ? first : 2, unit: "IN" }));
  for (let i = 0; i < 2; i++) made = (await service.call("POST", `${made.name}:addReadings`, { readings, person: "Ana Ruiz" })).job;
  if (hectares === 1500) made = (await service.call("POST", `${made.name}:addInspections`, { inspections: [{ row: 2, point: (await points())[0].id, value: 1 }], person: "Ana Ruiz" })).job;
  made = (await service.call("POST", `${made.name}:plan`, { etag: made.etag, person: "Ana Ruiz" })).job;
  const exceptions = made.state.rows.filter((/** @type {any} */ r) => r.verdict !== "EVEN" || r.next !== "DONE").map((/** @type {any} */ r) => ({ row: r.row, reason: "parts on order" }));
  return (await service.call("POST", `${made.name}:sign`, { etag: made.etag, person: "Ana Ruiz", exceptions })).job;
}

/** The wear points of the planter's handles. @returns {Promise<any[]>} */
async function points() {
  const { styles } = await service.call("GET", "styles");
  return styles.find((/** @type {any} */ s) => s.name === "styles/threaded-handle").inspectionPoints.filter((/** @type {any} */ p) => p.limit !== undefined);
}

/** Waits for a fault, and sees that it is on the screen as it stands. @param {import("playwright-core").Page} page @param {string|RegExp} text */
async function seen(page, text) {
  const fault = page.locator("[data-kind=fault] p", { hasText: text });
  await fault.waitFor();
  const box = await fault.boundingBox(), bar = await page.locator(".top").boundingBox();
  assert.ok(box && bar && box.y >= bar.y + bar.height - 1 && box.y + box.height <= 740, `${text} is out of sight: ${JSON.stringify(box)}`);
}

test("in the field: the card, and a move said as counts", async () => {
  const page = await pageOf(await phone(chrome));
  await page.goto(`${service.url}/#/${planter.name}`);
  await page.getByRole("link", { name: "In the field" }).tap();
  await page.getByText("Signed by Ana Ruiz").waitFor();
  for (const key of ["1/4", "Enter"]) await page.locator(".pad").getByRole("button", { name: key, exact: true }).tap();
  // 1/4 in at 1/4 in a turn
  await page.locator(".count .bigrow").getByText("1 turn deeper").waitFor();
  await shoot(page, "60-field-move");
  await page.getByLabel("Which way").selectOption({ label: "Shallower" });
  await page.locator(".pad .typed").fill("3 1/2");
  await page.locator(".pad").getByRole("button", { name: "Enter", exact: true }).tap();
  await page.getByText(/^No counts come nearer than this: 2 in .* shallower/).waitFor(); // all stand 8 turns from the shallow end

  const apart = await service.call("POST", "planters", { displayName: "Two apart", lengthUnit: "IN", mechanisms: planter.mechanisms, rows: [8, 3].map((turns, i) => ({ row: i + 1, mechanism: "handle", setting: { turns } })) });
  await page.goto(`${service.url}/#/${apart.name}/field`);
  await page.getByText("No job of it was signed yet.").waitFor();
  await page.getByLabel("Which way").selectOption({ label: "Shallower" });
  await page.locator(".pad .typed").fill("1 1/4");
  await page.locator(".pad").getByRole("button", { name: "Enter", exact: true }).tap();
  await page.getByText(/^Row 2: cannot take the whole count/).waitFor();
  await page.evaluate(() => { for (const d of document.querySelectorAll("details")) d.open = true; });
  assert.deepEqual(await violations(page), []);
  assert.deepEqual(page.faults, []);
});

test("a field move is told with its cautions in sight, and never for another question", async () => {
  const page = await pageOf(await phone(chrome));
  await page.goto(`${service.url}/#/${planter.name}/field`);
  const enter = page.locator(".pad").getByRole("button", { name: "Enter", exact: true });
  await enter.tap();
  await seen(page, "Wanted change of depth: must be a number");
  await page.locator(".pad").getByRole("button", { name: "1/2", exact: true }).tap();
  await enter.tap();
  await page.locator(".count .bigrow").getByText("2 turns deeper").waitFor();
  assert.equal(await page.locator("[data-kind=fault]").count(), 0, "what went wrong is over");
  const caution = page.getByText(/Lock out the lift before reaching under the frame/);
  assert.ok(await caution.isVisible(), "nobody has to unfold a caution");
  assert.equal(await caution.evaluate((e) => Boolean(e.closest("details"))), false);
  await page.getByLabel("Which way").selectOption({ label: "Shallower" });
  await page.locator(".count .bigrow").getByText("2 turns shallower").waitFor();
  await page.locator(".pad").getByRole("button", { name: "1", exact: true }).tap();
  assert.equal(await page.locator(".count").count(), 0, "the answer to 1/2 does not stand under 1 1/2");
  await page.getByText(planter.displayName).waitFor();
});

test("a planter of 36 rows can be read on a phone", async () => {
  const wide = await service.call("POST", "planters", { displayName: "Thirty-six", mechanisms: planter.mechanisms, rows: Array.from({ length: 36 }, (_, i) => ({ row: i + 1, mechanism: "handle", setting: { turns: 8 } })) });
  let made = await makeSafe(service, await service.call("POST", `${wide.name}/jobs`, { fixture: fixture.name }));
  made = (await service.call("POST", `${made.name}:addReadings`, { readings: wide.rows.map((/** @type {any} */ r) => ({ row: r.row, value: 2, unit: "IN" })), person: "Ana Ruiz" })).job;
  const page = await pageOf(await phone(chrome));
  await page.goto(`${service.url}/#/${made.name}`);
  await page.locator(".profile .number").first().waitFor();
  const boxes = await page.locator(".profile .number").evaluateAll((all) => all.map((e) => { const { left, right, height } = e.getBoundingClientRect(); return { left, right, height }; }));
  assert.ok(boxes.length >= 9, "rows are numbered");
  for (const [i, box] of boxes.entries()) {
    assert.ok(box.height >= 9, `a number is ${box.height} px tall`);
    assert.ok(i === 0 || box.left > boxes[i - 1].right, "two numbers touch");
  }
});

test("a dig that says too little is told so, where it is seen", async () => {
  const page = await pageOf(await phone(chrome));
  await page.goto(`${service.url}/#/${planter.name}/digs`);
  await page.getByLabel("Your name").fill("Ana Ruiz");
  const save = page.getByRole("button", { name: "Save" }), press = async (/** @type {string[]} */ ...keys) => { for (const key of keys) await page.locator(".pad").getByRole("button", { name: key, exact: true }).tap(); };
  await save.tap();
  await seen(page, "Dig in two rows at least, and more than one seed in one of them.");
  await press("2", "0", "Enter", "2", "Enter");
  await page.getByRole("button", { name: "Next row" }).tap();
  await press("2", "Enter");
  await page.getByLabel("Wanted depth").fill("two");
  await save.tap();
  await seen(page, "Wanted depth: must be a number");
  await page.getByLabel("Wanted depth").fill("");
  await save.tap();
  await seen(page, /^Row 1, 20 in: /m);
});

test("a dig: what is even is not called chance, what no digging settles is not asked to be dug", async () => {
  const page = await pageOf(await phone(chrome, { serviceWorkers: "block" })); // a worker's calls are not routed
  await page.route(/:analyze/, async (route) => {
    const answer = await route.fetch(), said = await answer.json();
    for (const r of said.rows) Object.assign(r, { 1: { verdict: "UNSURE", seedsToSettle: 0 }, 2: { verdict: "UNSURE", seedsToSettle: 4 }, 3: { verdict: "OFF" }, 4: { verdict: "EVEN", setApart: true, bounces: true } }[/** @type {number} */ (r.row)] ?? { verdict: "EVEN", setApart: false, bounces: false });
    await route.fulfill({ response: answer, json: said });
  });
  const { digs } = await service.call("GET", `${planter.name}/digs`);
  await page.goto(`${service.url}/#/${digs.find((/** @type {any} */ d) => d.title === "Larkfield").name}`);
  await page.getByText("Too near to call, even with 50 more seeds: row 1.").waitFor();
  await page.getByText("More seeds would settle it: row 2.").waitFor();
  await page.getByText(/^Seeds scatter more than the others': row 4\. Look at down force/).waitFor();
  await page.getByText("Even: rows 5, 6.").waitFor();
  const [cautions, first] = [page.getByText(/^Park level, chock the wheels/).first(), page.locator(".todo li").first()];
  assert.ok(await cautions.isVisible(), "the cautions are in sight");
  assert.ok((await cautions.boundingBox() ?? { y: Infinity }).y < (await first.boundingBox() ?? { y: 0 }).y, "and come before the work");
});

test("a dig: row by row, kept over a reload, then what it says", async () => {
  const page = await pageOf(await phone(chrome));
  await page.goto(`${service.url}/#/${planter.name}/digs`);
  await page.getByLabel("Field, and where in it").fill("North end");
  await page.getByLabel("Your name").fill("Ana Ruiz");
  await page.getByLabel("Wanted depth").fill("2");
  for (const row of [1, 2]) {
    for (const seed of ["1/4", "1/2", "3/4"]) {
      for (const key of ["2", ...(row === 2 ? [seed] : []), "Enter"]) await page.locator(".pad").getByRole("button", { name: key, exact: true }).tap();
    }
    if (row === 1) await page.getByRole("button", { name: "Next row" }).tap();
  }
  await page.reload();
  await page.getByText("3 seeds", { exact: true }).waitFor();
  assert.equal(await page.getByLabel("Field, and where in it").inputValue(), "North end");
  await shoot(page, "61-dig-new");
  await page.getByRole("button", { name: "Save" }).tap();
  await page.locator("rd-dig .intervals").waitFor();
  const { digs } = await service.call("GET", `${planter.name}/digs`);
  const made = digs.find((/** @type {any} */ d) => d.title === "North end");
  assert.deepEqual(made.rows, [{ row: 1, depthsMm: [50.8, 50.8, 50.8] }, { row: 2, depthsMm: [57.15, 63.5, 69.85] }]);
  assert.equal(made.targetMm, 50.8);
  assert.deepEqual(page.faults, []);
});

/** A phone that lost the network on the planter's page and went on to the field's. */
async function withoutNetwork() {
  const context = await phone(chrome, { serviceWorkers: "block" });
  const page = await pageOf(context);
  await page.goto(`${service.url}/#/${planter.name}`);
  await page.getByRole("link", { name: "In the field" }).waitFor();
  await page.waitForLoadState("networkidle");
  await context.setOffline(true);
  await page.getByRole("link", { name: "In the field" }).tap();
  return { context, page };
}

test("a field move where there is no network: the common ones are kept, with their cautions", async () => {
  const { page } = await withoutNetwork();
  for (const key of ["3/4", "Enter"]) await page.locator(".pad").getByRole("button", { name: key, exact: true }).tap();
  await page.locator(".count .bigrow").getByText("3 turns deeper").waitFor();
  await page.getByText("No network: this was kept on the phone.").waitFor();
  await page.getByText(/Lock out the lift before reaching under the frame/).waitFor();
  for (const key of ["5/16", "Enter"]) await page.locator(".pad").getByRole("button", { name: key, exact: true }).tap();
  await seen(page, "Kept on this phone are changes of: 1 in, 3/4 in, 1/2 in, and 1/4 in.");
  assert.equal(await page.locator(".count").count(), 0);
  assert.deepEqual(page.faults, []);
});

test("a dig where there is no network: kept, sent when it is back", async () => {
  const { context, page } = await withoutNetwork();
  await page.getByRole("link", { name: "Seeds dug" }).tap();
  await page.getByLabel("Your name").fill("Ana Ruiz");
  await page.getByLabel("Field, and where in it").fill("Far side");
  for (const key of ["2", "Enter"]) await page.locator(".pad").getByRole("button", { name: key, exact: true }).tap();
  await page.getByRole("button", { name: "Next row" }).tap();
  for (const key of ["1", "Enter", "2", "Enter"]) await page.locator(".pad").getByRole("button", { name: key, exact: true }).tap();
  await page.getByRole("button", { name: "Save" }).tap();
  await page.getByText("What you do on this phone is kept.").waitFor();
  await context.setOffline(false);
  await page.getByRole("button", { name: "Save" }).tap();
  await page.locator("rd-dig .intervals").waitFor();
  const { digs } = await service.call("GET", `${planter.name}/digs`);
  assert.equal(digs.filter((/** @type {any} */ d) => d.title === "Far side").length, 1);
  assert.deepEqual(page.faults, []);
});

test("a dig pasted, and one with a row that differs", async () => {
  const page = await pageOf(await phone(chrome));
  await page.goto(`${service.url}/#/${planter.name}/digs`);
  await page.getByLabel("Your name").fill("Ana Ruiz");
  await page.getByText("Paste them instead").tap();
  await page.getByLabel("Lengths").selectOption("MM");
  for (const [text, why] of [["1, 50, 52\n2, 49, x", /line 2: "x" is not a depth/], ["1 50,5 52,1\n2 49 51", /line 1: the comma in "50,5" .* write decimals with a point, like 50\.5/]]) {
    await page.getByLabel("Seeds as text").fill(String(text));
    await page.getByRole("button", { name: "Save" }).tap();
    await page.locator("[data-kind=fault]").filter({ hasText: why }).waitFor();
  }
  await page.getByLabel("Wanted depth").fill("1,500 mm");
  await page.getByRole("button", { name: "Save" }).tap();
  await page.locator("[data-kind=fault]").filter({ hasText: /Wanted depth: 1,500 mm has a comma/ }).waitFor();
  await page.getByLabel("Wanted depth").fill("50,5 mm");
  await page.getByLabel("Seeds as text").fill("1, 50, 52\n2, 49, 51");
  await page.getByRole("button", { name: "Save" }).tap();
  await page.locator("rd-dig .intervals").waitFor();
  await page.goto(`${service.url}/#/${planter.name}/digs`);
  await page.getByRole("link", { name: /Larkfield/ }).tap();
  await page.getByText("Truly unlike the others: row 3.").waitFor();
  await page.getByText(/^Even: rows/).waitFor();
  assert.match(await page.locator(".todo li").first().innerText(), /Row 3/);
  await page.getByLabel("Warmth of a day there").selectOption("8");
  await shoot(page, "62-dig", true);
  await page.evaluate(() => { for (const d of document.querySelectorAll("details")) d.open = true; });
  await page.getByText(/Wisconsin Crop Manager/).waitFor();
  assert.deepEqual(await violations(page), []);
  assert.deepEqual(page.faults, []);
});

test("over the years: drift, unlike rows, hectares left, parts, visits", async () => {
  const page = await pageOf(await phone(chrome));
  await page.goto(`${service.url}/#/${planter.name}`);
  await page.getByRole("link", { name: "Over the years" }).tap();
  await page.locator("rd-years .intervals").waitFor();
  const { rows } = await service.call("GET", `${planter.name}:wear`);
  assert.ok(rows[0].driftMmPerHectare > 0, "row 1 drifts");
  await page.getByText(rows[0].why).waitFor();
  await page.getByText(`${(await points())[0].title}: 0.039 in`).waitFor();
  assert.equal(await page.locator(".cards a").count(), 4);
  await shoot(page, "63-years", true);
  assert.deepEqual(page.faults, []);
});

test("over the years: figures no finer than they are known, and one word where nothing is known", async () => {
  const page = await pageOf(await phone(chrome));
  await page.goto(`${service.url}/#/${planter.name}/years`);
  await page.locator("rd-years .intervals").waitFor();
  const left = await page.locator("section", { has: page.getByRole("heading", { name: "What is left in its travel" }) }).locator("dd").allInnerTexts();
  const figures = left.flatMap((text) => text.match(/[\d,]+/g) ?? []);
  assert.ok(figures.length > 0, `no hectares are told: ${left}`);
  for (const figure of figures) assert.match(figure.replaceAll(",", ""), /^\d{1,2}0*$/, figure);
  await page.locator("p").getByText(/^Rows .* drift (deeper|shallower) than the others by \d/).first().waitFor();

  const { planter: young } = await openJob(service, 2);
  await page.goto(`${service.url}/#/${young.name}/years`);
  await page.getByText("Signed visits whose area is known: 0.").waitFor();
  assert.equal(await page.getByText("Row by row").count(), 0, "nothing is said row by row where nothing is known");
  assert.deepEqual(page.faults, []);
});

test("hectares are asked for when a job is opened", async () => {
  const page = await pageOf(await phone(chrome));
  await page.goto(`${service.url}/#/${planter.name}`);
  await page.getByLabel("Your name").fill("Ana Ruiz");
  await page.getByLabel("Hectares planted in all by now").fill("1720,5");
  await page.getByRole("button", { name: "Start" }).tap();
  await page.getByText("Make it safe first").waitFor();
  const { jobs } = await service.call("GET", `${planter.name}/jobs`);
  assert.equal((await service.call("GET", jobs[0].name)).hectares, 1720.5); // newest first; lists have less
});

test("a fixture is studied, and keeps what was found", async () => {
  const page = await pageOf(await phone(chrome));
  await page.goto(`${service.url}/#/fixtures`);
  const { fixtures } = await service.call("GET", "fixtures"); // other tests may have made more
  const own = page.locator("details.panel").nth(fixtures.findIndex((/** @type {any} */ f) => f.name === fixture.name));
  await own.locator("summary").first().tap();
  await own.getByRole("link", { name: "Is it good enough?" }).tap();
  await page.getByLabel("Who reads").fill("Ana, Ben");
  await page.getByLabel("Which rows").fill("1, 2, 3");
  await page.getByRole("button", { name: "Start" }).tap();
  const read = ["1/16", "1/2", "3/4", "1/8", "1/2", "3/4", "1/8", "9/16", "3/4", "1/16", "1/2", "13/16"];
  for (const [i, part] of read.entries()) {
    await page.getByText(`${read.length - i} readings to go`).waitFor();
    if (i === 4) await page.reload(); // nothing typed is lost
    if (i === 5) await shoot(page, "64-study-walk");
    for (const key of ["2", part, "Enter"]) await page.locator(".pad").getByRole("button", { name: key, exact: true }).tap();
  }
  await page.getByText("The smallest tolerance that it proves").waitFor();
  await shoot(page, "65-study", true);
  await page.getByRole("button", { name: "Keep this as the fixture's own" }).tap();
  await page.getByText("The fixture now has what was found.").first().waitFor();
  await until(async () => (await service.call("GET", fixture.name)).repeatabilityMm !== fixture.repeatabilityMm, "its own repeatability");
  assert.deepEqual(page.faults, []);
});

test("a study: cautions first, rows in runs, no reading thrown away by one tap", async () => {
  const other = await service.call("POST", "fixtures", { displayName: "Second box", kind: "WINDOW" });
  for (const [language, locale] of [["en", "en-US"], ["es", "es-MX"]]) { // the very words of the service's cautions
    const told = (await service.call("GET", job.name, undefined, language)).state.cautions.map((/** @type {any} */ c) => c.text);
    const page = await pageOf(await phone(chrome, { locale }));
    await page.goto(`${service.url}/#/${other.name}/study`);
    await page.locator("rd-study .warnings li").first().waitFor();
    const said = await page.locator("rd-study .warnings li").allInnerTexts();
    assert.deepEqual(said, told.slice(0, said.length));
    assert.ok(said.length >= 4);
  }
  const page = await pageOf(await phone(chrome));
  await page.goto(`${service.url}/#/${other.name}/study`);
  await page.getByLabel("Who reads").fill("Ana");
  await page.getByLabel("Which rows").fill("3");
  await page.getByRole("button", { name: "Start" }).tap();
  await seen(page, "Which rows: At least two, such as 1-3, 8");
  await page.getByLabel("Which rows").fill("1-2");
  await page.getByRole("button", { name: "Start" }).tap();
  const read = async (/** @type {string} */ part) => { for (const key of ["2", part, "Enter"]) await page.locator(".pad").getByRole("button", { name: key, exact: true }).tap(); };
  await read("1/16");
  await page.getByText("3 readings to go").waitFor();
  page.once("dialog", (d) => void d.dismiss());
  await page.getByRole("button", { name: "Begin anew" }).tap();
  await page.getByText("3 readings to go").waitFor();
  for (const part of ["1/2", "1/8", "1/2"]) await read(part);
  await page.getByText("The smallest tolerance that it proves").waitFor();
  assert.match(await page.locator(".proves td").nth(1).innerText(), /^± [\d/ ]+ in\n\(± [\d.]+ mm\)$/);
  page.once("dialog", (d) => void d.accept());
  await page.getByRole("button", { name: "Begin anew" }).tap();
  await page.getByLabel("Who reads").waitFor();
  assert.deepEqual(page.faults, []);
});

test("the sheet comes in the page's language, or in that of whoever gets it; the link can be copied", async () => {
  const context = await phone(chrome);
  await context.grantPermissions(["clipboard-read"]);
  const page = await pageOf(context);
  await page.addInitScript(() => localStorage.setItem("rowdatum.language", "es")); // on a phone in English
  await page.goto(`${service.url}/#/${job.name}`);
  for (const language of ["es", "en"]) {
    await page.getByLabel("Idioma de la hoja").selectOption(language);
    const [opened] = await Promise.all([context.waitForEvent("page"), page.getByRole("link", { name: "Para la pantalla" }).tap()]);
    await opened.waitForLoadState();
    assert.equal(await opened.evaluate(() => document.documentElement.lang), language);
    await page.bringToFront();
  }
  await page.getByRole("button", { name: "Hacer un enlace para leerlo" }).tap();
  await page.getByText(`Se abre solo donde se alcanza ${new URL(service.url).host}.`).waitFor();
  await page.getByRole("button", { name: "Copiarlo" }).tap();
  await page.getByRole("button", { name: "Copiado." }).waitFor();
  assert.equal(await page.evaluate(() => navigator.clipboard.readText()), await page.getByLabel("Dirección del enlace").inputValue());
  assert.deepEqual(await violations(page), []);
  assert.deepEqual(page.faults, []);
});

test("the sheet of a signed job, in each form", async () => {
  const page = await pageOf(await phone(chrome));
  await page.goto(`${service.url}/#/${job.name}`);
  const links = page.locator(".sheet a");
  await links.first().waitFor();
  const kinds = [];
  for (const one of await links.all()) {
    const answer = await fetch(service.url + await one.getAttribute("href"));
    assert.equal(answer.status, 200);
    kinds.push([answer.headers.get("content-type"), (await answer.arrayBuffer()).byteLength > 500]);
  }
  assert.deepEqual(kinds, [["text/html; charset=utf-8", true], ["application/pdf", true], ["application/pdf", true], ["text/csv; charset=utf-8", true]]);
  const [opened] = await Promise.all([page.context().waitForEvent("page"), links.first().tap()]);
  await opened.getByText("Ana Ruiz").first().waitFor();
});

test("a wear point is noted on its row", async () => {
  const { job: open } = await openJob(service, 2);
  const page = await pageOf(await phone(chrome));
  await page.goto(`${service.url}/#/${open.name}/log`);
  await page.getByText("Note, changed part, wear point").tap();
  await page.getByLabel("About").selectOption({ label: "Row 2" });
  await page.getByLabel("What", { exact: true }).selectOption({ label: "Wear point" });
  const [point] = await points();
  const form = page.locator("form.point", { hasText: point.title });
  await form.locator("input").fill("0.5 mm");
  await shoot(page, "66-inspect");
  await form.getByRole("button", { name: "Save" }).tap();
  const [kept] = await until(async () => { const { state } = await service.call("GET", open.name); return state.inspections.length && state.inspections; }, "the inspection");
  assert.deepEqual([kept.row, kept.point, kept.value, kept.worn], [2, point.id, 0.5, false]);

  await page.getByLabel("What", { exact: true }).selectOption({ label: "Changed part" });
  const part = page.getByLabel("Which part");
  const offered = await part.evaluate((input) => [.../** @type {HTMLInputElement} */ (input).list?.options ?? []].map((o) => o.value));
  for (const { title } of await points()) assert.ok(offered.includes(title), `${title} is not among ${offered}`);
  await part.fill(point.title);
  await page.getByRole("button", { name: "Save" }).tap();
  await until(async () => (await service.call("GET", `${open.name}/events`)).events.find((/** @type {any} */ e) => e.partChange?.row === 2 && e.partChange.part === point.title), "the changed part");
});

test("in Spanish, with figures in them", async () => {
  const page = await pageOf(await phone(chrome, { locale: "es-MX" }));
  const digs = await service.call("GET", `${planter.name}/digs`);
  const { name } = digs.digs.find((/** @type {any} */ d) => d.title === "Larkfield");
  for (const [place, shown] of [[`${planter.name}/field`, "Como quedó"], [name, "De verdad distintos de los demás: surco 3."], [`${planter.name}/years`, "Visitas"]]) {
    await page.goto(`${service.url}/#/${place}`);
    await page.getByText(shown).first().waitFor();
    const words = await page.locator("main").innerText();
    assert.doesNotMatch(words.replace("Larkfield", ""), /\b(the|and|rows?|deeper|shallower|turns?|is)\b/i, place);
    assert.deepEqual(await violations(page), [], place);
    await page.evaluate(() => { document.documentElement.style.fontSize = "2.125rem"; });
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), `${place} is too wide at 200 %`);
    await page.evaluate(() => { document.documentElement.style.fontSize = ""; });
  }
  await shoot(page, "67-es-years", true);
  assert.deepEqual(page.faults, []);
});
