// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { daysOf, minutesText, totalsOf } from './cutting.js';

const task = (/** @type {Partial<import('./cutting.js').Board['tasks'][number]>} */ more) =>
  /** @type {any} */ ({ day: '2032-01-12', step: 'cut', lot: 'L1', clumps: 10, frees: 4, brings: '8.50', ...more });

test('five working days', () => {
  const days = ['12', '13', '14', '15', '16', '19'].map((d) => ({ day: `2032-01-${d}` }));
  assert.deepEqual(
    daysOf(/** @type {any} */ ({ days })).map((d) => d.day),
    days.slice(0, 5).map((d) => d.day),
  );
});

test('what is cut brings; washing and days that are not shown do not; a lot of two days brings once', () => {
  const tasks = [
    task({}),
    task({ step: 'wash' }),
    task({ day: '2032-01-13', clumps: 5 }),
    task({ day: '2032-01-19', lot: 'L9' }),
    task({ lot: 'L2', frees: 1, brings: '1.00' }),
  ];
  assert.deepEqual(totalsOf(/** @type {any} */ ({ tasks }), [{ day: '2032-01-12' }, { day: '2032-01-13' }]), {
    clumps: 25,
    frees: 5,
    brings: 9.5,
  });
});

test('minutes as a clock shows them', () => {
  assert.equal(minutesText(75), '1:15');
  assert.equal(minutesText(0), '0:00');
  assert.equal(minutesText(420), '7:00');
});
