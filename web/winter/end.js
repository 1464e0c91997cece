// SPDX-License-Identifier: MIT
// The pure part of the season's end: what is typed of each lot becomes one entry for all.

/** @typedef {import('../contract').Row<'GET /api/season/left'>} Left */
/** @typedef {{planted?: string, row?: string, discarded?: string, clumps?: string}} Typed */
/** @typedef {{lot: string, row?: string, planted?: number, discarded?: number, clumps_discarded?: number}} Item */

/** @param {string | undefined} text @returns {number} NaN if it is no whole number */
export const whole = (text) =>
  text === undefined || text.trim() === '' ? 0 : /^\d{1,8}$/.test(text.trim()) ? Number(text.trim()) : NaN;

/** What stands in a lot's fields: what is typed, else what still goes to the beds. @param {Left} lot @param {Typed} [typed] */
export function figures(lot, typed = {}) {
  return {
    planted: typed.planted === undefined ? lot.to_beds : whole(typed.planted),
    row: typed.row?.trim() ?? '',
    discarded: whole(typed.discarded),
    clumps: whole(typed.clumps),
  };
}

/** Why a lot's figures cannot be: 'number', 'divisions', 'clumps', or '' @param {Left} lot @param {Typed} [typed] */
export function wrongOf(lot, typed) {
  const f = figures(lot, typed);
  if (Number.isNaN(f.planted + f.discarded + f.clumps)) return 'number';
  if (f.planted + f.discarded > lot.divisions) return 'divisions';
  return f.clumps > lot.clumps ? 'clumps' : '';
}

/** Throws out whatever is left of every lot. @param {Left[]} lots @param {Record<string, Typed>} typed */
export function throwOutRest(lots, typed) {
  /** @type {Record<string, Typed>} */
  const next = { ...typed };
  for (const lot of lots) {
    const f = figures(lot, typed[lot.lot]);
    if (lot.held !== null || Number.isNaN(f.planted)) continue;
    next[lot.lot] = {
      ...typed[lot.lot],
      discarded: String(Math.max(0, lot.divisions - f.planted)),
      clumps: String(lot.clumps),
    };
  }
  return next;
}

/**
 * What is left unsold goes to the beds, too, as far as the plan says that it is worth it and there are places: first what is there
 * of the hold-backs, then the lots in their order. Nothing is taken from what is typed.
 * @param {Left[]} lots those to be filled in
 * @param {Left[]} all
 * @param {Record<string, Typed>} typed
 * @param {{beds: {places: number | null}, varieties: {variety: string, up_to: number | null, planted: number}[]}} plan
 */
export function plantWorth(lots, all, typed, plan) {
  /** @type {Record<string, Typed>} */
  const next = { ...typed };
  const room = new Map(plan.varieties.map((v) => [v.variety, (v.up_to ?? 0) - v.planted]));
  let places = (plan.beds.places ?? Infinity) - plan.varieties.reduce((sum, v) => sum + v.planted, 0);
  for (const lot of all) {
    const n = figures(lot, typed[lot.lot]).planted || 0;
    room.set(lot.variety, (room.get(lot.variety) ?? 0) - n);
    places -= n;
  }
  for (const lot of lots) {
    const f = figures(lot, typed[lot.lot]);
    const free = lot.divisions - (f.planted || 0) - (f.discarded || 0);
    const more = Math.min(free, room.get(lot.variety) ?? 0, places);
    if (lot.held !== null || wrongOf(lot, typed[lot.lot]) !== '' || more <= 0) continue;
    room.set(lot.variety, (room.get(lot.variety) ?? 0) - more);
    places -= more;
    next[lot.lot] = { ...typed[lot.lot], planted: String(f.planted + more) };
  }
  return next;
}

/** Of lots of which anything is said. @param {Left[]} lots @param {Record<string, Typed>} typed @returns {Item[]} */
export function items(lots, typed) {
  return lots
    .map((lot) => ({ lot: lot.lot, f: figures(lot, typed[lot.lot]) }))
    .filter(({ f }) => f.planted + f.discarded + f.clumps > 0)
    .map(({ lot, f }) => ({
      lot,
      row: f.planted > 0 && f.row ? f.row : undefined,
      planted: f.planted || undefined,
      discarded: f.discarded || undefined,
      clumps_discarded: f.clumps || undefined,
    }));
}

/** @param {Left[]} lots @param {Record<string, Typed>} typed */
export function totals(lots, typed) {
  const sum = { divisions: 0, clumps: 0, planted: 0, discarded: 0, clumpsOut: 0 };
  for (const lot of lots) {
    const f = figures(lot, typed[lot.lot]);
    sum.divisions += lot.divisions;
    sum.clumps += lot.clumps;
    sum.planted += f.planted || 0;
    sum.discarded += f.discarded || 0;
    sum.clumpsOut += f.clumps || 0;
  }
  return sum;
}
