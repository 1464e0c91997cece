// SPDX-License-Identifier: MIT
// The tuber plot's geometry. A predictive distribution is drawn as a lying, mirrored silhouette: it swells where a
// number of divisions is likely and tapers where it is not, like a tuber. From left to right: the crown at 0, the
// neck, the body, the root. Two cuts go through it: what is kept (hold-back and reserve) at the neck, and the knife
// at the quantity offered. Between them lie the outcomes in which the nursery falls short (hatched: their share of
// the body is the chance of it); beyond the knife those in which all that is offered can be delivered (filled).

import { LEVELS, valueOf } from './distribution.js';

/** @typedef {import('./distribution.js').Quantiles} Quantiles */
/** @typedef {import('./distribution.js').Pmf} Pmf */
/** @typedef {{weight: number, low: number, high: number}} Slab a share of the outcomes, spread evenly from low to high */
/** @typedef {{x: number, half: number}} Point horizontal place and half thickness, in drawing units */

/**
 * @param {Quantiles} q
 * @returns {Slab[]}
 */
export function slabsOfQuantiles(q) {
  const at = [0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95];
  const value = LEVELS.map((name) => q[name]);
  const v = (/** @type {number} */ i) => value[i] ?? 0;
  const slabs = [{ weight: 0.05, low: Math.max(0, v(0) - (v(2) - v(0)) * 0.8), high: v(0) }];
  for (let i = 1; i < at.length; i++)
    slabs.push({ weight: (at[i] ?? 0) - (at[i - 1] ?? 0), low: v(i - 1), high: v(i) });
  slabs.push({ weight: 0.05, low: v(6), high: v(6) + (v(6) - v(4)) * 0.8 });
  return slabs;
}

/**
 * @param {Pmf} pmf
 * @returns {Slab[]}
 */
export function slabsOfPmf(pmf) {
  const slabs = [];
  for (let i = 0; i < pmf.p.length; i++) {
    const weight = pmf.p[i] ?? 0;
    const half = ((pmf.step ?? 1) - 1) / 2;
    const value = valueOf(pmf, i);
    if (weight > 1e-7) slabs.push({ weight, low: value - half, high: value + half });
  }
  return slabs;
}

/** How far the drawing must reach to hold the distribution. @param {Slab[]} slabs */
export function reachOf(slabs) {
  return slabs.reduce((most, slab) => Math.max(most, slab.high), 0);
}

/** Standard deviation of the outcomes. @param {Slab[]} slabs */
export function spreadOf(slabs) {
  let w = 0;
  let mean = 0;
  let square = 0;
  for (const s of slabs) {
    const middle = (s.low + s.high) / 2;
    w += s.weight;
    mean += s.weight * middle;
    square += s.weight * (middle * middle + (s.high - s.low) ** 2 / 12);
  }
  if (w === 0) return 0;
  mean /= w;
  return Math.sqrt(Math.max(0, square / w - mean * mean));
}

/**
 * The silhouette: half thickness along x. The slabs are smoothed by a normal kernel, so that whole numbers and
 * seven quantiles both give a skin without steps.
 * @param {Slab[]} slabs
 * @param {{width: number, half: number, max: number, neck: number, step?: number}} box drawing units; `max` = value at
 *     the right edge; `neck` = least half thickness between crown and body
 * @returns {Point[]}
 */
export function outline(slabs, box) {
  // Nothing there is no tuber: not even a thin one.
  if (reachOf(slabs) < 0.5)
    return [
      { x: 0, half: 0 },
      { x: box.width, half: 0 },
    ];
  const unit = box.max > 0 ? box.width / box.max : 0;
  const step = box.step ?? 2;
  const kernel = Math.max(spreadOf(slabs) * 0.28, (1.4 * step) / Math.max(unit, 1e-9), 0.3);
  const count = Math.max(2, Math.ceil(box.width / step) + 1);
  const density = new Array(count).fill(0);
  let most = 0;
  for (let i = 0; i < count; i++) {
    const value = Math.min(i * step, box.width) / Math.max(unit, 1e-9);
    let sum = 0;
    for (const s of slabs) sum += s.weight * slabDensity(value, s, kernel);
    density[i] = sum;
    if (sum > most) most = sum;
  }
  const peak = density.indexOf(most);
  return density.map((d, i) => {
    const body = most > 0 ? (d / most) * box.half : 0;
    // Neck before the body, a thread of root behind it that runs out.
    const thread = i <= peak ? box.neck : 0;
    return { x: Math.min(i * step, box.width), half: Math.max(body, thread) };
  });
}

/** @param {number} x @param {Slab} s @param {number} kernel */
function slabDensity(x, s, kernel) {
  const width = s.high - s.low;
  if (width < kernel * 0.05) {
    const z = (x - (s.low + s.high) / 2) / kernel;
    return Math.exp(-0.5 * z * z) / (kernel * 2.5066282746);
  }
  return (normalBelow((x - s.low) / kernel) - normalBelow((x - s.high) / kernel)) / width;
}

/** Φ(z) by a logistic curve: within 0.01, enough for a drawing. @param {number} z */
function normalBelow(z) {
  return 1 / (1 + Math.exp(-1.702 * z));
}

/**
 * Where the neck ends and the body begins: the first place that is thicker than the neck.
 * @param {Point[]} points
 * @param {number} neck
 */
export function bodyStart(points, neck) {
  const first = points.findIndex((p) => p.half > neck + 1e-9);
  return first <= 0 ? 0 : (points[first - 1]?.x ?? 0);
}

/**
 * One piece of the silhouette between two cuts, as a closed path around the middle line y = `middle`.
 * @param {Point[]} points
 * @param {number} from
 * @param {number} to
 * @param {number} middle
 */
export function piecePath(points, from, to, middle) {
  const inside = straight(slice(points, from, to));
  if (inside.length < 2) return '';
  const above = inside.map((p) => `${round(p.x)} ${round(middle - p.half)}`);
  const below = inside.map((p) => `${round(p.x)} ${round(middle + p.half)}`).reverse();
  return `M${above.join('L')}L${below.join('L')}Z`;
}

/** Without the points on a level line between their neighbours (neck, thread of root). @param {Point[]} points */
function straight(points) {
  return points.filter(
    (p, i) => i === 0 || i === points.length - 1 || p.half !== points[i - 1]?.half || p.half !== points[i + 1]?.half,
  );
}

/** @param {Point[]} points @param {number} from @param {number} to */
function slice(points, from, to) {
  if (!(to > from)) return [];
  const inside = points.filter((p) => p.x > from && p.x < to);
  return [{ x: from, half: halfAt(points, from) }, ...inside, { x: to, half: halfAt(points, to) }].filter(
    (p) => p.half > 0.05,
  );
}

/** Half thickness at x, by straight lines. @param {Point[]} points @param {number} x */
export function halfAt(points, x) {
  const first = points[0];
  const last = points[points.length - 1];
  if (!first || !last) return 0;
  if (x <= first.x) return first.half;
  if (x >= last.x) return last.half;
  let low = 0;
  let high = points.length - 1;
  while (high - low > 1) {
    const mid = (low + high) >> 1;
    if ((points[mid]?.x ?? 0) <= x) low = mid;
    else high = mid;
  }
  const a = points[low] ?? first;
  const b = points[high] ?? last;
  return b.x === a.x ? a.half : a.half + ((x - a.x) / (b.x - a.x)) * (b.half - a.half);
}

/** @param {number} n */
function round(n) {
  return Math.round(n * 10) / 10;
}
