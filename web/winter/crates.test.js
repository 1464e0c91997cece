// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { LOOKS, STEPS, dayAfter, levelOf, roomsOf, shareOn, shown } from './crates.js';

const days = ['2032-02-20', '2032-03-01', '2032-03-11', '2032-03-21', '2032-03-31'];
/** @param {any} more @returns {any} */
const place = (more) => ({
  place: 'N1',
  room: 'north',
  walk_order: 1,
  lots: 2,
  held: 1,
  clumps: 10,
  divisions: 30,
  weeks: 3,
  ...Object.fromEntries(
    [0, 1, 2, 3, 4].flatMap((k) => [
      [`rot_${k}`, k / 10],
      [`dry_${k}`, k / 5],
    ]),
  ),
  ...more,
});
const cellar = /** @type {any} */ ({ today: days[0], ship: days[4], days, rooms: [], places: [] });

test('a share between two known days lies straight between theirs, and holds at the ends', () => {
  const known = [0, 0.1, 0.2, 0.4, 0.8];
  assert.equal(shareOn(known, days, '2032-02-20'), 0);
  assert.ok(Math.abs(shareOn(known, days, '2032-03-16') - 0.3) < 1e-9);
  assert.ok(Math.abs(shareOn(known, days, '2032-03-31') - 0.8) < 1e-9);
  assert.ok(Math.abs(shareOn(known, days, '2032-05-01') - 0.8) < 1e-9);
  assert.equal(shareOn([0.3, 0.3, 0.3, 0.3, 0.3], Array(5).fill('2032-02-20'), '2032-02-20'), 0.3);
});

test('what a place shows by each choice', () => {
  const on = '2032-03-16';
  const of = (/** @type {any} */ look, /** @type {any} */ more = {}) => shown(place(more), look, cellar, on);
  assert.equal(of('undivided'), 0.25);
  assert.equal(of('held'), 0.5);
  assert.ok(Math.abs((of('age') ?? 0) - (3 + 25 / 7)) < 1e-9);
  assert.ok(Math.abs((of('rot') ?? 0) - 0.25) < 1e-9);
  assert.ok(Math.abs((of('drying') ?? 0) - 0.5) < 1e-9);
  assert.equal(of('drying', { divisions: 0 }), null);
  for (const look of LOOKS) assert.equal(of(look, { clumps: 0, divisions: 0 }), null);
});

test('five levels, and none where there is nothing', () => {
  assert.deepEqual(
    [0, 0.02, 0.06, 0.1, 0.5].map((v) => levelOf('rot', v)),
    [0, 1, 2, 3, 4],
  );
  assert.equal(levelOf('rot', null), null);
  for (const look of LOOKS)
    assert.deepEqual(
      [...STEPS[look]].sort((a, b) => a - b),
      [...STEPS[look]],
    );
});

test('rooms stand as they are walked through', () => {
  const list = [place({ room: 'south', place: 'S1' }), place({}), place({ room: 'south', place: 'S2' })];
  assert.deepEqual(
    roomsOf(list).map((r) => [r.room, r.places.map((p) => p.place)]),
    [
      ['south', ['S1', 'S2']],
      ['north', ['N1']],
    ],
  );
  assert.equal(dayAfter('2032-02-28', 2), '2032-03-01');
});
