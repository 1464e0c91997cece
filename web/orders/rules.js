// SPDX-License-Identifier: MIT
// The pure part of comparing rules: who gains and who loses against first-come.

/** @typedef {string} Rule as the server names it */

/**
 * What making a rule firm would do, exactly: a row a rule.
 * @typedef {{rule: Rule, lines: number, placed: number, short: number, whole: number, part: number, none: number, others: number}} Sum
 */

/** The rule that the others are held against: orders as they came. */
export const PLAIN = 'first-come';

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
    const by = (line[field(rule)] ?? 0) - (line[field(PLAIN)] ?? 0);
    if (by > 0) gain++;
    if (by < 0) lose++;
    placed += line[field(rule)] ?? 0;
    if ((line[field(rule)] ?? 0) + (line.firm ?? 0) === 0) nothing++;
  }
  return { gain, lose, nothing, placed };
}
