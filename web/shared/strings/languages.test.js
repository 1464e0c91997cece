// SPDX-License-Identifier: MIT
// Every language says all that English says: no text is lacking, empty, left in English or without its {values}.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import en, { PARTS } from './en.js';
import { makeFormat } from './format.js';
import { LANGUAGES, languageFor, localeFor } from './languages.js';
import { speak, t } from './text.js';
import { WORDS_ALIKE } from './alike.js';

const OTHERS = /** @type {const} */ (['de', 'fr', 'nl']);

/** @param {string} text @returns {string[]} the names in braces, each once */
const names = (text) => [...new Set([...text.matchAll(/\{(\w+)\}/g)].map((m) => m[1] ?? ''))].sort();

/** One for one, one for all else. @param {string} text */
const forms = (text) => text.split('|');

for (const code of OTHERS) {
  test(`${code} has the same files with the same keys`, async () => {
    const { PARTS: own } = await import(`./${code}.js`);
    for (const [i, part] of PARTS.entries()) {
      assert.deepEqual(
        Object.keys(part).filter((key) => !(key in own[i])),
        [],
        'lacking: translate them (README.md)',
      );
      assert.deepEqual(
        Object.keys(own[i]).filter((key) => !(key in part)),
        [],
        'no longer in English',
      );
      assert.deepEqual(Object.keys(own[i]), Object.keys(own[i]).sort());
    }
  });

  test(`${code} says all that is to be filled in, in each form`, async () => {
    /** @type {Record<string, string>} */
    const own = (await import(`./${code}.js`)).default;
    const wrong = [];
    for (const [key, text] of Object.entries(own)) {
      const english = en[/** @type {keyof typeof en} */ (key)] ?? '';
      if (text.trim() === '' || text !== text.trim()) wrong.push(`${key}: empty, or blanks at its ends`);
      if (forms(text).length > 2 || (forms(text).length === 2 && forms(english).length < 2))
        wrong.push(`${key}: ${forms(text).length} forms where English has ${forms(english).length}`);
      if (names(text).join() !== names(english).join())
        wrong.push(`${key}: fills in ${names(text)} where English has ${names(english)}`);
      const [one = '', other = one] = forms(text);
      // In French 0 is counted like 1, so that its first form cannot write a 1 of its own.
      const without = names(other).filter((name) => !names(one).includes(name) && (name !== 'n' || code === 'fr'));
      if (without.length > 0 || names(one).some((name) => name !== 'n' && !names(other).includes(name)))
        wrong.push(`${key}: its forms fill in different things`);
    }
    assert.deepEqual(wrong, []);
  });

  test(`${code} leaves nothing in English but the words that both write alike`, async () => {
    /** @type {Record<string, string>} */
    const own = (await import(`./${code}.js`)).default;
    const alike = new Set(WORDS_ALIKE[code]);
    const same = Object.keys(own).filter((key) => own[key] === en[/** @type {keyof typeof en} */ (key)]);
    assert.deepEqual(
      same.filter((key) => /\p{L}{2}/u.test((own[key] ?? '').replace(/\{\w+\}/g, '')) && !alike.has(own[key] ?? '')),
      [],
    );
    assert.deepEqual(
      [...alike].filter((word) => !same.some((key) => own[key] === word)),
      [],
      'no text is alike in both any more',
    );
  });
}

test('plurals as each language counts: 0 is one of a kind in French, and many in the others', async () => {
  for (const [code, none, one, two] of /** @type {const} */ ([
    ['en', '0 lines', '1 line', '2 lines'],
    ['de', '0 Positionen', '1 Position', '2 Positionen'],
    ['nl', '0 regels', '1 regel', '2 regels'],
    ['fr', '0 ligne', '1 ligne', '2 lignes'],
  ])) {
    speak(code, (await LANGUAGES[code].texts()).default);
    assert.deepEqual(
      [0, 1, 2].map((n) => t('find.lines', { n })),
      [none, one, two],
    );
  }
});

test('the browser’s best liked language that the page speaks, and its own form of it', () => {
  assert.equal(languageFor(['de-AT', 'en']), 'de');
  assert.equal(languageFor(['pt-BR', 'nl-BE', 'en-GB']), 'nl');
  assert.equal(languageFor(['ja-JP']), 'en');
  assert.equal(languageFor([]), 'en');
  assert.equal(localeFor('de', ['en-GB', 'de-CH']), 'de-CH');
  assert.equal(localeFor('de', ['en-US']), 'de-US');
  assert.equal(localeFor('nl', ['nl']), 'nl');
  assert.equal(localeFor('en', ['de-DE']), 'en-DE');
  assert.equal(localeFor('fr', []), 'fr-FR');
  // A German in the United States reads German days, and a thermometer in Fahrenheit.
  const f = makeFormat(localeFor('de', ['en-US']), { currency: 'EUR' });
  assert.equal(f.degree, '°F');
  assert.equal(f.day('2032-04-19'), '19. Apr. 2032');
  assert.equal(f.money('1234.5').replace(/\u00a0/g, ' '), '1.234,50 €');
  assert.equal(makeFormat('fr-FR').day('2032-04-19'), '19 avr. 2032');
  assert.equal(makeFormat('nl-NL').day('2032-04-19'), '19 apr 2032');
});
