// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { answerOf, giveOut, keptByFrost, meaning, nextOpen, sharesOf, stepsOf } from './walk.js';

/** @param {number} id @param {string} lot @param {number} quantity @param {number} slot @returns {import('./walk.js').Pick} */
const pick = (id, lot, quantity, slot) => ({
  id,
  lot,
  variety: `V${lot}`,
  name: '',
  quantity,
  order: 'o',
  line: 1,
  slot,
  state: 'open',
  taken: 0,
  short_reason: null,
});

const stops = [
  {
    stop: 1,
    id: 11,
    place: 'N01-1',
    room: 'north',
    taken_by: null,
    picks: [pick(1, 'L1', 2, 5), pick(2, 'L1', 3, 4), pick(3, 'L2', 1, 5)],
  },
  { stop: 2, id: 12, place: 'N02-1', room: 'north', taken_by: null, picks: [pick(4, 'L3', 4, 1)] },
];

test('one screen for each lot at each stop', () => {
  const steps = stepsOf(stops, {});
  assert.deepEqual(
    steps.map((s) => [s.stop.stop, s.lot, s.quantity, s.open]),
    [
      [1, 'L1', 5, true],
      [1, 'L2', 1, true],
      [2, 'L3', 4, true],
    ],
  );
});

test('a step is closed when each of its picks is answered, here or on the server', () => {
  const steps = stepsOf(stops, { 1: { taken: 2 }, 2: { taken: 3 } });
  assert.deepEqual(
    steps.map((s) => s.open),
    [false, true, true],
  );
  assert.equal(nextOpen(steps, 0), 1);
  assert.equal(nextOpen(steps, 2), 1);
  assert.equal(nextOpen(stepsOf(stops, { 1: { taken: 2 }, 2: { taken: 3 }, 3: { taken: 1 }, 4: { taken: 4 } }), 0), -1);
});

test('what was taken back is open again, whatever the copy of the list says', () => {
  const done = stops.map((s) => ({ ...s, picks: s.picks.map((p) => ({ ...p, state: 'done', taken: p.quantity })) }));
  assert.equal(nextOpen(stepsOf(done, {}), 0), -1);
  assert.deepEqual(
    stepsOf(done, { 3: 'taken back' }).map((s) => s.open),
    [false, true, false],
  );
  assert.deepEqual(answerOf({ ...pick(1, 'L1', 2, 5), state: 'done', taken: 1, short_reason: 'rotten' }, {}), {
    taken: 1,
    reason: 'rotten',
  });
});

test('what a frost hold keeps is off the walk; what was taken before it still shows', () => {
  const held = stops.map((s) => ({
    ...s,
    picks: s.picks.map((p) => ({ ...p, frost: p.slot === 5 ? 'frost hold: cold snap' : null })),
  }));
  assert.deepEqual(
    stepsOf(held, {}).map((s) => [s.lot, s.quantity]),
    [
      ['L1', 3],
      ['L3', 4],
    ],
  );
  assert.deepEqual(keptByFrost(held, {}), { picks: 2, slots: [5], why: 'frost hold: cold snap' });
  assert.deepEqual(
    stepsOf(held, { 1: { taken: 2 } }).map((s) => [s.lot, s.quantity]),
    [
      ['L1', 5],
      ['L3', 4],
    ],
  );
  assert.deepEqual(keptByFrost(held, { 1: { taken: 2 } }).picks, 1);
  assert.deepEqual(keptByFrost(stops, {}).picks, 0);
});

test('too few are given out by slot, and what was given before stays', () => {
  const two = [pick(1, 'L1', 2, 5), pick(2, 'L1', 3, 4)];
  assert.deepEqual(giveOut(two, {}, 4), { 2: 3, 1: 1 });
  assert.deepEqual(giveOut(two, { 1: { taken: 2 } }, 1), { 1: 2, 2: 1 });
  assert.deepEqual(giveOut([pick(1, 'L1', 2, 5)], {}, 0), { 1: 0 });
});

test('only what is short has a reason; an empty crate is said last, and once', () => {
  const three = [pick(1, 'L1', 2, 5), pick(2, 'L1', 3, 4), pick(3, 'L1', 1, 9)];
  assert.deepEqual(sharesOf(three, {}, { 1: 1, 2: 3, 3: 0 }, 'missing', true), {
    back: [],
    shares: [
      { pick: 2, taken: 3 },
      { pick: 1, taken: 1, reason: 'missing' },
      { pick: 3, taken: 0, reason: 'missing', empty: true },
    ],
  });
  assert.deepEqual(
    sharesOf(three, {}, { 1: 2, 2: 3, 3: 1 }, '', false).shares.map((s) => [s.pick, s.reason]),
    [
      [1, undefined],
      [2, undefined],
      [3, undefined],
    ],
  );
});

test('another slot goes short: what was answered is taken back first, what does not change is left alone', () => {
  const three = [pick(1, 'L1', 2, 5), pick(2, 'L1', 3, 4), pick(3, 'L1', 1, 9)];
  /** @type {import('./walk.js').Answers} */
  const answers = { 1: { taken: 2 }, 2: { taken: 3 } };
  // Of the last slot's one none was there; it is taken out of slot 5, which was filled before.
  assert.deepEqual(sharesOf(three, answers, { 1: 1, 2: 3, 3: 1 }, 'rotten', false), {
    back: [1],
    shares: [
      { pick: 3, taken: 1 },
      { pick: 1, taken: 1, reason: 'rotten' },
    ],
  });
});

test('what a scan means', () => {
  const steps = stepsOf(stops, {});
  const tag = (/** @type {string} */ lot) => ({ lot, place: null });
  assert.deepEqual(meaning(steps, 0, tag('l1'), null), { kind: 'right' });
  assert.deepEqual(meaning(steps, 0, tag('L2'), null), { kind: 'move', to: 1 });
  assert.deepEqual(meaning(steps, 0, tag('L3'), null), { kind: 'elsewhere', to: 2 });
  assert.deepEqual(meaning(steps, 0, tag('L3'), 'L3'), { kind: 'move', to: 2 });
  assert.deepEqual(meaning(steps, 0, tag('L9'), null), { kind: 'unknown' });
  const done = stepsOf(stops, { 1: { taken: 2 }, 2: { taken: 3 } });
  assert.deepEqual(meaning(done, 0, tag('L1'), null), { kind: 'done' });
  assert.deepEqual(meaning(done, 0, tag('L3'), null), { kind: 'move', to: 2 });
});
