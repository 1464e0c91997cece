// SPDX-License-Identifier: MIT
// The pure part of what lies beside a lot: after a bad check, what else shares its row, its day of digging, its room.

/** @typedef {import('../contract').Row<'GET /api/lots'>} Lot */
/** @typedef {import('../contract').Row<'GET /api/places'>} Place */

/** Of the room only the nearest in walking order: they breathe the same air. */
const NEAREST = 8;

/**
 * Two of forty or one of ten: more than chance in a sound crate (common practice, no source).
 * @param {number} rotten
 * @param {number} inspected
 */
export function muchRotten(rotten, inspected) {
  return inspected > 0 && (rotten / inspected >= 0.1 || (rotten >= 2 && rotten / inspected >= 0.05));
}

/** Where a lot lies, as its row in the list says. @param {Lot | null | undefined} lot @returns {string[]} */
export function placesOf(lot) {
  return String(lot?.places ?? '')
    .split(/[\s,;]+/)
    .filter(Boolean);
}

/**
 * Lots that still hold something, each in the first group that it belongs to.
 * @param {Lot[]} lots
 * @param {Place[]} places
 * @param {string} code
 * @returns {{row: Lot[], day: Lot[], room: Lot[]}}
 */
export function besides(lots, places, code) {
  const lot = lots.find((l) => l.lot === code);
  /** @type {{row: Lot[], day: Lot[], room: Lot[]}} */
  const found = { row: [], day: [], room: [] };
  if (!lot) return found;
  const at = new Map(places.map((p) => [p.place ?? '', p]));
  const here = placesOf(lot).flatMap((p) => at.get(p) ?? []);
  /** @type {{lot: Lot, far: number}[]} */
  const near = [];
  for (const other of lots) {
    if (other.lot === code || other.clumps + other.divisions <= 0) continue;
    if (lot.row && other.row === lot.row) found.row.push(other);
    else if (other.dug_on === lot.dug_on) found.day.push(other);
    else {
      const far = placesOf(other)
        .flatMap((p) => at.get(p) ?? [])
        .flatMap((p) =>
          here.filter((h) => h.room && h.room === p.room).map((h) => Math.abs(h.walk_order - p.walk_order)),
        );
      if (far.length > 0) near.push({ lot: other, far: Math.min(...far) });
    }
  }
  near.sort((a, b) => a.far - b.far || a.lot.lot.localeCompare(b.lot.lot));
  found.room = near.slice(0, NEAREST).map((x) => x.lot);
  return found;
}
