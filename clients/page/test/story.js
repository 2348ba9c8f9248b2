/** The invented sixteen-row planter of these tests: handles, notched stops and shims on one frame. */

/** What the tape showed on every row, in inches. */
export const readings = ["1 13/16", "2", "2", "2", "1 15/16", "2 1/8", "2", "1 7/8", "2", "1 15/16", "1 7/16", "2", "2", "2 1/4", "2", "2"];

export const mechanisms = [
  { id: "handle", style: "threaded-handle", figures: { mmPerTurn: 6.35, smallestTurn: 0.25, totalTurns: 16 } },
  { id: "stop", style: "notched-stop", figures: { mmPerNotch: 4, notches: 20 } },
  { id: "shims", style: "shimmed-arm", figures: { leverRatio: 1.8, kitMm: [0.5, 1, 2, 3], stackMaxMm: 12, shimMakes: "SHALLOWER" } },
];

/** @param {number} row */
function fitted(row) {
  if (row >= 13) return { row, mechanism: "shims", setting: { shimsMm: [2, 1] } };
  if ((row >= 7 && row <= 10) || row === 12) return { row, mechanism: "stop", setting: { notch: 9 } };
  return { row, mechanism: "handle", ...(row === 11 ? {} : { setting: { turns: 8 } }) };
}

/** The planter, a fixture and an open job on it, made by the API. @param {import("./house.js").Service} service @param {number} [rows] */
export async function openJob(service, rows = 16) {
  const planter = await service.call("POST", "planters", {
    displayName: "Depot sixteen", owner: "Larkfield Farms", rowSpacingMm: 762, mechanisms: rows === 16 ? mechanisms : mechanisms.slice(0, 1),
    rows: Array.from({ length: rows }, (_, i) => (rows === 16 ? fitted(i + 1) : { row: i + 1, mechanism: "handle", setting: { turns: 8 } })),
    sections: rows === 16 ? [{ title: "Left wing", firstRow: 1, lastRow: 5 }, { title: "Middle", firstRow: 6, lastRow: 11 }, { title: "Right wing", firstRow: 12, lastRow: 16 }] : [],
    reach: { shallowerMm: 19, deeperMm: 25 },
  });
  const fixture = await service.call("POST", "fixtures", { displayName: "Window box", kind: "WINDOW" });
  const job = await service.call("POST", `${planter.name}/jobs`, { fixture: fixture.name, workOrder: "WO-1174" });
  return { planter, fixture, job };
}

/** Ticks every caution. @param {import("./house.js").Service} service @param {any} job */
export async function makeSafe(service, job) {
  const ticks = job.state.cautions.map((/** @type {any} */ c) => ({ caution: c.id }));
  return (await service.call("POST", `${job.name}:tickCautions`, { ticks, person: "Ana Ruiz" })).job;
}

/** Reads every row by the API. @param {import("./house.js").Service} service @param {any} job */
export async function readAll(service, job) {
  const all = readings.map((text, i) => ({ row: i + 1, value: inches(text), unit: "IN", afterMove: 0 }));
  return (await service.call("POST", `${job.name}:addReadings`, { readings: all.slice(0, job.state.rows.length), person: "Ana Ruiz" })).job;
}

/** @param {string} text */
export function inches(text) {
  return text.split(" ").reduce((sum, part) => sum + (part.includes("/") ? Number(part.split("/")[0]) / Number(part.split("/")[1]) : Number(part)), 0);
}

/**
 * Types a reading on the pad; the taps that it took besides the digits and the fraction are 1.
 * @param {import("playwright-core").Page} page @param {string} text
 */
export async function typeReading(page, text) {
  for (const part of text.split(" ")) await page.locator(".pad").getByRole("button", { name: part, exact: true }).tap();
  await page.getByRole("button", { name: /^(Enter|Anotar)$/ }).tap();
}
