// SPDX-License-Identifier: MIT
// The pure part of a lot's sheet: what was entered of it, newest first, each with what its undo is asked with.

/** @typedef {import('../shared/strings/text.js').Key} Key */
/**
 * @typedef {object} Entered
 * @property {string} cause
 * @property {number} id
 * @property {string} day
 * @property {boolean} undone
 * @property {Key} text
 * @property {Record<string, string | number>} values
 * @property {{minutes: number, people: number}} [timed]
 * @property {boolean} [split]
 */

/**
 * @param {any} sheet as /api/lots/{lot} gives it
 * @returns {Entered[]}
 */
export function enteredOf(sheet) {
  /** @type {Entered[]} */
  const list = [
    ...sheet.sessions.map((/** @type {any} */ s) => ({
      cause: 'dividing',
      id: s.id,
      day: s.day,
      undone: s.undone,
      text: 'entered.dividing',
      values: { n: s.clumps, divisions: s.saleable, rotten: s.rotten, blind: s.blind },
      ...(s.minutes ? { timed: { minutes: s.minutes, people: s.people ?? 1 } } : {}),
    })),
    ...sheet.checks.map((/** @type {any} */ c) => ({
      cause: 'check',
      id: c.id,
      day: c.day,
      undone: c.undone,
      text: 'entered.check',
      values: { n: c.inspected, stage: c.stage, rotten: c.rotten, shrivelled: c.shrivelled ?? 0 },
    })),
    ...sheet.counts.map((/** @type {any} */ c) => ({
      cause: 'stock_take',
      id: c.id,
      day: c.day,
      undone: c.undone,
      text: 'entered.count',
      values: { n: c.count, stage: c.stage, before: c.before },
    })),
    ...sheet.splits.map((/** @type {any} */ s) => ({
      cause: 'move',
      id: s.id,
      day: s.day,
      undone: s.undone,
      text: s.came ? 'entered.split_of' : 'entered.split_off',
      values: { clumps: s.clumps, divisions: s.divisions, lot: s.lot, variety: s.variety },
      split: true,
    })),
    ...moved(sheet.movements, new Set(sheet.splits.map((/** @type {any} */ s) => s.id))),
  ];
  return list.sort((a, b) => b.day.localeCompare(a.day) || b.id - a.id);
}

/**
 * Moves and single entries stand in the ledger only; those by which a part was split off are told elsewhere.
 * @param {any[]} movements @param {Set<number>} splits @returns {Entered[]}
 */
function moved(movements, splits) {
  const reversed = new Set(movements.map((m) => m.reverses).filter((id) => id !== null));
  /** @type {Map<string, Entered>} */
  const found = new Map();
  for (const m of movements) {
    if ((m.cause !== 'move' && m.cause !== 'entry') || m.reverses !== null) continue;
    if (m.cause === 'move' && splits.has(m.cause_id)) continue;
    const key = `${m.cause} ${m.cause_id}`;
    const before = found.get(key);
    const from = m.clumps < 0 || m.divisions < 0 ? (m.place ?? '') : (before?.values.from ?? '');
    const to = m.clumps > 0 || m.divisions > 0 ? (m.place ?? '') : (before?.values.to ?? '');
    const values = {
      n: Math.abs(m.clumps) + Math.abs(m.divisions),
      stage: m.clumps !== 0 ? 'clump' : 'division',
      from,
      to,
      place: m.place ?? '',
      reason: m.reason,
    };
    found.set(key, {
      cause: m.cause,
      id: m.cause_id,
      day: m.day,
      undone: reversed.has(m.id),
      text: m.cause === 'move' ? 'entered.move' : 'entered.entry',
      values,
    });
  }
  return [...found.values()];
}
