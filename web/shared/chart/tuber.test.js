// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { bodyStart, halfAt, outline, piecePath, reachOf, slabsOfPmf, slabsOfQuantiles } from './tuber.js';

const Q = { p05: 40, p10: 46, p25: 55, p50: 66, p75: 78, p90: 90, p95: 98 };
const BOX = { width: 160, half: 7, max: 120, neck: 0.7 };

/** Share of the silhouette's area left of x. @param {{x: number, half: number}[]} points @param {number} x */
function areaBelow(points, x) {
  let below = 0;
  let all = 0;
  for (let i = 1; i < points.length; i++) {
    const a = points[i - 1];
    const b = points[i];
    if (!a || !b) continue;
    const part = ((a.half + b.half) / 2) * (b.x - a.x);
    all += part;
    if (b.x <= x) below += part;
  }
  return below / all;
}

test('slabs hold all outcomes', () => {
  const weight = slabsOfQuantiles(Q).reduce((sum, s) => sum + s.weight, 0);
  assert.ok(Math.abs(weight - 1) < 1e-12);
  assert.equal(reachOf(slabsOfQuantiles(Q)), 98 + (98 - 78) * 0.8);
});

test('the body swells where outcomes are likely: its area left of a quantile is about that quantile', () => {
  const points = outline(slabsOfQuantiles(Q), { ...BOX, neck: 0 });
  /** @type {[number, number][]} */
  const named = [
    [46, 0.1],
    [55, 0.25],
    [66, 0.5],
    [78, 0.75],
    [90, 0.9],
  ];
  for (const [value, share] of named) {
    const drawn = areaBelow(points, (value / BOX.max) * BOX.width);
    assert.ok(Math.abs(drawn - share) < 0.05, `left of ${value}: ${drawn}`);
  }
});

test('the silhouette stays in its box and peaks at full height', () => {
  const points = outline(slabsOfQuantiles(Q), BOX);
  assert.ok(Math.max(...points.map((p) => p.half)) > 6.99);
  for (const p of points) assert.ok(p.half >= 0 && p.half <= 7 && p.x >= 0 && p.x <= 160);
});

test('a count known for certain is a short thick tuber', () => {
  const sure = { p05: 30, p10: 30, p25: 30, p50: 30, p75: 30, p90: 30, p95: 30 };
  const points = outline(slabsOfQuantiles(sure), { ...BOX, max: 40 });
  const thick = points.filter((p) => p.half > 1).map((p) => p.x);
  assert.ok(Math.min(...thick) > 105 && Math.max(...thick) < 135);
  assert.ok(points.every((p) => Number.isFinite(p.half)));
});

test('nothing at all is drawn without a fault', () => {
  const none = { p05: 0, p10: 0, p25: 0, p50: 0, p75: 0, p90: 0, p95: 0 };
  const points = outline(slabsOfQuantiles(none), { ...BOX, max: 1 });
  assert.ok(points.every((p) => p.half === 0));
  assert.equal(piecePath(points, 0, BOX.width, 7), '');
  assert.equal(piecePath(outline(slabsOfPmf({ from: 0, p: [1] }), { ...BOX, max: 4 }), 0, BOX.width, 7), '');
  assert.equal(piecePath(points, 5, 5, 7), '');
});

test('pieces meet at their cuts and leave nothing out', () => {
  const points = outline(slabsOfPmf({ from: 20, p: [0.1, 0.2, 0.4, 0.2, 0.1] }), { ...BOX, max: 30 });
  const cut = 118;
  const left = piecePath(points, 0, cut, 8);
  const right = piecePath(points, cut, 160, 8);
  const at = Math.round((8 - halfAt(points, cut)) * 10) / 10;
  assert.ok(left.includes(`${cut} ${at}`) && right.startsWith(`M${cut} ${at}`));
  assert.ok(left.endsWith('Z') && right.endsWith('Z'));
});

test('the neck ends where the body begins', () => {
  const points = outline(slabsOfQuantiles(Q), BOX);
  const start = bodyStart(points, BOX.neck);
  assert.ok(start > 0 && start < (46 / BOX.max) * BOX.width);
  assert.ok(halfAt(points, start) <= BOX.neck + 1e-9);
});
