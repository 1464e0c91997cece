// SPDX-License-Identifier: MIT
// The pure part of the cellar as a place to look at: what a place shows by the choice made, on a day between two that are known.

/** @typedef {import('../contract').Answers['GET /api/cellar']} Cellar */
/** @typedef {Cellar['places'][number]} Place */
/** @typedef {'undivided' | 'rot' | 'drying' | 'age' | 'held'} Look */

/** @type {Look[]} */
export const LOOKS = ['undivided', 'rot', 'drying', 'age', 'held'];

/** Where each of the levels 1 to 4 begins; below the first is 0. Shares, and weeks for age. */
export const STEPS = /** @type {const} */ ({
  undivided: [0.01, 0.25, 0.5, 0.75],
  rot: [0.02, 0.05, 0.1, 0.2],
  drying: [0.02, 0.05, 0.15, 0.3],
  age: [2, 4, 8, 12],
  held: [0.01, 0.25, 0.5, 0.75],
});

/** @param {string} from @param {string} to */
export function daysBetween(from, to) {
  return Math.round((Date.parse(`${to}T00:00:00Z`) - Date.parse(`${from}T00:00:00Z`)) / 86400000);
}

/** @param {string} day @param {number} by */
export function dayAfter(day, by) {
  return new Date(Date.parse(`${day}T00:00:00Z`) + by * 86400000).toISOString().slice(0, 10);
}

/**
 * A share on a day, straight between the days that are known.
 * @param {number[]} known
 * @param {string[]} days
 * @param {string} day
 */
export function shareOn(known, days, day) {
  let i = 0;
  while (i < days.length - 2 && (days[i + 1] ?? '') < day) i++;
  const width = daysBetween(days[i] ?? day, days[i + 1] ?? day);
  const part = width > 0 ? Math.min(1, Math.max(0, daysBetween(days[i] ?? day, day) / width)) : 0;
  return (known[i] ?? 0) * (1 - part) + (known[i + 1] ?? known[i] ?? 0) * part;
}

/**
 * What a place shows; null: it holds nothing of the kind.
 * @param {Place} place
 * @param {Look} look
 * @param {Cellar} cellar
 * @param {string} day
 * @returns {number | null}
 */
export function shown(place, look, cellar, day) {
  const things = place.clumps + place.divisions;
  if (things === 0) return null;
  if (look === 'undivided') return place.clumps / things;
  if (look === 'held') return place.lots > 0 ? place.held / place.lots : null;
  if (look === 'age') return place.weeks + daysBetween(cellar.today, day) / 7;
  if (look === 'rot')
    return shareOn([place.rot_0, place.rot_1, place.rot_2, place.rot_3, place.rot_4], cellar.days, day);
  return place.divisions > 0
    ? shareOn([place.dry_0, place.dry_1, place.dry_2, place.dry_3, place.dry_4], cellar.days, day)
    : null;
}

/** 0 to 4; null stays null. @param {Look} look @param {number | null} value */
export function levelOf(look, value) {
  return value === null ? null : STEPS[look].filter((step) => value >= step).length;
}

/** Rooms in walking order, each with its places. @param {Place[]} places @returns {{room: string, places: Place[]}[]} */
export function roomsOf(places) {
  /** @type {Map<string, Place[]>} */
  const found = new Map();
  for (const p of places) {
    const list = found.get(p.room ?? '');
    if (list) list.push(p);
    else found.set(p.room ?? '', [p]);
  }
  return [...found].map(([room, list]) => ({ room, places: list }));
}
