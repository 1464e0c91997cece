// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { readFile, readdir } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { test } from 'node:test';
import { fileURLToPath } from 'node:url';
import en, { PARTS } from './en.js';
import { rich, speak, t, word } from './text.js';

speak('en', en, 'en-US');

const web = join(dirname(fileURLToPath(import.meta.url)), '../..');

/** Words that come from the data, and the texts of dialogs named by their kind. */
const BY_DATA =
  /^(action\.(back|cancel|claim|quantity|week)\.|answer\.|binds\.|consent\.|count\.|edit\.|event\.|field\.|how\.|kept\.|kind\.|letter\.part\.|load\.|notice\.|outbox\.|paid\.|putback\.|reason\.|role\.|records\.(about|kind)\.|rule\.|setting\.|sheet\.|stage\.|settings\.ask\.|start\.why\.|state\.|step\.|supply\.|tier\.|work\.)/;

test('every text is used somewhere', async () => {
  let source = '';
  for (const folder of ['.', 'shared', 'winter', 'orders', 'cellar', 'help']) {
    for (const file of await readdir(join(web, folder), { recursive: folder !== '.' })) {
      if (/\.jsx?$/.test(file) && !/strings\/[a-z]{2}\.|\.test\./.test(file))
        source += await readFile(join(web, folder, file), 'utf8');
    }
  }
  const unused = Object.keys(en).filter((key) => !BY_DATA.test(key) && !source.includes(`'${key}'`));
  assert.deepEqual(unused, []);
});

test('a text stands in one file only, and each file in order', () => {
  assert.equal(
    PARTS.reduce((sum, part) => sum + Object.keys(part).length, 0),
    Object.keys(en).length,
  );
  for (const part of PARTS) assert.deepEqual(Object.keys(part), Object.keys(part).sort());
});

test('values and plurals', () => {
  assert.equal(t('frame.waiting', { n: 1 }), '1 waits');
  assert.equal(t('frame.waiting', { n: 3 }), '3 wait');
  assert.equal(t('notices.due', { day: 'x' }), 'due x');
  assert.deepEqual(rich('plan.sure', { odds: 'A' }).slice(0, 2), ['', 'A']);
});

test('a word without a text is shown as it is', () => {
  assert.equal(word('reason', 'rotten'), 'rotten');
  assert.equal(word('reason', 'eaten'), 'eaten');
  assert.equal(word('reason', null), '');
});
