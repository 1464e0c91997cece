// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { beforeEach, test } from 'node:test';
import { forgetOwn, isOwn, noteOwn, saidOf } from './own.js';

const PATH = '/api/orders/J-1';
beforeEach(forgetOwn);

test('what the page wrote over the value that it still shows is its own', () => {
  noteOwn(PATH, { paid: '' }, { paid: 'yes' }, 0);
  assert.ok(isOwn(PATH, { paid: '' }, { paid: 'yes' }, 400));
  assert.ok(isOwn(PATH, { paid: null }, { paid: 'yes' }, 400), 'nothing is null in one answer and empty in another');
});

test('somebody else’s value is not, nor one of another address, nor one written over something else', () => {
  noteOwn(PATH, { paid: '' }, { paid: 'yes' }, 0);
  assert.ok(!isOwn(PATH, { paid: '' }, { paid: 'no' }, 400), 'they said otherwise');
  assert.ok(!isOwn('/api/orders/J-2', { paid: '' }, { paid: 'yes' }, 400));
  assert.ok(
    !isOwn(PATH, { paid: 'no' }, { paid: 'yes' }, 400),
    'the page showed theirs meanwhile, and they changed it again',
  );
  assert.ok(!isOwn(PATH, { paid: '', week: '3' }, { paid: 'yes', week: '4' }, 400), 'one of two is theirs');
});

test('a figure is the same as text, and one of a list goes by its variety', () => {
  const body = { items: [{ variety: 'BRUDO', quantity: 40 }] };
  assert.equal(saidOf(body, 'BRUDO'), 40);
  noteOwn('/api/releases', { BRUDO: 30 }, body, 0);
  assert.ok(isOwn('/api/releases', { BRUDO: 30 }, { BRUDO: 40 }, 10));
  noteOwn('/api/varieties/BRUDO', { hold_back: 3 }, { hold_back: '4' }, 0);
  assert.ok(isOwn('/api/varieties/BRUDO', { hold_back: 3 }, { hold_back: 4 }, 10));
});

test('after a minute, and for the next person, it is asked', () => {
  noteOwn(PATH, { paid: '' }, { paid: 'yes' }, 0);
  assert.ok(!isOwn(PATH, { paid: '' }, { paid: 'yes' }, 60_001));
  noteOwn(PATH, { paid: '' }, { paid: 'yes' }, 100_000);
  forgetOwn();
  assert.ok(!isOwn(PATH, { paid: '' }, { paid: 'yes' }, 100_001));
});
