// SPDX-License-Identifier: MIT
// The pure part of the walk: the steps a packer goes through, what a scan means, how a short take is shared out.

/**
 * @typedef {object} Pick
 * @property {number} id
 * @property {string} lot
 * @property {string} variety
 * @property {string} name
 * @property {number} quantity
 * @property {string} order
 * @property {number} line
 * @property {number} slot
 * @property {string} state
 * @property {number} taken
 * @property {string | null} short_reason
 * @property {string | null} [form]
 * @property {string | null} [size]
 * @property {string | null} [colour]
 * @property {string | null} [held]
 * @property {string | null} [frost]
 */
/** @typedef {{stop: number, id: number, place: string, room: string, taken_by: string | null, picks: Pick[]}} Stop */
/** @typedef {{taken: number, reason?: string, empty?: boolean}} Answer empty: the crate is, they said */
/** @typedef {Record<string, Answer | 'taken back'>} Answers by pick: what was answered, or taken back, on this device */
/**
 * @typedef {object} Step one lot at one stop: one screen
 * @property {Stop} stop
 * @property {string} lot
 * @property {string} variety
 * @property {string} name
 * @property {Pick[]} picks
 * @property {number} quantity
 * @property {boolean} open
 */

/**
 * What was answered to a pick, here or on another device; null while it is open.
 * @param {Pick} pick
 * @param {Answers} answers
 * @returns {Answer | null}
 */
export function answerOf(pick, answers) {
  const here = answers[pick.id];
  if (here === 'taken back') return null;
  if (here) return here;
  if (pick.state !== 'done') return null;
  return pick.short_reason ? { taken: pick.taken, reason: pick.short_reason } : { taken: pick.taken };
}

/**
 * @param {Stop[]} stops
 * @param {Answers} answers
 * @returns {Step[]}
 */
export function stepsOf(stops, answers) {
  return stops.flatMap((stop) => {
    /** @type {Map<string, Pick[]>} */
    const lots = new Map();
    // What a frost hold keeps is not to be taken; what was taken before the hold still shows.
    for (const pick of stop.picks)
      if (!pick.frost || answerOf(pick, answers) !== null) lots.set(pick.lot, [...(lots.get(pick.lot) ?? []), pick]);
    return [...lots].map(([lot, picks]) => ({
      stop,
      lot,
      variety: picks[0]?.variety ?? '',
      name: picks[0]?.name ?? '',
      picks,
      quantity: picks.reduce((sum, p) => sum + p.quantity, 0),
      open: picks.some((p) => answerOf(p, answers) === null),
    }));
  });
}

/** What frost holds keep off the walk. @param {Stop[]} stops @param {Answers} answers */
export function keptByFrost(stops, answers) {
  const picks = stops.flatMap((s) => s.picks).filter((p) => p.frost && answerOf(p, answers) === null);
  return {
    picks: picks.length,
    slots: [...new Set(picks.map((p) => p.slot))].sort((a, b) => a - b),
    why: picks[0]?.frost ?? '',
  };
}

/**
 * The next open step after one, around the end; -1 when all are answered. Where another works is left to them while anything else is
 * open.
 * @param {Step[]} steps @param {number} from @param {string} [me]
 */
export function nextOpen(steps, from, me) {
  for (const mine of [true, false])
    for (let i = 1; i <= steps.length; i++) {
      const at = (from + i) % steps.length;
      const step = steps[at];
      const free = !step?.stop.taken_by || step.stop.taken_by === me;
      if (step?.open && (free || !mine)) return at;
    }
  return -1;
}

/**
 * What each open slot of a step is given when only those that are ticked are filled.
 * @param {Step} step @param {Answers} answers @param {Record<number, boolean>} ticked
 * @returns {Record<string, number>} by pick
 */
export function givenBy(step, answers, ticked) {
  /** @type {Record<string, number>} */
  const given = {};
  for (const p of step.picks) given[p.id] = answerOf(p, answers)?.taken ?? (ticked[p.id] ? p.quantity : 0);
  return given;
}

