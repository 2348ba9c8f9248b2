import assert from "node:assert/strict";
import { createServer } from "node:http";
import { after, before, test } from "node:test";
import { Client, Refusal, Unreachable, uuid } from "../rowdatum.js";
import { Service, twoRows } from "./service.js";

/** @import {IncomingMessage, ServerResponse} from "node:http" */
/** @import {TestContext} from "node:test" */
/** @typedef {{url: string, body: string, headers: IncomingMessage["headers"]}} Asked */

const service = new Service();
before(() => service.start());
after(() => service.end());

const real = () => new Client({ base: service.url, pause: 10 });

/** A server that answers in turn, and keeps what it was asked. @param {TestContext} t @param {((r: ServerResponse, q: IncomingMessage) => void)[]} answers */
async function fake(t, ...answers) {
  /** @type {Asked[]} */
  const asked = [];
  const server = createServer(async (q, r) => {
    let body = "";
    for await (const chunk of q) body += chunk;
    asked.push({ url: q.url ?? "", body, headers: q.headers });
    (answers.shift() ?? says(200, {}))(r, q);
  });
  await new Promise((up) => server.listen(0, "127.0.0.1", () => up(undefined)));
  t.after(() => { server.closeAllConnections(); server.close(); });
  const address = /** @type {import("node:net").AddressInfo} */ (server.address());
  return { asked, client: new Client({ base: `http://127.0.0.1:${address.port}/`, pause: 1, patience: 2_000, key: "rd_1", language: "es" }) };
}

/** @param {number} status @param {unknown} value @param {Record<string, string>} [headers] @returns {(r: ServerResponse) => void} */
const says = (status, value, headers = {}) => (r) => r.writeHead(status, { "Content-Type": "application/json", ...headers }).end(JSON.stringify(value));
const hangsUp = (/** @type {ServerResponse} */ r) => { r.destroy(); };
const busy = says(503, { code: 14, message: "The adjuster is down.", details: [] });

