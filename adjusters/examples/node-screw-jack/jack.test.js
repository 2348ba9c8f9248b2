'use strict';
const { test } = require('node:test');
const assert = require('node:assert/strict');
const jack = require('./jack.js');

const figures = JSON.stringify({ pitchMm: 5, leverRatio: 1.25, holesPerTurn: 8, holes: 40 }); // 0.5 mm a hole

test('every hole is an option, and exactly one leaves the row', () => {
  const { options } = jack.options(figures, '{"hole":10}');
  assert.equal(options.length, 41);
  assert.deepEqual(options.filter((o) => o.leave).map((o) => o.settingAfter), ['{"hole":10}']);
  assert.equal(options[14].effectMm, 2);
  assert.equal(options[14].deeperLeftMm, 13);
});

test('what is no number is refused by its name', () => {
  const fields = (text) => jack.options(text, '{"hole":10}').violations.map((v) => v.field);
  assert.deepEqual(fields('{'), ['figures']);
  assert.deepEqual(fields(figures.replace('40', '1e999')), ['figures.holes']);
  assert.deepEqual(fields(figures.replace('"holes"', '"__proto__"')), ['figures.__proto__', 'figures.holes']);
});

test('Spanish of any country is Spanish', () => {
  const [option] = jack.options(figures, '{"hole":10}').options;
  assert.match(jack.say(figures, option, 'es-419').say, /^Saque el pasador, gire el plato 10 agujeros/);
  assert.match(jack.say(figures, option, 'toki').say, /^Pull the lock pin/);
});
