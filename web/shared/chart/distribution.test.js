// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { figures, quantityAt, roughQuantity } from './distribution.js';

/** @param {number} mean @param {number} most */
function poisson(mean, most) {
  const p = [Math.exp(-mean)];
  for (let k = 1; k <= most; k++) p.push(((p[k - 1] ?? 0) * mean) / k);
  return { from: 0, p };
}

test('shorts and unsold follow the loss function table of Poisson(1.25)', () => {
  // G. Cachon, C. Terwiesch, Matching Supply with Demand, loss function table: Q, F(Q), L(Q) = E max(0, X - Q).
  const table = [
    [1, 0.644636, 0.5365],
    [2, 0.868468, 0.18114],
    [3, 0.961731, 0.04961],
    [4, 0.990876, 0.01134],
    [5, 0.998162, 0.00221],
  ];
  const pmf = poisson(1.25, 30);
  for (const [q = 0, cdf = 0, loss = 0] of table) {
    const here = figures(pmf, 0, q);
    assert.ok(Math.abs(here.unsold - loss) < 6e-6, `unsold at ${q}`);
    // What is short: E max(0, Q - X) = Q - mean + L(Q).
    assert.ok(Math.abs(here.short - (q - 1.25 + loss)) < 6e-6, `short at ${q}`);
    assert.ok(Math.abs(figures(pmf, 0, q + 1).pShort - cdf) < 1e-6, `P(S < ${q + 1})`);
  }
});

test('the quantity at a confidence is the largest that keeps it', () => {
  // Poisson(4.25): F(10) = 0.9955659059, F(11) = 0.9984858259 (exact values); P(S >= q) = 1 - F(q - 1).
  const pmf = poisson(4.25, 60);
  for (const confidence of [0.5, 0.8, 0.9, 0.95]) {
    const q = quantityAt(pmf, 0, confidence);
    assert.ok(1 - figures(pmf, 0, q).pShort >= confidence);
    assert.ok(1 - figures(pmf, 0, q + 1).pShort < confidence);
  }
  assert.equal(quantityAt(pmf, 0, 0.00443), 11);
});

test('what is kept comes off first, and never below nothing', () => {
  const pmf = { from: 10, p: [0.5, 0.5] };
  assert.equal(quantityAt(pmf, 4, 0.9), 6);
  assert.equal(quantityAt(pmf, 50, 0.9), 0);
  assert.deepEqual(figures(pmf, 50, 2), { pShort: 1, short: 2, unsold: 0 });
});

test('the rough quantity meets the quantiles it is drawn from', () => {
  const q = { p05: 10, p10: 12, p25: 15, p50: 20, p75: 26, p90: 33, p95: 37 };
  assert.equal(roughQuantity(q, 0, 0.9), 12);
  assert.equal(roughQuantity(q, 0, 0.5), 20);
  assert.equal(roughQuantity(q, 2, 0.75), 13);
  let last = Infinity;
  for (let c = 50; c <= 99; c++) {
    const now = roughQuantity(q, 0, c / 100);
    assert.ok(now <= last, `falls as the confidence rises: ${c}`);
    last = now;
  }
});
