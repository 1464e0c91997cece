// SPDX-License-Identifier: MIT
// Idle pages: by the clock that the phone has, which may be put back or forward, and over the tabs of one browser.

import assert from 'node:assert/strict';
import { afterEach, beforeEach, test } from 'node:test';
import { watchIdle } from './idle.js';

const MINUTE = 60_000;
/** @type {Map<string, string>} */
let kept;

/** A tab of the browser: what it listens to, told by `touch`. @param {() => void} onIdle */
function tab(onIdle) {
  /** @type {Map<string, Set<() => void>>} */
  const listeners = new Map();
  const target = {
    addEventListener: (/** @type {string} */ name, /** @type {() => void} */ f) =>
      void listeners.set(name, (listeners.get(name) ?? new Set()).add(f)),
    removeEventListener: (/** @type {string} */ name, /** @type {() => void} */ f) => listeners.get(name)?.delete(f),
  };
  Object.assign(globalThis, { window: target, document: target });
  const stop = watchIdle(15 * MINUTE, onIdle);
  return { stop, touch: () => listeners.get('keydown')?.forEach((f) => f()) };
}

/** The wall clock, which may be put back; and the machine's own time, by which its timers run. */
let wall = 0;
let ran = 0;
/** @type {Map<number, {every: number, next: number, f: () => void}>} */
let timers;
const real = { now: Date.now, set: globalThis.setInterval, clear: globalThis.clearInterval };

/** Time goes by. @param {number} ms */
function pass(ms) {
  for (const end = ran + ms; ran < end;) {
    ran += 1000;
    wall += 1000;
    for (const [id, t] of [...timers])
      if (timers.has(id) && t.next <= ran) {
        t.next += t.every;
        t.f();
      }
  }
}

beforeEach(() => {
  kept = new Map();
  timers = new Map();
  wall = Date.UTC(2032, 1, 20, 12);
  ran = 0;
  Date.now = () => wall;
  Object.assign(globalThis, {
    setInterval: (/** @type {() => void} */ f, /** @type {number} */ every) => {
      timers.set(timers.size + 1, { every, next: ran + every, f });
      return timers.size;
    },
    clearInterval: (/** @type {number} */ id) => timers.delete(id),
    localStorage: {
      getItem: (/** @type {string} */ k) => kept.get(k) ?? null,
      setItem: (/** @type {string} */ k, /** @type {string} */ v) => void kept.set(k, v),
    },
  });
});
afterEach(() => {
  Date.now = real.now;
  Object.assign(globalThis, { setInterval: real.set, clearInterval: real.clear });
});

test('who touches nothing is signed out once, after the time', () => {
  let out = 0;
  const t = tab(() => out++);
  pass(14 * MINUTE);
  assert.equal(out, 0);
  t.touch();
  pass(14 * MINUTE);
  assert.equal(out, 0);
  pass(2 * MINUTE);
  assert.equal(out, 1);
  pass(60 * MINUTE);
  assert.equal(out, 1);
});

test('a clock that is put back by a day keeps nobody signed in for a day', () => {
  let out = 0;
  tab(() => out++);
  pass(5 * MINUTE);
  wall -= 24 * 60 * MINUTE;
  pass(14 * MINUTE);
  assert.equal(out, 0, 'counted from when the clock was put back');
  pass(2 * MINUTE);
  assert.equal(out, 1);
});

test('a touch in one tab counts in the others', () => {
  let first = 0;
  let second = 0;
  const a = tab(() => first++);
  tab(() => second++);
  pass(10 * MINUTE);
  a.touch();
  pass(10 * MINUTE);
  assert.deepEqual([first, second], [0, 0]);
  pass(6 * MINUTE);
  assert.deepEqual([first, second], [1, 1]);
});
