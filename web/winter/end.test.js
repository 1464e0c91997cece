// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { items, throwOutRest, totals, wrongOf } from './end.js';

/** @param {Partial<import('./end.js').Left>} more */
const lot = (more) => ({
  lot: 'L1',
  variety: 'AMB',
  name: 'Amber Lantern',
  places: 'A1',
  clumps: 2,
  divisions: 30,
  held: null,
  hold_back: 12,
  planted: 0,
  to_beds: 12,
  ...more,
});

test('what goes to the beds is proposed, the rest only when it is asked for', () => {
  const lots = [lot({}), lot({ lot: 'L2', to_beds: 0, divisions: 5, clumps: 0 })];
  assert.deepEqual(items(lots, {}), [
    { lot: 'L1', row: undefined, planted: 12, discarded: undefined, clumps_discarded: undefined },
  ]);
  const typed = throwOutRest(lots, { L1: { row: ' B3 ' } });
  assert.deepEqual(items(lots, typed), [
    { lot: 'L1', row: 'B3', planted: 12, discarded: 18, clumps_discarded: 2 },
    { lot: 'L2', row: undefined, planted: undefined, discarded: 5, clumps_discarded: undefined },
  ]);
  assert.deepEqual(totals(lots, typed), { divisions: 35, clumps: 2, planted: 12, discarded: 23, clumpsOut: 2 });
});

test('a lot that is held is not thrown out with the rest', () => {
  const held = lot({ held: 'looks odd', to_beds: 0 });
  assert.deepEqual(items([held], throwOutRest([held], {})), []);
});

test('figures that cannot be are told', () => {
  assert.equal(wrongOf(lot({}), undefined), '');
  assert.equal(wrongOf(lot({}), { planted: '20', discarded: '11' }), 'divisions');
  assert.equal(wrongOf(lot({}), { clumps: '3' }), 'clumps');
  assert.equal(wrongOf(lot({}), { planted: '1,5' }), 'number');
  assert.equal(wrongOf(lot({}), { planted: '', discarded: '30' }), '');
});
