// SPDX-License-Identifier: MIT
// The server's sentences in the other languages: each is one that the server says, fills in no more than that, and none of the sentences
// of the files that speak most to the office is lacking.

import assert from 'node:assert/strict';
import { readFile, readdir } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { test } from 'node:test';
import { fileURLToPath } from 'node:url';
import de from './de.js';
import { LANGUAGES } from './languages.js';
import { sentence } from './prose.js';
import { OF_ALL, OF_DESK, SENTENCES, sentencesIn } from './sentences.js';
import { speak } from './text.js';
import { tellAlso, tellIn, told, toldColumn, toldLine } from './told.js';

const root = join(dirname(fileURLToPath(import.meta.url)), '../../..');

/** Files whose every sentence must be there. */
const WHOLE = [
  'core/base/value.c',
  ...(await readdir(join(root, 'core/desk/sheets'))).map((f) => `core/desk/sheets/${f}`),
];

/** Files that put sentences together: each clause must be there. */
const WHY = [
  'core/desk/bench/dividing_tell.c',
  'core/desk/bench/rota.c',
  'core/desk/closing/letter.c',
  'core/desk/forecast/forecast_changes.c',
  'core/desk/forecast/forecast_notes.c',
  'core/desk/forecast/forecast_sheet.c',
  'core/desk/forecast/hindsight_tell.c',
  'core/desk/beds/beds_variety.c',
  'core/desk/orders/adding.c',
  'core/desk/orders/clearing.c',
  'core/desk/orders/correcting.c',
  'core/desk/orders/correcting_consent.c',
  'core/desk/orders/joining.c',
  'core/desk/orders/notices_facts.c',
  'core/desk/orders/ordering_sheet.c',
  'core/desk/share/allotting_changes.c',
  'core/desk/share/allotting_waiting.c',
  'core/desk/share/arriving.c',
  'core/desk/share/substituting.c',
  'core/desk/pick/picking_plan.c',
  'core/desk/pick/picking_short.c',
  'core/desk/ship/shipping.c',
  'core/desk/ship/shipping_one.c',
  'core/model/schedule.c',
  'core/model/share_rule.c',
  'core/model/share_say.c',
  'core/model/substitute.c',
];

/** What those files write on record, tell programs, or refuse to the terminal. */
const NOTED = [
  'lot does',
  'lots do',
  'lot is',
  'lots are',
  'total {0}, bound {1}, {2} % above the bound{3}',
  '; nothing is cheaper',
  'The season',
  'What we said, and what came',
  'How the seasons before held',
  'What fooled us',
  'What was asked for',
  'What was lost',
  'What to measure earlier',
  'What the next season will know',
  'How the seasons before held',
  'rate: own estimate',
  'rate: own history',
  "rate: this season's own",
  'rot of clumps',
  'rot: own estimate',
  'rot of divisions',
  'name one variety to explain',
  'name one variety',
  'order {0} line {1}',
  'add line',
  'add to orders',
  'see what a cancellation takes off',
  '{0}{1} {2}',
  ': {0}',
  'the order',
  'order {0}',
  'correct orders',
  '{0}consent of line {1}',
  '{0}line {1} consent {2}{3}{4}',
  "the line's consent",
  "see a buyer's other orders",
  'put orders together',
  'there is no timetable of this name: {0}',
  'is no day: {0}',
  'a code must fit',
  'is longer than a code may be',
  'is longer than an order number may be',
  'there is no rule {0}',
  'run {0}: {1}, {2}, {3} line{4} that came late, {5} placed',
  'late orders',
  'choosing substitutes',
  'the plan gives order {0} line {1} no {2}',
  'closest within consent',
  'run {0}: {1} of {2} short placed, distance {3}, extra cost {4} hundredths',
  'make substitutes firm',
  'left out',
  'frost hold',
  '{0} of {1}',
  'in lot',
  'parcel {0}',
  '{0} division{1} more for order {2}',
  'add picks',
  '{0} order{1} another week',
  'set ship weeks',
  'setting the weeks',
  'before zone',
  'before wish',
  'in hold',
  "the order's week",
  'moved into a held week',
  'move order',
  'move orders',
  'a week_set has a bit for every week',
  'a schedule of {0} weeks: it may have 1 to {1}',
  'frost hold {0} names neither one zone nor one order',
  'order {0} has {1} parcels',
  'order {0} names a zone that is not in the table',
  'order {0} is fixed, but to no week',
  'words for each tier',
  'a method for each rule',
  'a name for each tier',
  'line {0} has an unknown consent, {1}',
  'line {0} asks for a variety that is not there',
  'line {0} has a quantity, price, spread or unit out of range',
  'line {0} has a list of substitutes that is out of range',
  'line {0} names a substitute that is not there',
  'too many lines or varieties to choose substitutes at once',
  'variety {0} has a surplus, price, size or limit out of range',
  'entry {0} of what orders hold is out of range',
  'entry {0} of the forbidden pairs is out of range',
];