/**
 * Each stop with who is there and what is open, for whoever joins.
 * @param {Step[]} steps
 * @returns {{stop: Stop, at: number, open: number, quantity: number}[]} at: its first open step, else its first
 */
export function stopsOf(steps) {
  /** @type {Map<number, {stop: Stop, at: number, open: number, quantity: number}>} */
  const stops = new Map();
  steps.forEach((s, i) => {
    const row = stops.get(s.stop.id) ?? { stop: s.stop, at: i, open: 0, quantity: 0 };
    if (s.open && row.open === 0) row.at = i;
    row.open += s.open ? 1 : 0;
    row.quantity += s.open ? s.quantity : 0;
    stops.set(s.stop.id, row);
  });
  return [...stops.values()];
}

/**
 * Fewer were there than asked. As first shown: what was given before stays, the open parcels are served in the order of their
 * slots. Whoever packs may then give it otherwise, also what was in a slot before.
 * @param {Pick[]} picks of one step
 * @param {Answers} answers
 * @param {number} taken for the open ones together
 * @returns {Record<string, number>} by pick
 */
export function giveOut(picks, answers, taken) {
  let left = taken;
  /** @type {Record<string, number>} */
  const given = {};
  for (const pick of [...picks].sort((a, b) => a.slot - b.slot)) {
    const before = answerOf(pick, answers);
    given[pick.id] = before ? before.taken : Math.min(left, pick.quantity);
    if (!before) left -= given[pick.id] ?? 0;
  }
  return given;
}

/**
 * What is to be said to the server so that each slot has what it was given: answers that change are taken back first; those
 * that are short come last, so that an empty crate is said when all else has been taken out of it.
 * @param {Pick[]} picks
 * @param {Answers} answers
 * @param {Record<string, number>} given
 * @param {string} reason
 * @param {boolean} empty the crate is
 * @returns {{back: number[], shares: {pick: number, taken: number, reason?: string, empty?: boolean}[]}}
 */
export function sharesOf(picks, answers, given, reason, empty) {
  const changed = picks.filter((p) => answerOf(p, answers)?.taken !== given[p.id]);
  const full = changed.filter((p) => given[p.id] === p.quantity);
  const short = changed.filter((p) => given[p.id] !== p.quantity);
  return {
    back: changed.filter((p) => answerOf(p, answers) !== null).map((p) => p.id),
    shares: [
      ...full.map((p) => ({ pick: p.id, taken: p.quantity })),
      ...short.map((p, i) => ({
        pick: p.id,
        taken: given[p.id] ?? 0,
        reason,
        ...(empty && i === short.length - 1 ? { empty } : {}),
      })),
    ],
  };
}

/**
 * What a scanned tag means at a step.
 * @param {Step[]} steps
 * @param {number} at
 * @param {{lot: string, place: string | null}} tag
 * @param {string | null} refusedBefore lot that was refused by the scan before: scanned again, it moves the walk
 * @returns {{kind: 'right'} | {kind: 'done'} | {kind: 'move', to: number} | {kind: 'elsewhere', to: number} | {kind: 'unknown'}}
 */
export function meaning(steps, at, tag, refusedBefore) {
  const here = steps[at];
  const same = (/** @type {string} */ a) => a.toUpperCase() === tag.lot.toUpperCase();
  if (here && same(here.lot)) return here.open ? { kind: 'right' } : { kind: 'done' };
  const sibling = steps.findIndex((s) => same(s.lot) && s.stop.id === here?.stop.id);
  if (sibling >= 0) return { kind: 'move', to: sibling };
  const open = steps.findIndex((s) => same(s.lot) && s.open);
  const to = open >= 0 ? open : steps.findIndex((s) => same(s.lot));
  if (to < 0) return { kind: 'unknown' };
  if (!here?.open || refusedBefore?.toUpperCase() === tag.lot.toUpperCase()) return { kind: 'move', to };
  return { kind: 'elsewhere', to };
}
