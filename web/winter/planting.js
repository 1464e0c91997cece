// SPDX-License-Identifier: MIT
// The pure part of the planting page: what a figure between two known ones is worth, what next spring may give, what is written.

import { plain } from '../shared/grid/grid.js';

/** @typedef {import('../contract').Answers['GET /api/keep']['varieties'][number]} KeepRow */
/** @typedef {import('../contract').Answers['GET /api/keep/{code}']} KeepSheet */
/** @typedef {Record<string, number>} Typed figures by hand, by variety */

/** Normal quantiles of the levels that a tuber is drawn by. */
const LEVELS = /** @type {const} */ ([
  ['p05', -1.645],
  ['p10', -1.2816],
  ['p25', -0.6745],
  ['p50', 0],
  ['p75', 0.6745],
  ['p90', 1.2816],
  ['p95', 1.645],
]);

/**
 * About what next spring gives of so many plants: lognormal with the mean and the variance that the plan has. For a picture.
 * @param {{growth: number, growth_sd: number, growth_spread: number}} of
 * @param {number} plants
 * @returns {import('../shared/chart/distribution.js').Quantiles}
 */
export function nextSpring(of, plants) {
  const mean = of.growth * plants;
  if (!(mean > 0)) return { p05: 0, p10: 0, p25: 0, p50: 0, p75: 0, p90: 0, p95: 0 };
  const variance = of.growth_spread * mean + Math.expm1(of.growth_sd ** 2) * mean ** 2;
  const s = Math.sqrt(Math.log1p(variance / mean ** 2));
  const q = LEVELS.map(([name, z]) => [name, mean * Math.exp(z * s - (s * s) / 2)]);
  return /** @type {any} */ (Object.fromEntries(q));
}

/**
 * A column of the curve at any figure, on straight lines between the figures that it has.
 * @param {KeepSheet['curve']} curve
 * @param {number} keep
 * @param {'value' | 'places' | 'for_sale' | 'sold' | 'next'} column
 */
export function atKeep(curve, keep, column) {
  let before = curve[0];
  if (!before) return null;
  for (const point of curve) {
    if (point.keep >= keep) {
      const part = point.keep === before.keep ? 1 : (keep - before.keep) / (point.keep - before.keep);
      return Number(before[column]) + part * (Number(point[column]) - Number(before[column]));
    }
    before = point;
  }
  return Number(before[column]);
}

/** What is lost against the best, never below nothing. @param {KeepSheet} sheet @param {number} keep */
export function lossAt(sheet, keep) {
  const value = atKeep(sheet.curve, keep, 'value');
  return value === null || sheet.value === null ? null : Math.max(0, Number(sheet.value) - value);
}

/** @type {Record<string, (row: KeepRow) => import('../shared/grid/grid.js').Value>} */
export const SORTS = {
  variety: (r) => r.variety,
  name: (r) => r.name,
  keep: (r) => r.keep,
  hold_back: (r) => r.hold_back,
  loss: (r) => (r.loss_of_hold_back === null ? null : Number(r.loss_of_hold_back)),
  growth: (r) => r.growth,
  demand: (r) => r.demand,
  places: (r) => r.places,
  least: (r) => r.least,
};

/** @type {Record<string, (row: KeepRow) => boolean>} */
export const SHOWS = {
  all: () => true,
  other: (r) => r.keep !== null && (r.hold_back < (r.low ?? 0) || r.hold_back > (r.high ?? 0)),
  build: (r) => r.all,
  wanting: (r) => r.needs !== null,
};

/** @param {KeepRow} r */
export function findText(r) {
  return plain([r.variety, r.name].filter(Boolean).join(' '));
}

/**
 * What would be written: the plan's figures and those by hand, of all rows or of those ticked.
 * @param {KeepRow[]} rows
 * @param {Typed} typed
 * @param {Set<string> | null} ticked null: all
 */
export function writeItems(rows, typed, ticked) {
  return rows
    .filter((r) => ticked === null || ticked.has(r.variety))
    .map((r) => ({ variety: r.variety, name: r.name, before: r.hold_back, keep: typed[r.variety] ?? r.keep }))
    .filter((i) => i.keep !== null && i.keep !== i.before)
    .map((i) => ({ ...i, keep: Number(i.keep) }));
}
