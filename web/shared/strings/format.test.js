// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import en from './en.js';
import { makeFormat, mondayOf, odds, readMoney, readNumber } from './format.js';
import { speak } from './text.js';

speak('en', en, 'en-US');

/** Intl writes some spaces as non-breaking or thin ones. @param {string} text */
const spaces = (text) => text.replace(/[\u00a0\u2009\u202f]/g, ' ');

test('days by locale', () => {
  assert.equal(makeFormat('en-US').day('2032-04-19'), 'Apr 19, 2032');
  assert.equal(makeFormat('en-GB').day('2032-04-19'), '19 Apr 2032');
});

test('money by locale and currency', () => {
  assert.equal(makeFormat('en-US', { currency: 'USD' }).money('1234.5'), '$1,234.50');
  assert.equal(makeFormat('en-GB', { currency: 'GBP' }).money('7.25'), '£7.25');
});

test('degrees: 42 – 44 °F is 5.5 – 6.7 °C (common practice of storage, no source)', () => {
  const us = makeFormat('en-US');
  const gb = makeFormat('en-GB');
  assert.equal(us.degree, '°F');
  assert.equal(Math.round(us.temperature(5.56)), 42);
  assert.equal(Math.round(us.temperature(6.67)), 44);
  assert.equal(gb.degree, '°C');
  assert.equal(gb.temperature(6.67), 6.67);
});

test('ISO weeks start where ISO 8601 says', () => {
  // ISO 8601 (as worked in its own and many public examples): 2004-W53 holds 1 January 2005; 2009-W01 starts 29 December 2008.
  assert.equal(mondayOf('2004-W53').toISOString().slice(0, 10), '2004-12-27');
  assert.equal(mondayOf('2009-W01').toISOString().slice(0, 10), '2008-12-29');
  assert.equal(mondayOf('2009-W53').toISOString().slice(0, 10), '2009-12-28');
  assert.match(spaces(makeFormat('en-US').week('2032-W16')), /^16 \(Apr 12 – 18\)$/);
});

test('what is not known is a dash, never a zero', () => {
  const f = makeFormat('en-US');
  for (const text of [
    f.whole(null),
    f.money(undefined),
    f.day(null),
    f.percent(null),
    f.week(undefined),
    f.decimal(null),
  ])
    assert.equal(text, '–');
  assert.equal(f.whole(0), '0');
});

test('instants in the nursery’s own zone', () => {
  const f = makeFormat('en-US', { timezone: 'America/Chicago' });
  assert.equal(spaces(f.instant('2032-01-05T13:44:33Z')), 'Jan 5, 2032, 7:44 AM');
});

test('chances as people say them', () => {
  assert.equal(odds(0.9), '9 in 10');
  assert.equal(odds(0.5), '1 in 2');
  assert.equal(odds(0.95), '19 in 20');
  assert.equal(odds(0.87), '87 in 100');
});

test('numbers as people type them', () => {
  assert.equal(readNumber(' 1 200 '), 1200);
  assert.equal(readNumber('7,5'), 7.5);
  assert.ok(Number.isNaN(readNumber('many')));
  assert.ok(Number.isNaN(readNumber('')));
  assert.equal(readMoney('$7.5'), '7.50');
  assert.equal(readMoney('7,25 €'), '7.25');
  assert.equal(readMoney('-3'), null);
  assert.equal(readMoney('free'), null);
});

test('decimal comma and parted thousands, as the reader’s own writing has them', () => {
  for (const [text, locale, n] of /** @type {[string, string, number][]} */ ([
    ['0,9', 'de-DE', 0.9],
    ['0,9', 'en-US', 0.9],
    ['0.9', 'de-DE', 0.9],
    ['1.234,50', 'de-DE', 1234.5],
    ['1,234.50', 'de-DE', 1234.5],
    ['1.234,50', 'en-US', 1234.5],
    ['1.234', 'de-DE', 1234],
    ['1.234', 'en-US', 1.234],
    ['1,234', 'en-US', 1234],
    ['1,234', 'de-DE', 1.234],
    ['0,125', 'en-US', 0.125],
    ['1,234,567', 'en-US', 1234567],
    ['1.234.567', 'en-US', 1234567],
    ['1’234.50', 'de-CH', 1234.5],
    ["1'234,50", 'fr-CH', 1234.5],
    ['1 234,5', 'fr-FR', 1234.5],
    ['12,34,567.8', 'en-US', NaN],
    ['1,2,3', 'en-US', NaN],
    ['1.2.3', 'de-DE', NaN],
    ['1,23.4', 'en-US', NaN],
    ['-2,5', 'nl-NL', -2.5],
    ['.5', 'en-US', 0.5],
    [',5', 'de-DE', 0.5],
    ['1e3', 'en-US', NaN],
  ]))
    assert.deepEqual([text, locale, readNumber(text, locale)], [text, locale, n]);
  assert.equal(readMoney('1.234,50 €', 'de-DE'), '1234.50');
  assert.equal(readMoney('$1,234.50', 'en-US'), '1234.50');
  assert.equal(readMoney('9,95', 'en-US'), '9.95');
});
