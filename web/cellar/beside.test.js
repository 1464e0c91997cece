// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { besides, muchRotten } from './beside.js';

const lot = (/** @type {any} */ more) => ({
  clumps: 5,
  divisions: 0,
  row: null,
  dug_on: '2031-10-20',
  places: '',
  ...more,
});
const place = (/** @type {string} */ name, /** @type {string} */ room, /** @type {number} */ walk) => ({
  place: name,
  room,
  walk_order: walk,
});

test('what shares the row, then the day, then the room by how near it lies; what holds nothing is left out', () => {
  const places = Array.from({ length: 14 }, (_, i) => place(`N${i}`, i < 12 ? 'north' : 'south', 10 * i));
  const lots = [
    lot({ lot: 'L1', row: 'A1', places: 'N5' }),
    lot({ lot: 'L2', row: 'A1', dug_on: '2031-10-21' }),
    lot({ lot: 'L3', row: 'A1', clumps: 0 }),
    lot({ lot: 'L4', row: 'A2' }),
    lot({ lot: 'L5', row: null, dug_on: '2031-10-22', places: 'N13' }),
    ...Array.from({ length: 12 }, (_, i) => lot({ lot: `R${i}`, dug_on: '2031-11-01', places: `N${i}, N13` })),
  ];
  const found = besides(/** @type {any} */ (lots), /** @type {any} */ (places), 'L1');
  assert.deepEqual(
    found.row.map((l) => l.lot),
    ['L2'],
  );
  assert.deepEqual(
    found.day.map((l) => l.lot),
    ['L4'],
  );
  assert.deepEqual(
    found.room.map((l) => l.lot),
    ['R5', 'R4', 'R6', 'R3', 'R7', 'R2', 'R8', 'R1'],
  );
});

test('a lot that nobody knows, and one without row and place', () => {
  assert.deepEqual(besides([], [], 'L1'), { row: [], day: [], room: [] });
  const lots = /** @type {any} */ ([lot({ lot: 'L1' }), lot({ lot: 'L2', dug_on: '2031-10-21' })]);
  assert.deepEqual(besides(lots, [], 'L1'), { row: [], day: [], room: [] });
});

test('much is one of ten, or two of forty', () => {
  assert.deepEqual(
    [
      [1, 10],
      [1, 11],
      [2, 40],
      [2, 41],
      [0, 5],
      [0, 0],
    ].map(([r, n]) => muchRotten(r ?? 0, n ?? 0)),
    [true, false, true, false, false, false],
  );
});
