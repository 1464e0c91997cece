// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { petals } from './colour.js';

test('colours of other languages have the swatch of ours', () => {
  for (const [theirs, ours] of [
    ['Weiß', 'white'],
    ['rood', 'red'],
    ['jaune', 'yellow'],
    ['dunkelrot', 'dark red'],
    ['roze', 'pink'],
    ['violett', 'violet'],
    ['zweifarbig', 'variegated'],
  ])
    assert.deepEqual(petals(theirs), petals(ours), theirs);
});

test('two colours, a blend, and a word that is no colour', () => {
  assert.deepEqual(petals('rot/gelb'), [...petals('red'), ...petals('yellow')]);
  assert.deepEqual(petals('wit en roze'), [...petals('white'), ...petals('pink')]);
  assert.equal(petals('dark blend').length, 2);
  assert.deepEqual(petals('tall'), []);
  assert.deepEqual(petals('green'), []); // no petal of ours, and not “gre” and “en”
});
