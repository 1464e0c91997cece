// SPDX-License-Identifier: MIT
// Settings that are kept as a share and thought of in percent.

/** The least and the most in percent; kept as a share. @type {Record<string, [number, number]>} */
export const PERCENT = {
  confidence: [50, 99.9],
  demand_confidence: [0, 90],
  margin_share: [0, 100],
  short_cost_share: [0, 2000],
  plant_discount: [50, 100],
  establishment: [5, 100],
  rot_low: [0, 95],
  rot_high: [0, 95],
};

/** 0.9 is shown as 90. @param {string} name @param {string} value */
export function toShow(name, value) {
  if (!PERCENT[name] || value.trim() === '' || Number.isNaN(Number(value))) return value;
  return String(Math.round(Number(value) * 1e6) / 1e4);
}

/** 90 is kept as 0.9; null where it lies outside. @param {string} name @param {number} percent @returns {string | null} */
export function toKeep(name, percent) {
  const [low, high] = PERCENT[name] ?? [-Infinity, Infinity];
  return percent >= low && percent <= high ? String(Math.round(percent * 1e4) / 1e6) : null;
}
