// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { filterRows, groupRows, inSight, plain, sortRows } from './grid.js';

const collator = new Intl.Collator('en', { numeric: true });
const rows = [
  { code: 'B10', n: /** @type {number | null} */ (3) },
  { code: 'B2', n: null },
  { code: 'A1', n: 7 },
  { code: 'C', n: 3 },
];

test('sorts by number and by text, numbers in text as numbers', () => {
  assert.deepEqual(
    sortRows(rows, (r) => r.code, false, collator).map((r) => r.code),
    ['A1', 'B2', 'B10', 'C'],
  );
  assert.deepEqual(
    sortRows(rows, (r) => r.n, true, collator).map((r) => r.code),
    ['A1', 'B10', 'C', 'B2'],
  );
});

test('what is unknown comes last either way, equals keep their order', () => {
  assert.deepEqual(
    sortRows(rows, (r) => r.n, false, collator).map((r) => r.code),
    ['B10', 'C', 'A1', 'B2'],
  );
});

test('every word must be found, without case and accents', () => {
  const text = (/** @type {{code: string}} */ r) => plain(r.code === 'C' ? 'C Thé Violette' : r.code);
  assert.deepEqual(
    filterRows(rows, text, 'VIOL the').map((r) => r.code),
    ['C'],
  );
  assert.equal(filterRows(rows, text, '  ').length, 4);
  assert.equal(filterRows(rows, text, 'viol zzz').length, 0);
});

test('groups with their headings', () => {
  const out = groupRows(rows, (r) => r.code[0] ?? '');
  assert.deepEqual(
    out.map((i) => (i.kind === 'group' ? `${i.name}:${i.count}` : i.row.code)),
    ['A:1', 'A1', 'B:2', 'B10', 'B2', 'C:1', 'C'],
  );
});

test('only the rows in sight and a few more', () => {
  assert.deepEqual(inSight(0, 300, 30, 1500), { first: 0, last: 13 });
  assert.deepEqual(inSight(30000, 300, 30, 1500), { first: 997, last: 1013 });
  assert.deepEqual(inSight(0, 300, 30, 0), { first: 0, last: 0 });
  assert.deepEqual(inSight(99999, 300, 30, 10), { first: 9, last: 10 });
});
