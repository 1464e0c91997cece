// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { enteredOf } from './entered.js';

const movement = {
  day: '2032-02-20',
  clumps: 0,
  divisions: 0,
  reason: 'moved',
  cause: 'move',
  cause_id: 7,
  reverses: null,
};

test('newest first; a move is one entry of two movements; what was reversed says so', () => {
  const list = enteredOf({
    sessions: [{ id: 3, day: '2032-02-10', clumps: 5, rotten: 1, saleable: 17, blind: 4, place: 'N1', undone: false }],
    checks: [{ id: 9, day: '2032-02-12', stage: 'clump', inspected: 40, rotten: 2, shrivelled: null, undone: true }],
    counts: [],
    splits: [],
    movements: [
      { ...movement, id: 20, place: 'N1', clumps: -4 },
      { ...movement, id: 21, place: 'S2', clumps: 4 },
      { ...movement, id: 22, place: 'N1', divisions: -1, reason: 'missing', cause: 'entry', cause_id: 8 },
      { ...movement, id: 23, place: 'N1', divisions: 1, reason: 'missing', cause: 'entry', cause_id: 8, reverses: 22 },
      { ...movement, id: 24, place: 'N1', divisions: 17, reason: 'divided', cause: 'dividing', cause_id: 3 },
    ],
  });
  assert.deepEqual(
    list.map((e) => [e.cause, e.id, e.undone]),
    [
      ['entry', 8, true],
      ['move', 7, false],
      ['check', 9, true],
      ['dividing', 3, false],
    ],
  );
  assert.deepEqual(list[1]?.values, { n: 4, stage: 'clump', from: 'N1', to: 'S2', place: 'S2', reason: 'moved' });
});

test('a part that was split off is one entry, and no move', () => {
  const list = enteredOf({
    sessions: [],
    checks: [],
    counts: [],
    splits: [
      { id: 7, day: '2032-02-20', lot: 'L1B', variety: 'CIN', came: false, clumps: 4, divisions: 2, undone: false },
    ],
    movements: [
      { ...movement, id: 20, place: 'N1', clumps: -4 },
      { ...movement, id: 21, place: 'N2', divisions: -2 },
    ],
  });
  assert.equal(list.length, 1);
  assert.deepEqual([list[0]?.cause, list[0]?.id, list[0]?.text], ['move', 7, 'entered.split_off']);
  assert.deepEqual(list[0]?.values, { clumps: 4, divisions: 2, lot: 'L1B', variety: 'CIN' });
});
