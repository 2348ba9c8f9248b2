'use strict';
// The arithmetic and the words of one style, and nothing else: no process, no wire.
//
// A screw jack lifts the gauge-wheel arm through a lever. A plate with index holes turns with the screw,
// and a lock pin goes into one of them. The style is invented.

// Ours, no source.
const constants = { scaleSd: 0.06, seatingMm: 0.3, slackMm: 0.4, touchSeconds: 80 };

const property = (type, minimum, maximum, unit, examples, title, description) =>
  ({ type, title, description, ...(unit && { 'x-unit': unit }), minimum, maximum, examples });

const object = (title, properties, more) =>
  ({ type: 'object', title, additionalProperties: false, required: Object.keys(properties), properties, ...more });

const figuresSchema = (t) => object(t.figures, {
  pitchMm: property('number', 0.5, 20, 'mm', [4, 5], ...t.pitchMm),
  leverRatio: property('number', 0.2, 5, null, [1.6, 1], ...t.leverRatio),
  holesPerTurn: property('integer', 1, 24, null, [6, 8], ...t.holesPerTurn),
  holes: property('integer', 1, 960, null, [60, 96], ...t.holes),
});

const settingSchema = (t) => object(t.setting, {
  hole: { ...property('integer', 0, 960, null, [24], ...t.hole), 'x-deeper': 'LARGER' },
});

/** The style in one language, as the contract's message Style. */
function describe(language) {
  const t = textOf(language);
  return {
    id: 'screw-jack', title: t.title, version: '1.0.0', countUnit: t.countUnit,
    keepsMarks: false, setsPlantingDepth: true, approach: 'APPROACH_DEEPER', ...constants,
    figuresSchema: JSON.stringify(figuresSchema(t)), settingSchema: JSON.stringify(settingSchema(t)),
    inspectionPoints: [
      { id: 'thread-play', unit: 'mm', limit: 1.5, worseWhen: 'WORSE_WHEN_LARGER', ...t.threadPlay },
      { id: 'lock-pin', unit: '', worseWhen: 'WORSE_WHEN_UNSPECIFIED', ...t.lockPin },
    ],
    cautions: t.cautions,
  };
}

/** Every hole that a row could be brought to, or what is wrong: the contract's RowOptions. */
function options(figuresText, settingText) {
  const figures = read('figures', figuresText, figuresSchema(texts.en));
  const setting = settingText === '' ? { violations: [{ field: 'setting', message: 'is missing; this mechanism needs to know the hole that its pin is in' }] }
    : read('setting', settingText, settingSchema(texts.en));
  const violations = [...figures.violations, ...setting.violations];
  if (violations.length > 0) return { violations };
  const { holes } = figures.value;
  const at = setting.value.hole;
  if (at > holes) return { violations: [{ field: 'setting.hole', message: `is ${at}, must be from 0 to ${holes}` }] };
  return { options: Array.from({ length: holes + 1 }, (_, to) => option(figures.value, at, to)) };
}

function option(figures, at, to) {
  const mmPerHole = figures.pitchMm / figures.holesPerTurn / figures.leverRatio;
  return {
    leave: to === at, effectMm: (to - at) * mmPerHole, count: to - at, settingAfter: JSON.stringify({ hole: to }),
    shallowerLeftMm: to * mmPerHole, deeperLeftMm: (figures.holes - to) * mmPerHole,
  };
}

/** The words for one option that options gave: the contract's Words. */
function say(figuresText, chosen, language) {
  if (chosen.leave) return { say: '', cautions: [] };
  const t = textOf(language);
  const figures = JSON.parse(figuresText);
  const deeper = chosen.effectMm > 0;
  const count = (n) => `${n} ${n === 1 ? t.countUnit.one : t.countUnit.other}`;
  const sentences = [t.move(count(Math.abs(chosen.count)), deeper, JSON.parse(chosen.settingAfter).hole)];
  if (!deeper) sentences.push(backAgainst(t, figures, chosen, count));
  return { say: [...sentences, t.pinch].join(' '), cautions: [] };
}

/** A move that ends going shallower leaves the slack open: past it and back, where there is travel. */
function backAgainst(t, figures, chosen, count) {
  if (chosen.shallowerLeftMm < constants.slackMm) return t.noPast;
  return t.past(count(Math.ceil(constants.slackMm / Math.abs(chosen.effectMm / chosen.count))));
}

/** Reads a JSON text by a schema of numbers, and names every field that is wrong. */
function read(root, text, schema) {
  let value;
  try {
    value = JSON.parse(text);
  } catch {
    return { violations: [{ field: root, message: 'is not valid JSON' }] };
  }
  if (value === null || typeof value !== 'object' || Array.isArray(value)) {
    return { violations: [{ field: root, message: 'must be an object' }] };
  }
  const unknown = Object.keys(value).filter((name) => !Object.hasOwn(schema.properties, name)).slice(0, 10)
    .map((name) => ({ field: `${root}.${name.slice(0, 40)}`, message: 'is not known' }));
  const wrong = Object.entries(schema.properties).map(([name, p]) => ({ field: `${root}.${name}`, message: fault(value[name], p) }))
    .filter((v) => v.message);
  return { value, violations: [...unknown, ...wrong] };
}

