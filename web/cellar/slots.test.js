// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { lotsOf, scanLabel, slotOf, slotsOf } from './slots.js';

/** @param {number} id @param {number} slot @param {object} [more] @returns {any} */
const parcel = (id, slot, more) => ({ id, slot, order: `A-${id}`, state: 'open', frost: null, unpaid: false, ...more });
/** @param {number} id @param {number} slot @param {object} [more] @returns {any} */
const pick = (id, slot, more) => ({
  id,
  slot,
  parcel: slot,
  lot: 'L1',
  variety: 'AMB',
  name: 'Amber',
  quantity: 2,
  state: 'done',
  taken: 2,
  held: null,
  short_reason: null,
  ...more,
});

const wave = /** @type {any} */ ({
  stops: [
    { stop: 1, picks: [pick(1, 1), pick(2, 2), pick(3, 3, { held: 'rot' }), pick(8, 6, { taken: 0 })] },
    {
      stop: 4,
      picks: [pick(4, 2, { state: 'open', taken: 0, lot: 'L2' }), pick(5, 1, { lot: 'L2', quantity: 1, taken: 1 })],
    },
  ],
  put_back: [{ slot: 4 }],
});
const list = [
  parcel(1, 1),
  parcel(9, 1),
  parcel(2, 2),
  parcel(3, 3),
  parcel(4, 4),
  parcel(5, 5, { state: 'packed' }),
  parcel(6, 6),
];

test('a big order lies in several slots and is one tile, found by each of them', () => {
  const big = /** @type {any} */ ({
    stops: [
      { stop: 1, picks: [pick(1, 5), pick(2, 7)] },
      { stop: 2, picks: [pick(3, 6, { parcel: 5 })] },
    ],
    put_back: [],
  });
  const slots = slotsOf([parcel(5, 5), parcel(7, 7)], big, {}, {});
  assert.deepEqual(
    slots.map((s) => [s.slot, s.slots.join(), s.taken]),
    [
      [5, '5,6', 4],
      [7, '7', 2],
    ],
  );
  assert.equal(slotOf(slots, 'SLOT 6')?.slot, 5);
  assert.equal(slotOf(slots, 'slot7')?.slot, 7);
});

test('a tile a slot: complete, waits for a stop, held, cancelled, empty, closed; who travels together is one', () => {
  const slots = slotsOf(list, wave, {}, {});
  assert.deepEqual(
    slots.map((s) => [s.slot, s.state, s.orders.join('+'), s.taken, s.stops.join()]),
    [
      [1, 'complete', 'A-1+A-9', 3, ''],
      [2, 'waits', 'A-2', 2, '4'],
      [3, 'held', 'A-3', 2, ''],
      [4, 'cancelled', 'A-4', 0, ''],
      [5, 'packed', 'A-5', 0, ''],
      [6, 'empty', 'A-6', 0, ''],
    ],
  );
  assert.equal(slotsOf([parcel(1, 1, { frost: 'frost hold' })], wave, {}, {})[0]?.state, 'held');
  assert.equal(slotsOf([parcel(1, 1, { unpaid: true })], wave, {}, {})[0]?.state, 'held');
  assert.equal(slotsOf(list, wave, {}, { 1: true, 9: true })[0]?.state, 'packed');
});

test('a scan of the slip, of the order or of the slot opens it', () => {
  const slots = slotsOf(list, wave, {}, {});
  assert.equal(slotOf(slots, 'P9')?.slot, 1);
  assert.equal(slotOf(slots, 'a-2')?.slot, 2);
  assert.equal(slotOf(slots, 'SLOT 3')?.slot, 3);
  assert.equal(slotOf(slots, 'L1 AMB'), undefined);
});

test('labels are counted until nothing is missing', () => {
  const slot = /** @type {any} */ (slotsOf(list, wave, {}, {})[0]);
  const lots = lotsOf(slot, {});
  assert.deepEqual(
    lots.map((l) => [l.lot, l.taken]),
    [
      ['L1', 2],
      ['L2', 1],
    ],
  );
  let at = scanLabel(lots, {}, 'L1 AMB');
  assert.deepEqual([at.wrong, at.full], [null, false]);
  at = scanLabel(lots, at.scanned, 'l1@AMB');
  assert.deepEqual(scanLabel(lots, at.scanned, 'L1 AMB').wrong, { lot: 'L1', why: 'too_many' });
  assert.deepEqual(scanLabel(lots, at.scanned, 'L7 AMB').wrong, { lot: 'L7', why: 'not_in' });
  assert.equal(scanLabel(lots, at.scanned, 'L2 BRI').full, true);
});
