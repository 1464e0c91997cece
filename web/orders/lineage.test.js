// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { askFor, neighbour, partsOf } from './lineage.js';

/** @param {Partial<import('./lineage.js').Node>} n @returns {any} */
const node = (n) => ({
  node: 1,
  under: null,
  season: 2031,
  kind: 'lot',
  way: 'came',
  code: 'L1',
  row: null,
  variety: 'A',
  name: 'A',
  was: null,
  day: '2031-10-01',
  quantity: 3,
  sent: 0,
  sure: true,
  held: null,
  file: 'a.db',
  ...n,
});
const tree = [
  node({ node: 1 }),
  node({ node: 2, under: 1, kind: 'planting', code: null, row: 'r9' }),
  node({ node: 3, under: 2 }),
  node({ node: 4, under: 1, sure: false }),
];

test('arrow keys go line by line, to what came of it and to what it came from', () => {
  assert.equal(neighbour(tree, 0, 'ArrowDown'), 1);
  assert.equal(neighbour(tree, 0, 'ArrowUp'), null);
  assert.equal(neighbour(tree, 3, 'ArrowDown'), null);
  assert.equal(neighbour(tree, 1, 'ArrowRight'), 2);
  assert.equal(neighbour(tree, 2, 'ArrowRight'), null);
  assert.equal(neighbour(tree, 3, 'ArrowLeft'), 0);
  assert.equal(neighbour(tree, 0, 'ArrowLeft'), null);
  assert.equal(neighbour(tree, 1, 'End'), 3);
  assert.equal(neighbour(tree, 3, 'Home'), 0);
  assert.equal(neighbour(tree, 3, 'x'), null);
});

test('a lot and a row are asked for in their own season, and nothing is where there is no file', () => {
  assert.deepEqual(askFor(tree[0]), { lot: 'L1', season: '2031' });
  assert.deepEqual(askFor(tree[1]), { row: 'r9', season: '2031' });
  assert.equal(askFor(node({ file: null })), null);
  assert.equal(askFor(node({ kind: 'planting', code: null })), null);
  assert.equal(askFor(node({ kind: 'variety', code: null })), null);
});

test('what is said of a node', () => {
  const keys = (/** @type {any} */ n) => partsOf(node(n)).map(([k]) => k);
  assert.deepEqual(keys({}), ['lineage.dug']);
  assert.deepEqual(keys({ kind: 'planting' }), ['lineage.planted']);
  assert.deepEqual(keys({ was: 'B', sent: 2, held: 'gall', sure: false, file: null, quantity: null }), [
    'lineage.was',
    'lineage.sent',
    'lineage.held',
    'lineage.unsure',
    'lineage.no_file',
  ]);
});
