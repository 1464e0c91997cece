// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { answered, asksForName, base64, columnIndex, withColumn } from './fit.js';

/** @param {Partial<import('./fit.js').Doubt>} d @returns {import('./fit.js').Doubt} */
const doubt = (d) => ({
  what: 'kind',
  at: null,
  header: null,
  field: null,
  row: null,
  text: null,
  says: '',
  choices: [],
  ...d,
});

test('columns by their letters', () => {
  assert.deepEqual(['A', 'Z', 'AA', 'AB', 'IV'].map(columnIndex), [0, 25, 26, 27, 255]);
});

test('each kind of doubt is answered in its own place', () => {
  assert.deepEqual(answered({}, doubt({ what: 'kind' }), 'lots'), { kind: 'lots' });
  assert.deepEqual(answered({}, doubt({ what: 'dates' }), 'dmy'), { dates: 'dmy' });
  assert.deepEqual(answered({}, doubt({ what: 'column', at: 1 }), 'lots.clumps'), { columns: [null, 'lots.clumps'] });
  assert.deepEqual(answered({}, doubt({ what: 'rival', at: 2, field: 'lots.clumps' }), 'B'), {
    columns: [null, 'lots.clumps', ''],
  });
  assert.deepEqual(answered({}, doubt({ what: 'rival', at: 1, field: 'lots.clumps' }), 'B'), {
    columns: [null, 'lots.clumps'],
  });
  assert.deepEqual(answered({}, doubt({ what: 'headings', text: 'B D' }), 'orders.quantity@heading'), {
    columns: [null, 'orders.quantity@heading', null, 'orders.quantity@heading'],
  });
  assert.deepEqual(answered({}, doubt({ what: 'missing', field: 'air.room' }), 'north'), {
    constants: [{ field: 'air.room', value: 'north' }],
  });
  assert.deepEqual(answered({}, doubt({ what: 'name', text: 'Dove Gray' }), 'DOV'), {
    names: [{ text: 'Dove Gray', code: 'DOV', new: false }],
  });
  assert.deepEqual(answered({}, doubt({ what: 'name', text: 'Moth' }), '+MOTH'), {
    names: [{ text: 'Moth', code: 'MOTH', new: true }],
  });
});

test('what was said before stays', () => {
  const fit = answered(
    answered({ kind: 'lots' }, doubt({ what: 'dates' }), 'mdy'),
    doubt({ what: 'column', at: 0 }),
    '',
  );
  assert.deepEqual(withColumn(fit, 2, 'lots.lot'), { kind: 'lots', dates: 'mdy', columns: ['', null, 'lots.lot'] });
});

test('bytes as Base64, also long ones', () => {
  const bytes = Uint8Array.from({ length: 100_001 }, (_, i) => (i * 7) % 256);
  assert.equal(base64(bytes), Buffer.from(bytes).toString('base64'));
  assert.equal(base64(new Uint8Array(0)), '');
});

test('a name that another variety has is asked about, a wrong name is not', () => {
  const look = (/** @type {string} */ field) =>
    /** @type {any} */ ({ problems: [{ field: 'varieties.price' }, { field }] });
  assert.equal(asksForName(look('varieties.name'), 409), true);
  assert.equal(asksForName(look('varieties.name'), 422), false);
  assert.equal(asksForName(look('varieties.form'), 409), false);
});
