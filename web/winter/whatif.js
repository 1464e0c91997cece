// SPDX-License-Identifier: MIT
// The pure part of what-if: what is tried, as the server is asked for it, and which quantities it moves.

import { withQuery } from '../shared/net/api.js';
import { t } from '../shared/strings/text.js';

/** @typedef {{variety: string, field: 'price' | 'hold_back' | 'reserve', value: string}} Item */
/** @typedef {{rot: string, ship: string, items: Item[]}} Tried */
/** @typedef {{variety: string, name: string, before: number, after: number}} Moved */

/** @param {Record<string, number>} asked what decides the quantities @param {Tried} tried */
export function triedPath(asked, tried) {
  return withQuery('/api/plan', {
    ...asked,
    rot: tried.rot === '1' ? undefined : tried.rot,
    ship: tried.ship,
    try: tried.items.map((i) => `${i.variety}:${i.field}:${i.value}`).join(','),
  });
}

/** @param {Item} item */
export function triedText(item) {
  const name =
    item.field === 'price' ? t('col.price') : item.field === 'hold_back' ? t('col.hold_back') : t('col.reserve');
  return `${name} ${item.value}`;
}

/**
 * The varieties whose quantity would be another, the largest change first.
 * @param {Pick<import('../contract').Answers['GET /api/plan']['varieties'][number], 'variety' | 'name' | 'quantity'>[]} now
 * @param {Pick<import('../contract').Answers['GET /api/plan']['varieties'][number], 'variety' | 'name' | 'quantity'>[]} then
 * @returns {Moved[]}
 */
export function moved(now, then) {
  const before = new Map(now.map((v) => [v.variety, v.quantity]));
  return then
    .map((v) => ({ variety: v.variety, name: v.name, before: before.get(v.variety) ?? 0, after: v.quantity }))
    .filter((m) => m.before !== m.after)
    .sort((a, b) => Math.abs(b.after - b.before) - Math.abs(a.after - a.before) || a.variety.localeCompare(b.variety));
}
