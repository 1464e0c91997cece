// SPDX-License-Identifier: MIT
// Who rings has ordered before: found by name, e-mail or postcode among this season's orders, those who were taken along from a season
// before and files of past seasons, and filled in by one key. Who was forgotten has no name, and is not found.

import { withQuery } from '../shared/net/api.js';
import { useSeason } from '../shared/season.jsx';
import { t } from '../shared/strings/text.js';
import { useResource } from '../shared/net/use.js';
import { BUYER } from './neworder.js';

/** @typedef {import('../contract').Row<'GET /api/buyers'>} Found */

/** Letters from which on it is looked for, and how many buyers are shown. */
const LEAST = 3;
const MOST = 4;

/** Each buyer once, as of the last order; the last season comes first. @param {Found[]} list */
export function buyersOf(list) {
  /** @type {Map<string, Found>} */
  const buyers = new Map();
  for (const o of list) {
    const who = [o.customer, o.email, o.postcode].map((x) => (x ?? '').trim().toLowerCase()).join('|');
    if (!buyers.has(who)) buyers.set(who, o);
  }
  return [...buyers.values()].slice(0, MOST);
}

/** What is filled in. @param {Found} buyer */
export function filledFrom(buyer) {
  /** @type {Record<string, string>} */
  const typed = { zone: buyer.zone ?? '', consent: buyer.consent };
  for (const name of BUYER) typed[name] = buyer[name] ?? '';
  typed.tier = buyer.tier === 'wholesale' ? 'wholesale' : 'retail';
  return typed;
}

/**
 * @param {{typed: string, onChosen: (typed: Record<string, string>) => void}} props
 */
export function KnownBuyers({ typed, onChosen }) {
  const season = Number(useSeason().nursery.season);
  const q = typed.trim();
  const found = useResource(q.length < LEAST ? null : withQuery('/api/buyers', { q }), { keep: true }).data;
  const buyers = q.length < LEAST ? [] : buyersOf(found ?? []);
  if (buyers.length === 0) return null;
  return (
    <div class="known-buyers" role="group" aria-label={t('buyers.title')}>
      {buyers.map((b, i) => (
        <button key={i} type="button" onClick={() => onChosen(filledFrom(b))}>
          {[b.customer, b.postcode, b.email, b.season !== season && t('buyers.season', { season: String(b.season) })]
            .filter(Boolean)
            .join(' · ')}
        </button>
      ))}
    </div>
  );
}
