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

  const apart = await service.call("POST", "planters", { displayName: "Two apart", mechanisms: planter.mechanisms, rows: [8, 3].map((turns, i) => ({ row: i + 1, mechanism: "handle", setting: { turns } })) });
  await page.goto(`${service.url}/#/${apart.name}/field`);
  await page.getByText("No job of it was signed yet.").waitFor();
  await page.getByLabel("Which way").selectOption({ label: "Shallower" });
  await page.locator(".pad .typed").fill("1 1/4");
  await page.locator(".pad").getByRole("button", { name: "Enter", exact: true }).tap();
  await page.getByText("Row 2 runs out of travel and stops short.").waitFor();
  await page.evaluate(() => { for (const d of document.querySelectorAll("details")) d.open = true; });
  assert.deepEqual(await violations(page), []);
  assert.deepEqual(page.faults, []);
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

test("a dig where there is no network: kept, sent when it is back", async () => {
  const context = await phone(chrome, { serviceWorkers: "block" });
  const page = await pageOf(context);
  await page.goto(`${service.url}/#/${planter.name}`);
  await page.getByRole("link", { name: "In the field" }).waitFor();
  await page.waitForLoadState("networkidle");
  await context.setOffline(true);
  await page.getByRole("link", { name: "In the field" }).tap();
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
  await page.getByLabel("Seeds as text").fill("1, 50, 52\n2, 49, x");
  await page.getByLabel("Lengths").selectOption("MM");
  await page.getByRole("button", { name: "Save" }).tap();
  await page.locator("[data-kind=fault]").waitFor();
  await page.getByLabel("Seeds as text").fill("1, 50, 52\n2, 49, 51");
  await page.getByRole("button", { name: "Save" }).tap();
  await page.locator("rd-dig .intervals").waitFor();
  await page.goto(`${service.url}/#/${planter.name}/digs`);
  await page.getByRole("link", { name: /Larkfield/ }).tap();
  await page.getByText("Truly unlike the others: row 3.").waitFor();
  await page.getByText(/^May be chance: rows/).waitFor();
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
  await page.getByText(`${(await points())[0].title}: 1`).waitFor();
  assert.equal(await page.locator(".cards a").count(), 4);
  await shoot(page, "63-years", true);
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
  await page.locator("details.panel summary").first().tap();
  await page.getByRole("link", { name: "Is it good enough?" }).tap();
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
  await form.locator("input").fill("0.5");
  await shoot(page, "66-inspect");
  await form.getByRole("button", { name: "Save" }).tap();
  const [kept] = await until(async () => { const { state } = await service.call("GET", open.name); return state.inspections.length && state.inspections; }, "the inspection");
  assert.deepEqual([kept.row, kept.point, kept.value, kept.worn], [2, point.id, 0.5, false]);
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
