/** What is typed and what is shown. */
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { cutLine, readLength, readNumber } from "../app/lengths.js";
import { areaOf, areaSymbol, filledIn, filledWithUnit, fraction, inchRuling, length, rowNumbers, typed } from "../app/units.js";

/** What is read, or why it is not: the table that the package proto/length is tested with. */
const table = JSON.parse(readFileSync(new URL("../../../testdata/lengths.json", import.meta.url), "utf8"));

test("lengths, numbers and lines are read as the table says", () => {
  assert.ok(table.lengths.length >= 100 && table.numbers.length >= 10 && table.lines.length >= 30, "the test looks at little");
  for (const { text, bare, comma, mm, refused } of table.lengths) {
    const read = readLength(text, { bare, comma });
    assert.deepEqual([read.mm, read.refused], [mm ?? NaN, refused], text);
  }
  for (const { text, value, refused } of table.numbers) {
    const read = readNumber(text);
    assert.deepEqual([read.value, read.refused], [value ?? NaN, refused], text);
  }
  for (const { text, row, plus, columns, cells, comma, refused } of table.lines) {
    const line = cutLine(text, { row, plus, columns });
    assert.deepEqual([line.refused, line.refused ? undefined : line.cells, line.refused ? undefined : line.comma], [refused, cells, comma], text);
  }
});

test("why a text is not read is said in every language, with how to write it", async () => {
  const refusals = new Set([...table.lengths, ...table.numbers].map((c) => c.refused).filter((r) => r && r !== "NO_UNIT"));
  assert.ok(refusals.size >= 5);
  for (const language of ["en", "es"]) {
    const { default: words } = await import(`../app/words/${language}.js`);
    for (const reason of refusals) assert.ok(words[`typed.${reason}`], `${language}: ${reason}`);
    assert.match(words["typed.UNCLEAR_COMMA"], /50\.5/);
  }
});

test("rows and hectares as people write them", () => {
  assert.deepEqual([...rowNumbers("1-3, 8; 40", 24)], [1, 2, 3, 8]);
  assert.equal(rowNumbers("all", 24).size, 0);
  // 1 acre is 43,560 square feet of exactly 0.3048 m: 0.40468564224 ha.
  /** @type {[string, string][]} */
  const cases = [["1720", "1720 ha"], ["1720,5", "1720.5 ha"], ["1,720", "1720 ha"], ["1.720 ha", "1720 ha"], ["12 400", "12400 ha"], ["12.5", "12.5 ha"], ["4,250 ac", "4250 ac"], ["100 acres", "100 ac"]];
  for (const [text, want] of cases) assert.equal(said(areaOf(text)), want, text);
  assert.equal(said(areaOf("400", "ACRE")), "400 ac");
  for (const text of ["ha", "much", "1,72,0"]) assert.ok(Number.isNaN(areaOf(text).area), text);
});

/** @param {{area: number, unit: string}} typed */
const said = ({ area, unit }) => `${area} ${areaSymbol(unit)}`;

test("what a field is filled in with reads back as the same length", () => {
  assert.deepEqual([filledIn(6.35, true), filledIn(40, true), filledIn(0.5, false), filledWithUnit(762, true), filledWithUnit(4, true)], ["1/4", "40 mm", "0.5", "30 in", "4 mm"]);
  for (let n = -20_000; n < 300_000; n += 13) {
    const mm = n / 1000;
    for (const inches of [true, false]) {
      const read = readLength(filledIn(mm, inches), { bare: inches ? "in" : "mm" });
      assert.ok(Math.abs(read.mm - mm) < 2e-4, `${mm} mm, in inches ${inches}: ${filledIn(mm, inches)}`);
    }
  }
});

test("fractions in lowest terms, at the ruling", () => {
  assert.equal(fraction(29, 16), "1 13/16");
  assert.equal(fraction(-8, 16), "−1/2");
  assert.equal(fraction(32, 16), "2");
  assert.equal(inchRuling(25.4 / 16), 16);
  assert.equal(inchRuling(1), 0);
  assert.equal(length(46.0375, { inches: true, ruling: 16 }), "1 13/16 in");
  assert.equal(length(46.0375, { inches: false, ruling: 16 }), "46 mm");
  assert.equal(typed(1.8125, "IN", 16), "1 13/16 in");
  assert.equal(typed(46.5, "MM", 16), "46.5 mm");
});

test("what is typed on the pad and shown again is the same number", () => {
  for (const n of [2, 4, 8, 16, 32, 64]) for (let c = -3 * n; c <= 5 * n; c++) assert.equal(readNumber(fraction(c, n)).value * n, c || 0, `${c}/${n}`);
});
