// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { NO_ORDER, nextNumber, orderBody, totalOf, varietyOf, wrongLine } from './neworder.js';

const varieties = [
  { code: 'ABCDE', name: 'Abbot Candle', price: '8.50' },
  { code: 'FGHIJ', name: 'Figgle', price: '7.00' },
];

test('phone orders have a series of their own', () => {
  assert.equal(nextNumber([]), 'T-0001');
  assert.equal(nextNumber(['2031-0900', 'T-0009', 'T-0010', 'T-x', 'T-2']), 'T-0011');
  assert.equal(nextNumber(['T-9999']), 'T-10000');
});

test('a variety by code or by name', () => {
  assert.equal(varietyOf(varieties, ' abcde ')?.code, 'ABCDE');
  assert.equal(varietyOf(varieties, 'figgle')?.code, 'FGHIJ');
  assert.equal(varietyOf(varieties, 'fig'), undefined);
});

test('the sum, in either way of writing money', () => {
  assert.equal(
    totalOf([
      { variety: 'ABCDE', quantity: '3', price: '8,50' },
      { variety: 'FGHIJ', quantity: '2', price: '$7.00' },
      { variety: '', quantity: 'x', price: '1' },
    ]),
    3950,
  );
});

test('what is wrong names the line and what was typed', () => {
  const line = { variety: 'ABCDE', quantity: '1', price: '8.50' };
  assert.equal(wrongLine({ ...NO_ORDER, lines: [line] }, varieties), null);
  assert.deepEqual(wrongLine({ ...NO_ORDER, lines: [line, { ...line, variety: 'nope' }] }, varieties), {
    line: 2,
    key: 'new.no_variety',
    what: 'nope',
  });
  assert.deepEqual(wrongLine({ ...NO_ORDER, lines: [line, { ...line, variety: 'Abbot Candle' }] }, varieties), {
    line: 2,
    key: 'new.twice',
    what: 'ABCDE',
  });
  for (const quantity of ['0', '-1', '1.5', ''])
    assert.equal(wrongLine({ ...NO_ORDER, lines: [{ ...line, quantity }] }, varieties)?.key, 'new.no_quantity');
  for (const price of ['', 'x', '-2'])
    assert.equal(wrongLine({ ...NO_ORDER, lines: [{ ...line, price }] }, varieties)?.key, 'new.no_price');
});

test('what is sent: no empty fields, prices as the interface carries them', () => {
  const typed = {
    ...NO_ORDER,
    customer: ' Ann ',
    week: '2032-W18',
    consent: 'named',
    named: 'fghij, abcde',
    lines: [{ variety: 'abbot candle', quantity: '2', price: '8,5' }],
  };
  assert.deepEqual(orderBody(typed, varieties, 'T-0001'), {
    order: 'T-0001',
    channel: 'phone',
    tier: 'retail',
    customer: 'Ann',
    wish_week: '2032-W18',
    lines: [
      { line: 1, variety: 'ABCDE', quantity: 2, unit_price: '8.50', consent: 'named', named: ['FGHIJ', 'ABCDE'] },
    ],
  });
});
