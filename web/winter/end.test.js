// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { items, plantWorth, throwOutRest, totals, wrongOf } from './end.js';

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

test('what is left unsold is planted as far as it is worth it and the beds have places', () => {
  const lots = [lot({}), lot({ lot: 'L2', to_beds: 0, divisions: 9 }), lot({ lot: 'L3', variety: 'BRI', to_beds: 0 })];
  const plan = {
    beds: { places: /** @type {number | null} */ (null) },
    varieties: [
      { variety: 'AMB', up_to: 40, planted: 4 },
      { variety: 'BRI', up_to: 3, planted: 0 },
      { variety: 'CIN', up_to: null, planted: 6 },
    ],
  };
  /** @param {ReturnType<typeof plantWorth>} typed */
  const planted = (typed) => items(lots, typed).map((i) => [i.lot, i.planted]);
  assert.deepEqual(planted(plantWorth(lots, lots, {}, plan)), [
    ['L1', 30],
    ['L2', 6],
    ['L3', 3],
  ]); // 40 - 4 of AMB
  assert.deepEqual(planted(plantWorth(lots, lots, { L1: { discarded: '15' } }, plan)), [
    ['L1', 15],
    ['L2', 9],
    ['L3', 3],
  ]);
  // Only those shown are filled in, and what the others take counts.
  assert.deepEqual(planted(plantWorth([lots[1] ?? lot({})], lots, {}, plan)), [
    ['L1', 12],
    ['L2', 9],
  ]);
  plan.beds.places = 30; // ten of them are planted, twelve are for the hold-back
  assert.deepEqual(planted(plantWorth(lots, lots, {}, plan)), [['L1', 20]]);
  plan.beds.places = 10;
  assert.deepEqual(planted(plantWorth(lots, lots, {}, plan)), [['L1', 12]]);
  const held = [lot({ held: 'looks odd', to_beds: 0 })];
  assert.deepEqual(plantWorth(held, held, {}, { ...plan, beds: { places: null } }), {});
});

test('figures that cannot be are told', () => {
  assert.equal(wrongOf(lot({}), undefined), '');
  assert.equal(wrongOf(lot({}), { planted: '20', discarded: '11' }), 'divisions');
  assert.equal(wrongOf(lot({}), { clumps: '3' }), 'clumps');
  assert.equal(wrongOf(lot({}), { planted: '1,5' }), 'number');
  assert.equal(wrongOf(lot({}), { planted: '', discarded: '30' }), '');
});
