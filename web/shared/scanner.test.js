// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { GAP_MS, Wedge, readTag } from './scanner.js';

/** @param {string} text @param {number} gap */
function type(text, gap) {
  const wedge = new Wedge();
  let at = 1000;
  for (const key of text) wedge.press(key, (at += gap));
  return wedge.press('Enter', at + gap);
}

test('keys 10 ms apart ended by Enter are a scan', () => assert.equal(type('L0031 N01-3', 10), 'L0031 N01-3'));
test('a hand at 90 ms is not', () => assert.equal(type('L0031', 90), null));
test('the gap decides', () => {
  assert.equal(type('L0031', GAP_MS - 1), 'L0031');
  assert.equal(type('L0031', GAP_MS), null);
});
test('two quick letters and Enter are not', () => assert.equal(type('ok', 5), null));
test('the slip of a season’s second parcel is', () => assert.equal(type('P2', 5), 'P2'));

test('Shift in between is passed over, an arrow key ends the burst', () => {
  const wedge = new Wedge();
  for (const [key, at] of /** @type {[string, number][]} */ ([
    ['Shift', 1],
    ['L', 5],
    ['0', 12],
    ['Shift', 15],
    ['1', 20],
  ]))
    wedge.press(key, at);
  assert.equal(wedge.press('Enter', 25), 'L01');
  for (const [key, at] of /** @type {[string, number][]} */ ([
    ['L', 105],
    ['ArrowLeft', 110],
    ['1', 115],
  ]))
    wedge.press(key, at);
  assert.equal(wedge.press('Enter', 120), null);
});

test('slow typing right before a scan is not part of it', () => {
  const wedge = new Wedge();
  wedge.press('7', 0);
  let at = 500;
  for (const key of 'L0031') wedge.press(key, (at += 8));
  assert.equal(wedge.press('Enter', at + 8), 'L0031');
});

test('a tag says lot and place', () => {
  assert.deepEqual(readTag('L0031 N01-3'), { lot: 'L0031', place: 'N01-3' });
  assert.deepEqual(readTag(' L0031@N01-3 '), { lot: 'L0031', place: 'N01-3' });
  assert.deepEqual(readTag('L0031'), { lot: 'L0031', place: null });
});
