// SPDX-License-Identifier: MIT
// Who rings has ordered before: found by name, e-mail or postcode among this season's orders, and filled in by one key. Who was
// forgotten has no name on any order, and is not found.

import { get, withQuery } from '../shared/net/api.js';
import { sayError } from '../shared/dialog.jsx';
import { t } from '../shared/strings/text.js';
import { useResource } from '../shared/net/use.js';
import { BUYER } from './neworder.js';

/** @typedef {import('../contract').Answers['GET /api/orders']['items'][number]} Found */
/** @typedef {import('../contract').Answers['GET /api/orders/{order}']['order']} Head */

/** Letters from which on it is looked for, and how many buyers are shown. */
const LEAST = 3;
const MOST = 4;

/** One order for each buyer, the newest, as they come. @param {Found[]} list */
export function buyersOf(list) {
  /** @type {Map<string, Found>} */
  const buyers = new Map();
  for (const o of list) {
    const who = [o.customer, o.email, o.postcode].map((x) => (x ?? '').trim().toLowerCase()).join('|');
    if (o.customer && !buyers.has(who)) buyers.set(who, o);
  }
  return [...buyers.values()].slice(0, MOST);
}

/** What of an order is filled in. A zone that the table of postcodes told is told by it again. @param {Head} order */
export function filledFrom(order) {
  /** @type {Record<string, string>} */
  const typed = { zone: order.zone_by_range ? '' : (order.zone ?? '') };
  for (const name of BUYER) typed[name] = order[name] ?? '';
  typed.tier = order.tier === 'wholesale' ? 'wholesale' : 'retail';
  return typed;
}

/**
 * @param {{typed: string, onChosen: (typed: Record<string, string>) => void}} props
 */
export function KnownBuyers({ typed, onChosen }) {
  const q = typed.trim();
  const found = useResource(q.length < LEAST ? null : withQuery('/api/orders', { q }), { keep: true }).data;
  const buyers = q.length < LEAST ? [] : buyersOf(found?.items ?? []);
  if (buyers.length === 0) return null;
  /** @param {string} order */
  const choose = async (order) => {
    try {
      const sheet = await get(`/api/orders/${encodeURIComponent(order)}`);
      onChosen(filledFrom(sheet.order));
    } catch (e) {
      sayError(e);
    }
  };
  return (
    <div class="known-buyers" role="group" aria-label={t('buyers.title')}>
      {buyers.map((b) => (
        <button key={b.order} type="button" onClick={() => choose(b.order)}>
          {[b.customer, b.postcode, b.email].filter(Boolean).join(' · ')}
        </button>
      ))}
    </div>
  );
}
