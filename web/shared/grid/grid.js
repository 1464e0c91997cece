// SPDX-License-Identifier: MIT
// The pure part of the table: order, filter, groups, and which rows are in sight.

/** @typedef {string | number | null | undefined} Value */
/** @typedef {{key: string, down: boolean}} Sorting */

/**
 * Sorted copy; equal rows keep their order, what is unknown comes last either way.
 * @template R
 * @param {R[]} rows
 * @param {(row: R) => Value} value
 * @param {boolean} down
 * @param {Intl.Collator} collator
 * @returns {R[]}
 */
export function sortRows(rows, value, down, collator) {
  const sign = down ? -1 : 1;
  const pairs = rows.map((row) => ({ row, v: comparable(value(row)) }));
  // Plain letters compare by themselves, a fifth of what a collator takes; figures in text need it.
  const collated = pairs.some((p) => typeof p.v === 'string' && /[^a-z ]/.test(p.v));
  return pairs
    .sort((a, b) => {
      if (a.v === null || b.v === null) return Number(a.v === null) - Number(b.v === null);
      if (typeof a.v === 'number' && typeof b.v === 'number') return sign * (a.v - b.v);
      if (collated) return sign * collator.compare(String(a.v), String(b.v));
      return a.v < b.v ? -sign : a.v > b.v ? sign : 0;
    })
    .map((pair) => pair.row);
}

/** @param {Value} value @returns {string | number | null} */
function comparable(value) {
  if (value === null || value === undefined || value === '') return null;
  return typeof value === 'number' ? value : plain(value);
}

/** Letters without case or accents, as people type them. @param {string} text */
export function plain(text) {
  return text.normalize('NFKD').replace(/\p{M}/gu, '').toLowerCase();
}

/**
 * Rows whose text holds every word of the query.
 * @template R
 * @param {R[]} rows
 * @param {(row: R) => string} text already plain
 * @param {string} query
 * @returns {R[]}
 */
export function filterRows(rows, text, query) {
  const words = plain(query).split(/\s+/).filter(Boolean);
  if (words.length === 0) return rows;
  return rows.filter((row) => {
    const all = text(row);
    return words.every((word) => all.includes(word));
  });
}

/**
 * Rows with a heading before each group; groups in alphabetical order, rows keep theirs.
 * @template R
 * @param {R[]} rows
 * @param {((row: R) => string) | null} group
 * @returns {({kind: 'row', row: R} | {kind: 'group', name: string, count: number})[]}
 */
export function groupRows(rows, group) {
  if (!group) return rows.map((row) => ({ kind: /** @type {const} */ ('row'), row }));
  /** @type {Map<string, R[]>} */
  const groups = new Map();
  for (const row of rows) {
    const name = group(row);
    const list = groups.get(name);
    if (list) list.push(row);
    else groups.set(name, [row]);
  }
  return [...groups]
    .sort(([a], [b]) => a.localeCompare(b))
    .flatMap(([name, list]) => [
      { kind: /** @type {const} */ ('group'), name, count: list.length },
      ...list.map((row) => ({ kind: /** @type {const} */ ('row'), row })),
    ]);
}

/**
 * The rows to draw: those in sight and a few on either side.
 * @param {number} top scroll position
 * @param {number} height of the view
 * @param {number} rowHeight
 * @param {number} count
 * @param {number} [spare] on either side
 */
export function inSight(top, height, rowHeight, count, spare = 3) {
  const first = Math.max(0, Math.min(Math.floor(top / rowHeight) - spare, count - 1));
  const last = Math.min(count, Math.ceil((top + height) / rowHeight) + spare);
  return { first: Math.max(0, first), last };
}
