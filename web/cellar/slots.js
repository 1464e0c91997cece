// SPDX-License-Identifier: MIT
// The board at the packing bench: what stands in each slot, and what the labels that were scanned say of it.

import { readTag } from '../shared/scanner.js';
import { answerOf } from './walk.js';

/** @typedef {import('../contract').Row<'GET /api/parcels'>} Parcel */
/** @typedef {import('../contract').Answers['GET /api/waves/{wave}']} Wave */
/** @typedef {Wave['stops'][number]['picks'][number]} Pick */
/** @typedef {'complete' | 'waits' | 'held' | 'cancelled' | 'empty' | 'packed' | 'shipped'} State */
/**
 * Orders that travel together lie in one slot and are one tile; so is a big order that lies in several.
 * @typedef {object} Slot
 * @property {number} slot
 * @property {number[]} slots
 * @property {Parcel[]} parcels
 * @property {string[]} orders
 * @property {Pick[]} picks
 * @property {number} taken
 * @property {number[]} stops
 * @property {State} state
 */

/** @param {Pick} p @param {import('./walk.js').Answers} answers */
export const takenOf = (p, answers) => answerOf(p, answers)?.taken ?? null;

/** @param {Parcel[]} parcels @param {Pick[]} picks @param {number} taken @param {number[]} stops @param {boolean} back @returns {State} */
function stateOf(parcels, picks, taken, stops, back) {
  if (parcels.every((p) => p.state === 'shipped')) return 'shipped';
  if (parcels.every((p) => p.state !== 'open')) return 'packed';
  if (taken === 0 && stops.length === 0) return back ? 'cancelled' : 'empty';
  if (parcels.some((p) => p.frost || p.unpaid) || picks.some((p) => p.held && p.taken > 0)) return 'held';
  return stops.length > 0 ? 'waits' : 'complete';
}

/**
 * The slots of a wave, by their number. `done`: parcels that this device has closed since the list was fetched.
 * @param {Parcel[]} list @param {Wave | undefined} wave @param {import('./walk.js').Answers} answers
 * @param {Record<string, boolean>} done
 * @returns {Slot[]}
 */
export function slotsOf(list, wave, answers, done) {
  /** @type {Map<number, Parcel[]>} */
  const by = new Map();
  for (const p of list) {
    const now = /** @type {Parcel} */ (done[p.id] && p.state === 'open' ? { ...p, state: 'packed' } : p);
    by.set(p.slot, [...(by.get(p.slot) ?? []), now]);
  }
  return [...by].map(([slot, parcels]) => {
    const ids = new Set(parcels.map((p) => p.id));
    const stops = (wave?.stops ?? []).filter((s) => s.picks.some((p) => ids.has(p.parcel)));
    const picks = stops.flatMap((s) => s.picks.filter((p) => ids.has(p.parcel)));
    const open = stops.filter((s) => s.picks.some((p) => ids.has(p.parcel) && takenOf(p, answers) === null));
    const lies = [...new Set(picks.map((p) => p.slot))].sort((a, b) => a - b);
    const slots = lies.length > 0 ? lies : [slot];
    const taken = picks.reduce((sum, p) => sum + (takenOf(p, answers) ?? 0), 0);
    const waits = open.map((s) => s.stop);
    const back = (wave?.put_back ?? []).some((b) => slots.includes(b.slot));
    const orders = parcels.map((p) => p.order);
    return {
      slot,
      slots,
      parcels,
      orders,
      picks,
      taken,
      stops: waits,
      state: stateOf(parcels, picks, taken, waits, back),
    };
  });
}

/** The slot whose slip (its parcel or order) or own label was scanned. @param {Slot[]} slots @param {string} text */
export function slotOf(slots, text) {
  const code = text.trim().toUpperCase();
  const own = /^SLOT\s*(\d+)$/.exec(code);
  return slots.find((s) =>
    own ? s.slots.includes(Number(own[1])) : s.parcels.some((p) => [`P${p.id}`, p.order.toUpperCase()].includes(code)),
  );
}

/** What belongs in it, by lot. @param {Slot} slot @param {import('./walk.js').Answers} answers */
export function lotsOf(slot, answers) {
  /** @type {Map<string, {lot: string, variety: string, name: string, taken: number}>} */
  const lots = new Map();
  for (const p of slot.picks) {
    const had = lots.get(p.lot) ?? { lot: p.lot, variety: p.variety, name: p.name, taken: 0 };
    lots.set(p.lot, { ...had, taken: had.taken + (takenOf(p, answers) ?? 0) });
  }
  return [...lots.values()];
}

/**
 * One label more. `wrong` names the lot that does not belong in it, or of which it is one too many; `full` when nothing is missing.
 * @param {{lot: string, taken: number}[]} lots @param {Record<string, number>} scanned @param {string} text
 * @returns {{scanned: Record<string, number>, wrong: {lot: string, why: 'not_in' | 'too_many'} | null, full: boolean}}
 */
export function scanLabel(lots, scanned, text) {
  const { lot } = readTag(text);
  const meant = lots.find((l) => l.lot.toUpperCase() === lot.toUpperCase() && l.taken > 0);
  if (!meant) return { scanned, wrong: { lot, why: 'not_in' }, full: false };
  const n = (scanned[meant.lot] ?? 0) + 1;
  if (n > meant.taken) return { scanned, wrong: { lot: meant.lot, why: 'too_many' }, full: false };
  const now = { ...scanned, [meant.lot]: n };
  return { scanned: now, wrong: null, full: lots.every((l) => (now[l.lot] ?? 0) === l.taken) };
}
