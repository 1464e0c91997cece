// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { SHOWS, atKeep, lossAt, nextSpring, writeItems } from './planting.js';

const row = (/** @type {any} */ more) => ({
  variety: 'AMB',
  name: 'Amber',
  keep: 20,
  low: 15,
  high: 26,
  hold_back: 10,
  needs: null,
  all: false,
  ...more,
});

test('next spring has the mean and the spread that the plan says', () => {
  const q = nextSpring({ growth: 3, growth_sd: 0.25, growth_spread: 1.5 }, 40);
  // lognormal of mean 120 and variance 1.5 * 120 + (e^0.0625 - 1) * 120^2 = 1108.7: median 120 / sqrt(1 + 1108.7 / 120^2)
  assert.ok(Math.abs(q.p50 - 120 / Math.sqrt(1 + 1108.7 / 14400)) < 0.1);
  assert.ok(q.p10 < q.p50 && q.p50 < q.p90);
  assert.deepEqual(nextSpring({ growth: 3, growth_sd: 0.25, growth_spread: 1.5 }, 0).p95, 0);
});

test('a figure between two of the curve lies on the line between them', () => {
  const curve = /** @type {any} */ ([
    { keep: 0, value: '100.00', next: 0 },
    { keep: 10, value: '140.00', next: 30 },
    { keep: 20, value: '120.00', next: 50 },
  ]);
  assert.equal(atKeep(curve, 5, 'value'), 120);
  assert.equal(atKeep(curve, 10, 'next'), 30);
  assert.equal(atKeep(curve, 99, 'next'), 50);
  assert.equal(atKeep([], 5, 'value'), null);
  assert.equal(lossAt(/** @type {any} */ ({ curve, value: '140.00' }), 15), 10);
});

test('only what differs is written, by hand before the plan, and only what is ticked', () => {
  const rows = /** @type {any} */ ([
    row({}),
    row({ variety: 'BRI', keep: 7, hold_back: 7 }),
    row({ variety: 'CIN', keep: null, needs: 'demand' }),
  ]);
  assert.deepEqual(
    writeItems(rows, {}, null).map((i) => [i.variety, i.keep]),
    [['AMB', 20]],
  );
  assert.deepEqual(
    writeItems(rows, { BRI: 9, CIN: 4 }, null).map((i) => [i.variety, i.keep]),
    [
      ['AMB', 20],
      ['BRI', 9],
      ['CIN', 4],
    ],
  );
  assert.deepEqual(
    writeItems(rows, { BRI: 9 }, new Set(['BRI'])).map((i) => i.variety),
    ['BRI'],
  );
});

test('a hold-back within the range is none to change', () => {
  assert.ok(SHOWS.other?.(/** @type {any} */ (row({}))));
  assert.ok(!SHOWS.other?.(/** @type {any} */ (row({ hold_back: 16 }))));
  assert.ok(!SHOWS.other?.(/** @type {any} */ (row({ keep: null }))));
});
