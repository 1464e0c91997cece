// SPDX-License-Identifier: MIT
// The pure part of comparing rules: who gains and who loses against first-come.

export const RULES = /** @type {const} */ (['first-come', 'pro-rata', 'one-each-first']);

/** @typedef {typeof RULES[number]} Rule */

/** Name of a rule in the answer's fields. @param {Rule} rule */
export function field(rule) {
  return rule.replaceAll('-', '_');
}

/**
 * How many lines, and divisions of them, fare better or worse under a rule than first-come.
 * @param {any[]} lines
 * @param {Rule} rule
 */
export function compare(lines, rule) {
  let gain = 0;
  let lose = 0;
  let nothing = 0;
  let placed = 0;
  for (const line of lines) {
    const by = (line[field(rule)] ?? 0) - (line.first_come ?? 0);
    if (by > 0) gain++;
    if (by < 0) lose++;
    placed += line[field(rule)] ?? 0;
    if ((line[field(rule)] ?? 0) + (line.firm ?? 0) === 0) nothing++;
  }
  return { gain, lose, nothing, placed };
}

/**
 * What a rule does over all varieties.
 * @param {any[]} totals a row a variety and rule
 * @param {Rule} rule
 */
export function inSum(totals, rule) {
  const sum = { placed: 0, short: 0, whole: 0, part: 0, none: 0 };
  for (const row of totals) {
    if (row.rule !== rule) continue;
    sum.placed += row.placed;
    sum.short += row.short;
    sum.whole += row.whole;
    sum.part += row.part;
    sum.none += row.none;
  }
  return sum;
}