/** Said to programs, or to whoever wrote a fit by hand; the page never asks so. */
const NOT_READ = [
  'the doubt names a column that no sheet has: {0}',
  'a name in the fit needs a text, and a code of at most 32 bytes',
  'the fit names a column that there is not',
  'the fit gives no value, or one too many, for',
  'decimals stand behind . or ,',
  'dates are dmy or mdy',
  'there is no such encoding',
  'the workbook has no sheet of this name',
  'nothing stands in the sheet: {0}',
  'at most {0} days, as 2032-04-19',
  'true or false',
  'For each column of the sheet one of ours (lots.variety), "" where it is not used, null to be found out.',
  'take spreadsheets in',
  'rename how a spreadsheet is fitted',
  'forget how a spreadsheet is fitted',
];

/** What stands in quotes in the statements: pieces that they put together with values. */
async function piecesOfSql() {
  const all = new Set(['']);
  for (const folder of ['sql/queries', 'sql/migrations'])
    for (const file of (await readdir(join(root, folder))).filter((name) => name.endsWith('.sql')))
      for (const [, piece] of (await readFile(join(root, folder, file), 'utf8')).matchAll(/'([^'\n]*)'/g))
        all.add((piece ?? '').trim());
  return all;
}

/** Put together from a description and its end. */
const COMPOSED = ['{0}, in the season', '{0}, in the season, not after today'];

/** Whoever reads it knows what was tried; who may do it is what counts. */
const SHORTER = 'only {0} may {1}';

