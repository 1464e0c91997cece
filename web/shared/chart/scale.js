// SPDX-License-Identifier: MIT
// Straight scales and their marks.

/** 1, 2 or 5 times a power of ten, not below what is asked. @param {number} least */
export function niceStep(least) {
  if (!(least > 0)) return 1;
  const power = 10 ** Math.floor(Math.log10(least));
  for (const m of [1, 2, 5, 10]) if (m * power >= least * 0.999999) return m * power;
  return 10 * power;
}

/**
 * Round values between two ends.
 * @param {number} low
 * @param {number} high
 * @param {number} about how many
 */
export function marks(low, high, about) {
  const step = niceStep((high - low) / Math.max(1, about));
  const out = [];
  for (let v = Math.ceil(low / step - 1e-9) * step; v <= high + step * 1e-6; v += step)
    out.push(Math.round(v / step) * step || 0);
  return out;
}

/**
 * @param {number} fromLow
 * @param {number} fromHigh
 * @param {number} toLow
 * @param {number} toHigh
 * @returns {(v: number) => number}
 */
export function scale(fromLow, fromHigh, toLow, toHigh) {
  const span = fromHigh - fromLow || 1;
  return (v) => toLow + ((v - fromLow) / span) * (toHigh - toLow);
}

/** @param {[number, number][]} points @param {(v: number) => number} x @param {(v: number) => number} y */
export function linePath(points, x, y) {
  return points.map(([px, py], i) => `${i ? 'L' : 'M'}${x(px).toFixed(1)} ${y(py).toFixed(1)}`).join('');
}

/**
 * A line that keeps its height until it changes.
 * @param {[number, number][]} points
 * @param {(v: number) => number} x
 * @param {(v: number) => number} y
 */
export function stepPath(points, x, y) {
  let path = '';
  points.forEach(([px, py], i) => {
    path += i ? `H${x(px).toFixed(1)}V${y(py).toFixed(1)}` : `M${x(px).toFixed(1)} ${y(py).toFixed(1)}`;
  });
  return path;
}

/**
 * The area between two lines.
 * @param {[number, number, number][]} points x, low, high
 * @param {(v: number) => number} x
 * @param {(v: number) => number} y
 */
export function bandPath(points, x, y) {
  if (points.length === 0) return '';
  const up = points.map(([px, , high]) => `${x(px).toFixed(1)} ${y(high).toFixed(1)}`);
  const down = points.map(([px, low]) => `${x(px).toFixed(1)} ${y(low).toFixed(1)}`).reverse();
  return `M${up.join('L')}L${down.join('L')}Z`;
}
