// SPDX-License-Identifier: MIT
// The server's sentences in the other languages: each is one that the server says, fills in no more than that, and none of the sentences
// of the files that speak most to the office is lacking.

import assert from 'node:assert/strict';
import { readFile, readdir } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { test } from 'node:test';
import { fileURLToPath } from 'node:url';
import de from './de.js';
import { SENTENCES, sentencesIn } from './sentences.js';
import { speak } from './text.js';
import { tellIn, told, toldColumn, toldLine } from './told.js';

const root = join(dirname(fileURLToPath(import.meta.url)), '../../..');

/** Files whose every sentence must be there. */
const WHOLE = [
  'core/base/value.c',
  ...(await readdir(join(root, 'core/desk/sheets'))).map((f) => `core/desk/sheets/${f}`),
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

/** Put together from a description and its end. */
const COMPOSED = ['{0}, in the season', '{0}, in the season, not after today'];

/** Whoever reads it knows what was tried; who may do it is what counts. */
const SHORTER = 'only {0} may {1}';

const CONVERSION = /%(?:[-+ #0]*(?:\*|\d+)?(?:\.(?:\*|\d+))?(?:hh|h|ll|l|z|j)?[diouxXeEfgGcsp])/g;

/** What stands in quotes in C, neighbours put together, with {0} for each conversion. @param {string} source */
function textsOf(source) {
  const code = source.replace(/\/\*[^]*?\*\/|^#include.*$|\.says\s*=\s*"[^"]*"(?:\s*"[^"]*")*/gm, ' ');
  return [...code.matchAll(/"(?:[^"\\\n]|\\.)*"(?:\s*"(?:[^"\\\n]|\\.)*")*/g)].map(([found]) => {
    let at = 0;
    const text = [...found.matchAll(/"((?:[^"\\\n]|\\.)*)"/g)].map((m) => m[1]).join('');
    return text.replace(/\\"/g, '"').replace(CONVERSION, () => `{${at++}}`);
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
  const said = new Set([...(await sources()).values()].flat());
  assert.deepEqual(
    SENTENCES.map(([english]) => english).filter(
      (english) => !said.has(COMPOSED.includes(english) ? english.slice(3) : english),
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
      // An ending of English's plural is the only thing that may be left out.
      const lost = has.filter((v) => !values(text).includes(v) && !new RegExp(`[a-z]\\{${v}\\}`).test(english));
      if (lost.length > 0 && english !== SHORTER) wrong.push(`leaves {${lost}} out: ${text}`);
    }
  }
  assert.deepEqual(wrong, []);
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