function fault(value, p) {
  if (value === undefined) return 'is missing';
  // Written so that what is no number, or not finite, fails too.
  const fits = typeof value === 'number' && value >= p.minimum && value <= p.maximum && (p.type !== 'integer' || Number.isInteger(value));
  return fits ? '' : `must be a ${p.type === 'integer' ? 'whole ' : ''}number from ${p.minimum} to ${p.maximum}`;
}

const texts = {
  en: {
    title: 'Screw jack with a lock pin',
    countUnit: { one: 'hole', other: 'holes' },
    figures: 'Figures of a screw jack',
    pitchMm: ['Pitch of the screw', 'How far the screw travels in one turn.'],
    leverRatio: ['Lever ratio', 'Travel of the screw over travel at the opener.'],
    holesPerTurn: ['Holes a turn', 'Index holes in one turn of the plate.'],
    holes: ['Holes in all', 'Holes from the shallow stop to the deep stop, over all turns.'],
    setting: 'Where a screw jack stands',
    hole: ['Hole', 'Holes counted from the shallow stop, which is 0.'],
    threadPlay: {
      title: 'End play of the screw in its nut',
      guidance: 'Push and pull the screw along its axis with a dial gauge on it. The limit is common practice; follow the manual of its maker where it gives one. Past it, renew the nut.',
    },
    lockPin: {
      title: 'The lock pin goes fully into its hole',
      guidance: 'The pin must stand flush behind the plate in every hole. Clean or renew it if it does not. Common practice.',
    },
    cautions: ['Lock out the lift and set the row on a stand or the ground before a hand goes near the jack; never reach under a row that only hydraulics hold up.'],
    move: (count, deeper, hole) => `Pull the lock pin, turn the plate ${count} ${deeper ? 'deeper' : 'shallower'}, to hole ${hole}, and let the pin in.`,
    past: (count) => `Go at least ${count} past it and come back, so that the move ends going deeper.`,
    noPast: 'The travel ends here, so it cannot go past it and back to take up the slack; read this row with care afterwards.',
    pinch: 'Keep hands clear of pinch points while anything moves.',
  },
  es: {
    title: 'Gato de husillo con pasador',
    countUnit: { one: 'agujero', other: 'agujeros' },
    figures: 'Datos de un gato de husillo',
    pitchMm: ['Paso del husillo', 'Cuánto avanza el husillo en una vuelta.'],
    leverRatio: ['Relación de palanca', 'Recorrido del husillo dividido por el recorrido en el abresurco.'],
    holesPerTurn: ['Agujeros por vuelta', 'Agujeros del plato en una vuelta.'],
    holes: ['Agujeros en total', 'Agujeros desde el tope menos profundo hasta el más profundo, en todas las vueltas.'],
    setting: 'Posición de un gato de husillo',
    hole: ['Agujero', 'Agujeros contados desde el tope menos profundo, que es 0.'],
    threadPlay: {
      title: 'Juego axial del husillo en su tuerca',
      guidance: 'Empuje y tire del husillo a lo largo de su eje con un reloj comparador. El límite es práctica común; siga el manual del fabricante si da uno. Si lo supera, cambie la tuerca.',
    },
    lockPin: {
      title: 'El pasador entra del todo en su agujero',
      guidance: 'El pasador debe quedar al ras por detrás del plato en todos los agujeros. Límpielo o cámbielo si no es así. Práctica común.',
    },
    cautions: ['Bloquee el levante y apoye el surco sobre un soporte o en el suelo antes de acercar una mano al gato; nunca ponga las manos bajo un surco sostenido solo por la hidráulica.'],
    move: (count, deeper, hole) => `Saque el pasador, gire el plato ${count} hacia ${deeper ? 'más' : 'menos'} profundo, hasta el agujero ${hole}, y deje entrar el pasador.`,
    past: (count) => `Pase al menos ${count} de largo y vuelva, para que el movimiento termine hacia más profundo.`,
    noPast: 'El recorrido termina aquí, así que no se puede pasar de largo y volver para quitar el juego; lea este surco con cuidado después.',
    pinch: 'Mantenga las manos lejos de los puntos de atrapamiento mientras algo se mueva.',
  },
};

/** The texts of a BCP 47 tag: Spanish of any country is Spanish, what is not spoken here is English. */
const textOf = (language) => texts[language.toLowerCase().split('-')[0]] ?? texts.en;

module.exports = { describe, options, say };
