// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { toKeep, toShow } from '../shared/percent.js';
import { QUESTIONS, grouped } from './settings.js';

test('each setting stands under one question; what none names is folded with the rare ones', () => {
  const all = QUESTIONS.flatMap((q) => /** @type {readonly string[]} */ (q.names));
  assert.equal(new Set(all).size, all.length);
  assert.deepEqual(grouped(['seed', 'confidence', 'brand_new']), [
    { ask: 'sure', names: ['confidence'] },
    { ask: 'rare', names: ['seed', 'brand_new'] },
  ]);
});

test('shares are shown and typed in percent', () => {
  assert.equal(toShow('confidence', '0.9'), '90');
  assert.equal(toShow('short_cost_share', '1.5'), '150');
  assert.equal(toShow('confidence', '0.925'), '92.5');
  assert.equal(toShow('ship_days', '30'), '30');
  assert.equal(toKeep('confidence', 92.5), '0.925');
  assert.equal(toKeep('short_cost_share', 150), '1.5');
  assert.equal(toKeep('confidence', 100), null);
  assert.equal(toKeep('confidence', 0.9), null); // who types a share is told, not believed
  for (const percent of [50, 66.6, 99.9])
    assert.equal(toShow('confidence', toKeep('confidence', percent) ?? ''), String(percent));
});
