/** The catalogues: the same keys, none unused, none missing, the same gaps to fill. */
import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { fileURLToPath } from "node:url";

const app = fileURLToPath(new URL("../app", import.meta.url));
const languages = readdirSync(join(app, "words"));
/** @type {Map<string, Record<string, string>>} */
const catalogues = new Map();
for (const file of languages) {
  const [shop, field] = await Promise.all(["words", "field/words"].map(async (dir) => (await import(join(app, dir, file))).default));
  assert.deepEqual(Object.keys(field).filter((k) => k in shop), [], `${file}: said twice`);
  catalogues.set(file, { ...shop, ...field });
}

const code = ["", "views", "field"].flatMap((dir) => readdirSync(join(app, dir)).filter((f) => f.endsWith(".js")).map((f) => readFileSync(join(app, dir, f), "utf8"))).join("\n");
const gaps = (/** @type {string} */ s) => [...s.matchAll(/\{(\w+)\}/g)].map((m) => m[1]).sort().join();
const bare = (/** @type {string} */ key) => key.replace(/\.(zero|one|two|few|many|other)$/, "");

test("every language has the same keys, with the same gaps, and says something", () => {
  const [[first, words], ...others] = [...catalogues];
  for (const [file, theirs] of others) {
    const one = new Set(Object.keys(words)), two = new Set(Object.keys(theirs));
    assert.deepEqual([...one].filter((k) => !two.has(k)), [], `in ${first}, not in ${file}`);
    assert.deepEqual([...two].filter((k) => !one.has(k)), [], `in ${file}, not in ${first}`);
    for (const key of one) assert.equal(gaps(theirs[key]), gaps(words[key]), `${file} ${key}`);
  }
  for (const [file, theirs] of catalogues) for (const [key, text] of Object.entries(theirs)) assert.ok(text.trim(), `${file} ${key}`);
});

test("no key is unused, and none that is used is missing", () => {
  const words = Object.keys(catalogues.get("en.js") ?? {});
  const literals = new Set([...code.matchAll(/"([a-z]\w*(?:\.\w+)*)"/gi)].map((m) => m[1]));
  const made = [...code.matchAll(/`([a-z]\w*\.)\$\{/gi)].map((m) => m[1]); // t(`verdict.${v}`)
  const unused = words.filter((k) => !literals.has(k) && !literals.has(bare(k)) && !made.some((p) => k.startsWith(p)));
  assert.deepEqual(unused, []);
  const known = new Set([...words, ...words.map(bare)]);
  const asked = [...code.matchAll(/\btn?\(\s*"([^"]+)"/g)].map((m) => m[1]);
  assert.ok(asked.length > 200, `only ${asked.length} uses were found: the test looks at nothing`);
  assert.deepEqual(asked.filter((k) => !known.has(k)), []);
  for (const prefix of made) assert.ok(words.some((k) => k.startsWith(prefix)), prefix);
});
