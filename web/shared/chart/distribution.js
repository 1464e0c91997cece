// SPDX-License-Identifier: MIT
// What follows from a distribution of whole divisions for a quantity offered.

/**
 * @typedef {{from: number, step?: number, p: number[]}} Pmf p[i] = P(S = from + i), or where step > 1 the chance of the
 *     step values from from + i * step on
 */
/** @typedef {{p05: number, p10: number, p25: number, p50: number, p75: number, p90: number, p95: number}} Quantiles */

export const LEVELS = /** @type {const} */ (['p05', 'p10', 'p25', 'p50', 'p75', 'p90', 'p95']);

/** The value that p[i] stands for: the middle of its step. @param {Pmf} pmf @param {number} i */
export function valueOf(pmf, i) {
  const step = pmf.step ?? 1;
  return pmf.from + i * step + (step - 1) / 2;
}

/**
 * The chance of falling short, the shorts and the unsold to expect, when `quantity` is offered and sold and
 * `kept` (hold-back and reserve) stays here: saleable = max(0, S - kept).
 * @param {Pmf} pmf
 * @param {number} kept
 * @param {number} quantity
 */
export function figures(pmf, kept, quantity) {
  let pShort = 0;
  let short = 0;
  let unsold = 0;
  for (let i = 0; i < pmf.p.length; i++) {
    const p = pmf.p[i] ?? 0;
    const saleable = Math.max(0, valueOf(pmf, i) - kept);
    if (saleable < quantity) {
      pShort += p;
      short += p * (quantity - saleable);
    } else {
      unsold += p * (saleable - quantity);
    }
  }
  return { pShort, short, unsold };
}

/**
 * The largest quantity that can be delivered whole with at least this confidence.
 * @param {Pmf} pmf
 * @param {number} kept
 * @param {number} confidence
 */
export function quantityAt(pmf, kept, confidence) {
  let below = 0; // P(S < from + i)
  let quantity = 0;
  for (let i = 0; i < pmf.p.length; i++) {
    if (1 - below >= confidence - 1e-9) quantity = Math.max(0, Math.floor(valueOf(pmf, i)) - kept);
    below += pmf.p[i] ?? 0;
  }
  return quantity;
}

/**
 * The same from the seven quantiles of a table row, by straight lines between them: only for the eye while
 * the knife moves; the figures that count come from the server.
 * @param {Quantiles} q
 * @param {number} kept
 * @param {number} confidence
 */
export function roughQuantity(q, kept, confidence) {
  const below = 1 - confidence;
  const at = [0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95];
  const values = LEVELS.map((name) => q[name]);
  const first = values[0] ?? 0;
  const last = values[6] ?? 0;
  if (below <= 0.05)
    return Math.max(0, Math.floor(first - kept - (0.05 - below) * 10 * (1 + (values[2] ?? 0) - first)));
  if (below >= 0.95) return Math.max(0, Math.floor(last - kept));
  let i = 1;
  while (i < 6 && below > (at[i] ?? 1)) i++;
  const a = at[i - 1] ?? 0;
  const b = at[i] ?? 1;
  const low = values[i - 1] ?? 0;
  const high = values[i] ?? 0;
  return Math.max(0, Math.floor(low + ((below - a) / (b - a)) * (high - low) - kept + 1e-9));
}
