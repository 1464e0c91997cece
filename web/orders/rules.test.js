// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { compare } from './rules.js';

test('who gains and who loses against first come', () => {
  const lines = [
    { firm: 0, first_come: 3, pro_rata: 2 },
    { firm: 1, first_come: 0, pro_rata: 0 },
    { firm: 0, first_come: 0, pro_rata: 1 },
  ];
  assert.deepEqual(compare(lines, 'pro-rata'), { gain: 1, lose: 1, nothing: 0, placed: 3 });
  assert.deepEqual(compare(lines, 'first-come'), { gain: 0, lose: 0, nothing: 1, placed: 3 });
});
