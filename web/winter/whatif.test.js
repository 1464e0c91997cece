// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { moved, triedPath } from './whatif.js';

test('only what differs is asked for', () => {
  assert.equal(triedPath({ confidence: 0.9 }, { rot: '1', ship: '', items: [] }), '/api/plan?confidence=0.9');
  const path = triedPath(
    { confidence: 0.9 },
    {
      rot: '2',
      ship: '2032-04-26',
      items: [
        { variety: 'A', field: 'price', value: '7.50' },
        { variety: 'B', field: 'reserve', value: '3' },
      ],
    },
  );
  assert.equal(new URL(path, 'http://x').searchParams.get('try'), 'A:price:7.50,B:reserve:3');
  assert.equal(new URL(path, 'http://x').searchParams.get('rot'), '2');
});

test('the largest change first, the unmoved left out', () => {
  const rows = (/** @type {number[]} */ q) => q.map((quantity, i) => ({ variety: `V${i}`, name: '', quantity }));
  assert.deepEqual(
    moved(rows([5, 9, 4]), rows([5, 7, 14])).map((m) => [m.variety, m.before, m.after]),
    [
      ['V2', 4, 14],
      ['V1', 9, 7],
    ],
  );
});
