/** A client that a public generator makes from the description of the API: it type-checks, and what it is told is so. */
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import createClient from "openapi-fetch";
import { Service, twoRows } from "./service.js";

/** @import {Client} from "openapi-fetch" */
/** @import {components, paths} from "./generated.js" */

const service = new Service();
/** @type {Client<paths>} */
let shop;
before(async () => { shop = createClient({ baseUrl: (await service.start()).url }); });
after(() => service.end());

/** @typedef {components["schemas"]["rowdatum.v1.Planter"]} Planter */

test("a planter and its job, there and back", async () => {
  /** @type {Planter} */
  const described = { ...twoRows("Creek farm"), externalIds: { erp: "4711" } };
  const made = await shop.POST("/v1/planters", { params: { query: { planterId: "creek-two" } }, body: described });
  assert.equal(made.response.status, 200);
  const read = await shop.GET("/v1/planters/{planter}", { params: { path: { planter: "creek-two" } } });
  assert.deepEqual(read.data, made.data);
  assert.equal(read.data?.externalIds?.erp, "4711");
  assert.equal(read.data?.rows?.[1].setting?.turns, 8);

  const path = { planter: "creek-two", job: "w-1207" };
  const opened = await shop.POST("/v1/planters/{planter}/jobs", { params: { path, query: { jobId: path.job } }, body: { workOrder: "W-1207" } });
  assert.equal(opened.data?.stage, "OPEN");
  const appended = await shop.POST("/v1/planters/{planter}/jobs/{job}:addReadings", { params: { path }, body: { readings: [{ row: 1, value: 50.8, unit: "MM" }, { row: 2, value: 44.5, unit: "MM" }] } });
  assert.deepEqual(appended.data?.events?.map((e) => e.reading?.depthMm), [50.8, 44.5]);
  const sheet = await shop.GET("/v1/planters/{planter}/jobs/{job}:sheet", { params: { path, query: { format: "CSV" } }, parseAs: "text" });
  assert.match(String(sheet.data), /row/i);
});

test("a refusal has the shape that is described", async () => {
  const { error, response } = await shop.POST("/v1/plans:compute", { body: { mechanisms: [], rows: [] } });
  assert.equal(response.status, 400);
  assert.equal(error?.code, 3);
  assert.ok(error?.details?.some((d) => Array.isArray(d.fieldViolations)));
});
