/** What is typed and what is shown. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { fraction, hectaresOf, inchRuling, length, mmOf, number, rowNumbers, typed } from "../app/units.js";

test("numbers as people write them", () => {
  /** @type {[string, number][]} */
  const cases = [["2", 2], ["1 13/16", 1.8125], ["13/16", 0.8125], ["-1/2", -0.5], ["0,5", 0.5], [".25", 0.25], ["2.", 2], ["−3", -3], [" 7 3/4 ", 7.75]];
  for (const [text, want] of cases) assert.equal(number(text), want, text);
  for (const text of ["", "a", "1/0", "1//2", "1 2", "1e3", "1/2/3", "17/8", "21/4", "--1", "NaN", "Infinity"]) assert.ok(Number.isNaN(number(text)), text);
});

test("lengths with and without a unit", () => {
  // 1 in is 25.4 mm (NIST SP 811).
  /** @type {[string, boolean, number][]} */
  const cases = [["6.35", false, 6.35], ["1/4 in", false, 6.35], ['1/4"', false, 6.35], ["30", true, 762], ["76,2 cm", true, 762], ["20 mm", true, 20]];
  for (const [text, inches, want] of cases) assert.ok(Math.abs(mmOf(text, inches) - want) < 1e-9, text);
  for (const text of ["in", "mm", "one in"]) assert.ok(Number.isNaN(mmOf(text)), text);
});

test("rows and hectares as people write them", () => {
  assert.deepEqual([...rowNumbers("1-3, 8; 40", 24)], [1, 2, 3, 8]);
  assert.equal(rowNumbers("all", 24).size, 0);
  // 1 acre is 43,560 square feet of exactly 0.3048 m: 0.40468564224 ha.
  /** @type {[string, number][]} */
  const cases = [["1720", 1720], ["1720,5", 1720.5], ["1,720", 1720], ["1.720 ha", 1720], ["12 400", 12400], ["12.5", 12.5], ["4,250 ac", 1719.914], ["100 acres", 40.469]];
  for (const [text, want] of cases) assert.equal(hectaresOf(text), want, text);
  for (const text of ["ha", "much", "1,72,0"]) assert.ok(Number.isNaN(hectaresOf(text)), text);
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
  for (const n of [2, 4, 8, 16, 32, 64]) for (let c = -3 * n; c <= 5 * n; c++) assert.equal(number(fraction(c, n)) * n, c || 0, `${c}/${n}`);
});
