// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { SHOWS, findText, releaseItems, withDrafts, firstBasis, ground, withPlan } from './plan.js';
import { compare } from '../orders/rules.js';

/** @param {string} variety @param {number} offered @param {number} quantity @param {number} sold @returns {any} */
const row = (variety, offered, quantity, sold) => ({
  variety,
  name: `Name ${variety}`,
  form: 'ball',
  colour: 'Rosé',
  offered,
  quantity,
  sold,
  p10: 20,
  hold_back: 5,
  reserve: 1,
});

test('a quantity set by hand takes the place of the plan’s', () => {
  const rows = [row('A', 10, 12, 3), row('B', 10, 10, 3)];
  const out = withDrafts(rows, { B: 7 });
  assert.deepEqual(
    out.map((r) => r.quantity),
    [12, 7],
  );
  assert.deepEqual(
    releaseItems(out, { B: 7 }, true).map((i) => [i.variety, i.before, i.quantity]),
    [['B', 10, 7]],
  );
  assert.deepEqual(
    releaseItems(out, { B: 7 }, false).map((i) => i.variety),
    ['A', 'B'],
  );
  assert.deepEqual(releaseItems([row('C', 4, 4, 0)], {}, false), []);
});

test('what is shown', () => {
  assert.equal(SHOWS.over?.({ ...row('A', 30, 14, 15), by_stock: 14 }), true);
  assert.equal(SHOWS.over?.({ ...row('A', 30, 14, 14), by_stock: 14 }), false);
  assert.equal(SHOWS.soldout?.(row('A', 14, 14, 14)), true);
  assert.equal(SHOWS.changed?.(row('A', 14, 14, 1)), false);
});

test('found by code, name, form and colour without accents', () => {
  assert.ok(findText(row('ABC', 1, 1, 0)).includes('rose'));
  assert.ok(findText(row('ABC', 1, 1, 0), ['OLD']).includes('old'));
});

test('who gains and who loses against first come', () => {
  const lines = [
    { firm: 0, first_come: 3, pro_rata: 1, one_each_first: 1 },
    { firm: 0, first_come: 0, pro_rata: 1, one_each_first: 1 },
    { firm: 0, first_come: 0, pro_rata: 1, one_each_first: 1 },
    { firm: 2, first_come: 0, pro_rata: 0, one_each_first: 0 },
  ];
  assert.deepEqual(compare(lines, 'pro-rata'), { gain: 2, lose: 1, nothing: 0, placed: 3 });
  assert.deepEqual(compare(lines, 'first-come'), { gain: 0, lose: 0, nothing: 2, placed: 3 });
});

test('money is asked for as shares of the price; what makes no sense is not asked', () => {
  const basis = firstBasis({ confidence: '0.85', margin_share: '0.6', short_cost_share: '1.5' });
  assert.deepEqual(basis, { by: 'confidence', confidence: 0.85, earns: '60', costs: '150' });
  assert.deepEqual(ground(basis), { confidence: 0.85 });
  assert.deepEqual(ground({ ...basis, by: 'money' }), { margin_share: 0.6, short_cost_share: 1.5 });
  assert.deepEqual(ground({ ...basis, by: 'money', earns: '12,5', costs: ' 0 ' }), {
    margin_share: 0.125,
    short_cost_share: 0,
  });
  for (const earns of ['', 'much', '-1', '101']) assert.equal(ground({ ...basis, by: 'money', earns }), null, earns);
  assert.equal(ground({ ...basis, by: 'money', earns: '0', costs: '0' }), null);
});

test('the plan lies on its curve, left of it too', () => {
  const at = (/** @type {number} */ confidence) => ({
    confidence,
    offered: 1,
    expected_refunds: '1.00',
    expected_short: 1,
    expected_unsold: 1,
    margin: '1.00',
    too_far: 0,
    too_far_refunds: '0.00',
  });
  const totals = { ...at(0.31), offered: 7, quantity: 9, expected_refunds: '10645.59' };
  const points = withPlan([at(0.5), at(0.9)], totals);
  assert.deepEqual(
    points.map((p) => p.confidence),
    [0.31, 0.5, 0.9],
  );
  assert.equal(points[0]?.expected_refunds, '10645.59');
  assert.equal(points[0]?.offered, 9);
  assert.equal(withPlan([at(0.5), at(0.9)], { ...totals, confidence: 0.9 }).length, 2);
});