test("a write is sent until it is answered, under one id", async (t) => {
  const { asked, client } = await fake(t, hangsUp, busy, says(429, { code: 8, message: "Wait." }), (r) => r.writeHead(502).end("<html>"), says(200, { name: "planters/a" }));
  assert.deepEqual(await client.create("planters", { displayName: "A" }, { planterId: "a" }), { name: "planters/a" });
  assert.equal(asked.length, 5);
  assert.equal(new Set(asked.map((a) => a.url + a.body)).size, 1);
  assert.match(asked[0].url, /^\/v1\/planters\?planterId=a&requestId=[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
  assert.equal(asked[0].headers.authorization, "Bearer rd_1");
  assert.equal(asked[0].headers["accept-language"], "es");
});

test("each kind of write carries its id where the contract has it", async (t) => {
  const { asked, client } = await fake(t);
  await client.act("planters/a/jobs/b", "addNotes", { notes: [{ text: "x" }] });
  await client.act("planters/a/jobs/b", "addNotes", { notes: [{ text: "x" }], requestId: "mine" });
  await client.update({ name: "planters/a", displayName: "B" });
  await client.remove("planters/a", { etag: '"2"' });
  await client.compute("plans:compute", { rows: [] });
  const bodies = asked.map((a) => a.body && JSON.parse(a.body));
  assert.equal(bodies[0].requestId.length, uuid().length);
  assert.equal(bodies[1].requestId, "mine");
  assert.match(asked[2].url, /requestId=/);
  assert.match(asked[3].url, /etag=%222%22&requestId=/);
  assert.deepEqual([asked[4].url, bodies[4]], ["/v1/plans:compute", { rows: [] }]);
});

test("what is final is told at once, whole", async (t) => {
  const violations = [{ field: "rows[3].readingsMm[0]", description: "is 900", reason: "" }];
  const { asked, client } = await fake(t, says(400, { code: 3, message: "One thing is wrong.", details: [{ reason: "INVALID_REQUEST", metadata: { style: "cam-bolt" } }, { fieldViolations: violations }] }), says(500, { code: 13, message: "A fault." }));
  const error = await client.compute("plans:compute", {}).catch((e) => e);
  assert.ok(error instanceof Refusal);
  assert.deepEqual([error.status, error.reason, error.message, error.metadata.style, error.violations], [400, "INVALID_REQUEST", "One thing is wrong.", "cam-bolt", violations]);
  await assert.rejects(client.get("styles"), Refusal);
  assert.equal(asked.length, 2);
});

test("patience ends, and a pause that the service asks for is kept", async (t) => {
  await assert.rejects(new Client({ base: "http://127.0.0.1:1", patience: 50, pause: 10 }).get("styles"), Unreachable);
  const { asked, client } = await fake(t, says(503, { code: 14, message: "Later." }, { "Retry-After": "60" }));
  await assert.rejects(client.get("styles"), (/** @type {any} */ e) => e instanceof Unreachable && e.wait === 60_000 && e.status === 503);
  assert.equal(asked.length, 1);
  const once = await fake(t, busy);
  await assert.rejects(once.client.once("POST", "planters", {}), Unreachable);
  assert.equal(once.asked.length, 1);
});

/** Messages of a watch. @param {string} stage @param {number} from @param {number} to */
const news = (stage, from, to) => `id: ${to}\ndata: ${JSON.stringify({ events: Array.from({ length: to - from + 1 }, (_, i) => ({ revision: from + i })), job: { stage, revision: to } })}\n\n`;
/** @param {...string} chunks sent apart, then the connection breaks */
const streams = (...chunks) => async (/** @type {ServerResponse} */ r) => {
  r.writeHead(200, { "Content-Type": "text/event-stream" });
  for (const chunk of chunks) {
    r.write(chunk);
    await new Promise((done) => setTimeout(done, 5));
  }
  r.destroy();
};

test("a watch goes on where it stood, whatever breaks it", async (t) => {
  const [early, late] = [news("OPEN", 4, 6).slice(0, 40), news("OPEN", 4, 6).slice(40)];
  const { asked, client } = await fake(t, busy, streams(":\n\n", early, late), hangsUp,
    streams(news("OPEN", 6, 8), 'event: error\ndata: {"code": 14, "message": "The service is stopping."}\n\n'),
    streams(news("OPEN", 9, 9), news("OPEN", 10, 12).slice(0, 30)), streams(news("SIGNED", 10, 12)));
  const got = [];
  for await (const { events } of client.watch("planters/a/jobs/b", { after: 3 })) got.push(...events.map((e) => e.revision));
  assert.deepEqual(got, [4, 5, 6, 7, 8, 9, 10, 11, 12]);
  assert.deepEqual(asked.map((a) => a.url.split("=")[1]), ["3", "3", "6", "6", "8", "9"]);
});

test("a watch ends: closed, refused, nobody there, no longer wanted", async (t) => {
  const closed = await fake(t, (r) => r.writeHead(204).end());
  for await (const _ of closed.client.watch("planters/a/jobs/b")) assert.fail("nothing is to come");
  const gone = await fake(t, says(404, { code: 5, message: "There is no such job." }));
  await assert.rejects(gone.client.watch("planters/a/jobs/b").next(), Refusal);
  await assert.rejects(new Client({ base: "http://127.0.0.1:1", patience: 30, pause: 10 }).watch("planters/a/jobs/b").next(), Unreachable);
  const open = await fake(t, (r) => { r.writeHead(200).write(news("OPEN", 1, 1)); });
  const enough = new AbortController();
  for await (const _ of open.client.watch("planters/a/jobs/b", { signal: enough.signal })) enough.abort();
  assert.equal(open.asked.length, 1);
});

test("a job from its planter to its sheet", async () => {
  const shop = real();
  const planter = await shop.create("planters", twoRows("Creek farm"), { planterId: "creek-two" });
  const job = await shop.create(`${planter.name}/jobs`, { workOrder: "W-1207" }, { jobId: "w-1207", person: "Ada Quill" });
  await shop.act(job.name, "tickCautions", { person: "Ada Quill", ticks: job.state.cautions.map((/** @type {{id: string}} */ c) => ({ caution: c.id })) });
  const { job: read } = await shop.act(job.name, "addReadings", { readings: [1, 2].map((row) => ({ row, value: 50.8, unit: "MM" })) });
  assert.equal(read.state.spreadMm, 0);
  const { job: planned } = await shop.act(job.name, "plan", { etag: read.etag });
  assert.deepEqual(planned.state.signingNeeds, []);
  const { job: signed } = await shop.act(job.name, "sign", { etag: planned.etag, person: "Ada Quill" });
  assert.equal(signed.stage, "SIGNED");
  const sheet = await shop.sheet(job.name);
  assert.equal(sheet.type, "application/pdf");
  assert.equal((await sheet.slice(0, 5).text()), "%PDF-");
  const names = [];
  for await (const style of shop.all("styles", { pageSize: 1 })) names.push(style.name);
  assert.ok(names.length >= 3 && names.includes("styles/threaded-handle"), String(names));
});

test("over a restart of the service nothing is lost and nothing comes twice", async () => {
  const shop = real();
  const planter = await shop.create("planters", twoRows("Mill farm"));
  const job = await shop.create(`${planter.name}/jobs`, {});
  const count = 20;
  const writes = (async () => {
    for (let i = 1; i <= count; i++) await shop.act(job.name, "addNotes", { notes: [{ text: `note ${i}` }] });
    await shop.act(job.name, "void", { reason: "only a trial" });
  })();
  let restarted = Promise.resolve();
  const told = [];
  for await (const { events } of shop.watch(job.name)) {
    for (const event of events) {
      told.push(event.note?.text ?? "");
      assert.equal(event.revision, told.length);
      if (told.length === count / 2) restarted = service.stop().then(() => service.start()).then(() => {});
    }
  }
  await Promise.all([writes, restarted]);
  assert.deepEqual(told, ["", ...Array.from({ length: count }, (_, i) => `note ${i + 1}`), ""]);
});
