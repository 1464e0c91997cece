// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import {
  byWalk,
  faultsAt,
  isChanged,
  rangeOf,
  readCells,
  readPasted,
  readRows,
  toSend,
  withBlock,
  withCells,
  withGone,
  withMoved,
  withNew,
} from './records.js';

const PLACES = ['place', 'room', 'walk_order'].map((column) => ({
  kind: 'places',
  column,
  required: true,
  holds: '',
  key: column === 'place',
  type: 'text',
  words: null,
}));
const places = () => readRows('place,room,walk_order\nA1,cellar,10\nA2,cellar,20\nB1,shed,30\n');

test('cells are read as RFC 4180, 2, writes them', () => {
  assert.deepEqual(readCells('a,"b ""c""","d,e"\n,"two\nlines", x \n'), [
    ['a', 'b "c"', 'd,e'],
    ['', 'two\nlines', ' x '],
  ]);
  assert.deepEqual(readCells('a,b\r\n1,2'), [['a', 'b'], ['1', '2']]); // prettier-ignore
  assert.deepEqual(readCells('"",x\n'), [['', 'x']]);
});

test('one word pasted is no block; a row or a column is', () => {
  assert.equal(readPasted('word'), null);
  assert.equal(readPasted('word\n'), null);
  assert.deepEqual(readPasted('a\tb'), [['a', 'b']]);
  assert.deepEqual(readPasted('a\r\nb\r\n'), [['a'], ['b']]);
  assert.deepEqual(readPasted('"two\nlines"\tb'), [['two\nlines', 'b']]);
});

test('ranges', () => {
  assert.deepEqual(rangeOf('S01-1…S01-3'), ['S01-1', 'S01-2', 'S01-3']);
  assert.deepEqual(rangeOf('A08 .. A11'), ['A08', 'A09', 'A10', 'A11']);
  assert.deepEqual(rangeOf('9…11'), ['9', '10', '11']);
  assert.deepEqual(rangeOf('shelf'), ['shelf']);
  for (const bad of ['', 'A1…B3', 'A3…A1', 'A…C', 'A1…A2…A3', 'A1…A9999']) assert.equal(rangeOf(bad), null, bad);
});

test('a block is laid from a cell on, makes rows below the last, and may bring its own headings', () => {
  const rows = places();
  const laid = withBlock(rows, rows, ['place', 'room', 'walk_order'], 2, 'room', [
    ['attic', '31'],
    ['loft', '41'],
  ]);
  assert.deepEqual(laid[2]?.now, { place: 'B1', room: 'attic', walk_order: '31' });
  assert.deepEqual(laid[3]?.now, { room: 'loft', walk_order: '41' });
  const named = withBlock(rows, rows, ['place', 'room', 'walk_order'], 0, 'place', [
    ['walk order', 'place'],
    ['5', 'A1'],
  ]);
  assert.deepEqual(named[0]?.now, { place: 'A1', room: 'cellar', walk_order: '5' });
});

test('a place is moved: between its neighbours, or all are numbered anew', () => {
  const order = (/** @type {any[]} */ rows) =>
    byWalk(rows)
      .map((r) => `${r.now.place} ${r.now.walk_order}`)
      .join(', ');
  assert.equal(order(withMoved(places(), 2, 1)), 'A1 10, B1 15, A2 20');
  assert.equal(order(withMoved(places(), 2, 0)), 'B1 5, A1 10, A2 20');
  assert.equal(order(withMoved(places(), 0, 9)), 'A2 20, B1 30, A1 40');
  const tight = withCells(places(), 1, { walk_order: '11' });
  assert.equal(order(withMoved(tight, 2, 1)), 'A1 10, B1 20, A2 30');
});

test('what is sent', () => {
  let rows = withCells(places(), 0, { place: ' C1 ' });
  rows = withGone(rows, 2);
  rows = withNew(rows, [{ place: 'D1', room: 'shed' }, {}]);
  assert.deepEqual(toSend(PLACES, rows).rows, [
    { was: { place: 'A1', room: 'cellar', walk_order: '10' }, now: { place: 'C1', room: 'cellar', walk_order: '10' } },
    { was: { place: 'B1', room: 'shed', walk_order: '30' }, now: null },
    { was: null, now: { place: 'D1', room: 'shed' } },
  ]);
  assert.deepEqual(toSend(PLACES, places()), { sent: [], rows: [] });
});

test('a fault is told at its cell', () => {
  const rows = withCells(places(), 1, { walk_order: 'x' });
  const { sent } = toSend(PLACES, rows);
  const at = faultsAt(
    [
      { row: 1, column: 'walk_order', detail: 'must be a number' },
      { row: 99, detail: 'elsewhere' },
    ],
    sent,
  );
  assert.deepEqual([...at], [['1 walk_order', 'must be a number']]);
  assert.ok(isChanged(/** @type {any} */ (rows[1])) && !isChanged(/** @type {any} */ (rows[0])));
});