const CONVERSION = /%%|%(?:[-+ #0]*(?:\*|\d+)?(?:\.(?:\*|\d+))?(?:hh|h|ll|l|z|j)?[diouxXeEfgGcsp])/g;

/** What stands in quotes in C, neighbours put together, with {0} for each conversion. @param {string} source */
function textsOf(source) {
  const code = source.replace(/\/\*[^]*?\*\/|^#include.*$|\.says\s*=\s*"[^"]*"(?:\s*"[^"]*")*/gm, ' ');
  return [...code.matchAll(/"(?:[^"\\\n]|\\.)*"(?:\s*"(?:[^"\\\n]|\\.)*")*/g)].map(([found]) => {
    let at = 0;
    const text = [...found.matchAll(/"((?:[^"\\\n]|\\.)*)"/g)].map((m) => m[1]).join('');
    return text
      .replace(/\\"/g, '"')
      .replace(/\\n/g, '\n')
      .replace(CONVERSION, (found) => (found === '%%' ? '%' : `{${at++}}`));
  });
}

/** @returns {Promise<Map<string, string[]>>} the texts of each source of the program */
async function sources() {
  const all = new Map();
  for (const folder of ['core', 'server'])
    for (const file of await readdir(join(root, folder), { recursive: true }))
      if (/\.[ch]$/.test(file)) all.set(`${folder}/${file}`, textsOf(await readFile(join(root, folder, file), 'utf8')));
  return all;
}

const values = (/** @type {string} */ text) => [...text.matchAll(/\{(\d)(?::\w+)?\}/g)].map((m) => m[1] ?? '');

test('each of them is a sentence that the program says', async () => {
  const said = new Set([...(await sources()).values()].flat().flatMap((text) => [text, text.trim()]));
  const pieces = await piecesOfSql();
  assert.deepEqual(
    SENTENCES.map(([english]) => english).filter(
      (english) =>
        !said.has(COMPOSED.includes(english) ? english.slice(3) : english) &&
        !english.split(/\{\d\}/).every((part) => pieces.has(part.trim())),
    ),
    [],
    'no longer said so: change the row, or take it out',
  );
});

test('what a sheet and a field are told is there in every language', async () => {
  const all = await sources();
  const there = new Set([...SENTENCES.map(([english]) => english), ...NOT_READ]);
  const lacking = [];
  for (const file of WHOLE) {
    const sentences = (all.get(file) ?? []).filter((text) =>
      /^(?:[A-Z]?[a-z']+|\{0\}),?(?: [a-z{]|$).* [a-z(]/.test(text),
    );
    lacking.push(
      ...sentences.filter((text) => !there.has(text) && !text.includes('|')).map((text) => `${file}: ${text}`),
    );
  }
  assert.deepEqual(lacking, [], 'translate them in sentences.js');
});

test('why a figure, a share and a week are as they are is there in every language', async () => {
  const all = await sources();
  const there = new Set([...SENTENCES.map(([english]) => english), ...NOTED]);
  const lacking = WHY.flatMap((file) =>
    (all.get(file) ?? [])
      .map((text) => text.trim())
      .filter((text) => /[a-z{}%] [a-z({]|^[,;:] \S/.test(text) && !/^s [a-z]+$/.test(text) && !there.has(text))
      .map((text) => `${file}: ${text}`),
  );
  assert.deepEqual(lacking, [], 'translate them in sentences.*.js');
});

test('each once, in all languages, filling in nothing that English does not', () => {
  const wrong = [];
  const seen = new Set();
  for (const [english, ...others] of SENTENCES) {
    if (seen.has(english)) wrong.push(`twice: ${english}`);
    seen.add(english);
    const has = values(english);
    for (const text of others) {
      if (text.trim() === '' || (text === english && !/^\p{L}+$/u.test(text))) wrong.push(`not said: ${english}`);
      if (values(text).some((v) => !has.includes(v))) wrong.push(`fills in too much: ${text}`);
      // An ending of English's plural, or its verb after a value, is the only thing that may be left out.
      const lost = has.filter(
        (v) => !values(text).includes(v) && !new RegExp(`([a-z]|\\{\\d\\} )\\{${v}\\}`).test(english),
      );
      if (lost.length > 0 && english !== SHORTER) wrong.push(`leaves {${lost}} out: ${text}`);
    }
  }
  assert.deepEqual(wrong, []);
});

test('what is put together is told clause by clause, with counts, figures, days and reasons in the reader’s form', async () => {
  /** @type {[string, string][]} */
  const german = [
    [
      'On 2032-02-20 by one-each-first: 4 of the 5 asked can be promised: everyone among retail gets up to 3, and the few over go to the earliest orders, of which this is one. 1 of other varieties come in its place. 2 are pulled.',
      'Am 2032-02-20 nach „Erst jedem eins“: 4 von 5 verlangten können zugesagt werden: jeder unter den Privatkunden bekommt bis zu 3, und die wenigen darüber gehen an die frühesten Bestellungen, zu denen diese gehört. 1 von anderen Sorten treten an ihre Stelle. 2 sind herausgesucht.',
    ],
    [
      'On 2032-02-20 by first-come, tiers first: Nothing is promised: nothing may be sent where the order goes, unless the owner overrules that.',
      'Am 2032-02-20 nach „Wer zuerst kommt, nach Gruppen“: Nichts wird zugesagt: dorthin, wohin die Bestellung geht, darf nichts geschickt werden, es sei denn, der Inhaber setzt sich darüber hinweg.',
    ],
    // A person's own words stay, marks and all, and end no clause.
    [
      "Leaves in week 2032-W20: 1 week later for frost hold: ice, wind; storms, and 2 weeks later because orders that came before it fill the crew's time; the buyer wished week 2032-W18.",
      'Geht in Woche 2032-W20 ab: 1 Woche später wegen Frostsperre: ice, wind; storms, und 2 Wochen später, weil frühere Bestellungen die Zeit der Packer füllen; der Kunde wünschte Woche 2032-W18.',
    ],
    [
      'On 2032-02-20 3 OSPLA were taken back: bad. weather. On 2032-02-21 1 OSPLA was taken back: the buyer no longer allows it.',
      'Am 2032-02-20 wurden 3 OSPLA zurückgenommen: bad. weather. Am 2032-02-21 wurden 1 OSPLA zurückgenommen: der Kunde erlaubt es nicht mehr.',
    ],
    [
      'Its form (ball) is 12 % above them.\nIts size (not known) is level with them.\nwhat nobody translated',
      'Ihre Form (ball) liegt 12 % über ihnen.\nIhre Größe (nicht bekannt) liegt gleichauf mit ihnen.\nwhat nobody translated',
    ],
    [
      '1 clump of past seasons gave 1200 divisions: the variety is level with its form and size.',
      '1 Stock früherer Saisons gaben 1.200 Teilstücke: die Sorte liegt gleichauf mit ihrer Form und Größe.',
    ],
    ['The season of 2031 shipped from 19 April 2032 on.', 'Die Saison 2031 wurde ab 2032-04-19 versandt.'],
    [
      'In Cellar north clumps rot 1.5 times as fast as is usual this season.',
      'In Cellar north faulen Stöcke 1,5-mal so schnell wie in dieser Saison üblich.',
    ],
  ];
  speak('de', de, 'de-DE');
  tellIn('de', sentencesIn('de', OF_ALL));
  assert.equal(told('No clumps were dug.'), 'No clumps were dug.', 'the winter desk’s, which was not opened');
  tellAlso(sentencesIn('de', OF_DESK.winter));
  tellAlso(sentencesIn('de', OF_DESK.orders));
  for (const [english, says] of german) assert.equal(told(english), says);
  // Intl writes the blanks around a range's dash by its age.
  assert.equal(
    sentence('Leaves in week 2032-W16, as the buyer wished.').replace(/\s?–\s?/g, '–'),
    'Geht in Woche 16 (12.–18. Apr.) ab, wie der Kunde es wünschte.',
  );
  for (const [code, says] of /** @type {const} */ ([
    ['fr', '1 souche et 0 éclat ont quitté la cave.'],
    ['nl', '1 pol en 0 deelknollen hebben de kelder verlaten.'],
  ])) {
    speak(code, (await LANGUAGES[code].texts()).default);
    tellIn(code, sentencesIn(code));
    assert.equal(told('1 clump and 0 divisions left the cellar.'), says);
  }
  tellIn('en', {});
});

test('a list of thousands is told before anybody waits: of processor time, a fifth of a millisecond each would do', () => {
  speak('de', de, 'de-DE');
  tellIn('de', sentencesIn('de'));
  const before = process.cpuUsage();
  for (let i = 0; i < 5000; i++)
    told(
      `Leaves in week 2032-W${10 + (i % 40)}: 2 weeks later for frost hold: ice ${i}, wind; storms; the buyer wished week 2032-W18.`,
    );
  const ms = process.cpuUsage(before).user / 1000;
  assert.ok(ms < 5000, `${ms} ms of processor time for 5,000`);
  tellIn('en', {});
});

test('told in the language, with words of the data and sentences inside', () => {
  speak('de', de, 'de-DE');
  tellIn('de', sentencesIn('de'));
  assert.equal(told('there is no such lot: L9'), 'diese Partie gibt es nicht: L9');
  assert.equal(told('must be a whole number from 0 to 10: 12'), 'muss eine ganze Zahl von 0 bis 10 sein: 12');
  assert.equal(told('order M-1 is cancelled'), 'Bestellung M-1 ist storniert');
  assert.equal(told('1 row is wrong; nothing was taken'), '1 Zeile ist falsch; nichts wurde übernommen');
  assert.equal(told('7 rows are wrong; nothing was taken'), '7 Zeilen sind falsch; nichts wurde übernommen');
  assert.equal(
    told('Text in UTF-8, parted by semicolons: 3 of the first 3 lines have 4 fields.'),
    'Text in UTF-8, getrennt durch Strichpunkte: 3 der ersten 3 Zeilen haben 4 Felder.',
  );
  assert.equal(told('what nobody translated'), 'what nobody translated');
  assert.equal(toldColumn('quantity'), 'Menge');
  assert.equal(
    toldLine('quantity: must not be empty', { detail: 'must not be empty', column: 'quantity' }),
    'Menge: darf nicht leer sein',
  );
  assert.equal(
    toldLine('lots.csv:3: variety: there is no such lot', { detail: 'there is no such lot', column: 'variety' }),
    'lots.csv:3: Sorte: diese Partie gibt es nicht',
  );
  tellIn('en', {});
  assert.equal(toldColumn('quantity'), 'quantity');
  assert.equal(toldLine('quantity: is needed', { detail: 'is needed', column: 'quantity' }), 'quantity: is needed');
});
