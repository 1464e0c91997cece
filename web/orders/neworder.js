// SPDX-License-Identifier: MIT
// An order as it is typed on the phone: which variety is meant, what it comes to, what is sent, and the next number.

import { readMoney } from '../shared/strings/format.js';

/** @typedef {{variety: string, quantity: string, price: string}} TypedLine */
/**
 * @typedef {{number: string, customer: string, name2: string, email: string, phone: string, street: string, town: string,
 *   postcode: string, country: string, region: string, language: string, zone: string, tier: string,
 *   week: string, consent: string, named: string, lines: TypedLine[]}} Typed
 */
/** @typedef {{code: string, name: string, price: string | null, retired?: boolean}} Variety */

export const NO_LINE = /** @type {TypedLine} */ ({ variety: '', quantity: '1', price: '' });

export const NO_ORDER = /** @type {Typed} */ ({
  number: '',
  customer: '',
  name2: '',
  email: '',
  phone: '',
  street: '',
  town: '',
  postcode: '',
  country: '',
  region: '',
  language: '',
  zone: '',
  tier: 'retail',
  week: '',
  consent: 'none',
  named: '',
  lines: [NO_LINE],
});

/** What an order says of its buyer. */
export const BUYER = /** @type {const} */ ([
  'customer',
  'name2',
  'email',
  'phone',
  'street',
  'town',
  'postcode',
  'country',
  'region',
  'language',
]);

/** Phone orders are a series of their own, so that they never take a number that the shop will use. */
const SERIES = 'T-';

/** The number after the highest of the series. @param {string[]} numbers */
export function nextNumber(numbers) {
  const used = numbers
    .map((n) => (n.startsWith(SERIES) ? Number(n.slice(SERIES.length)) : NaN))
    .filter(Number.isInteger);
  return SERIES + String(Math.max(0, ...used) + 1).padStart(4, '0');
}

/** By code or by name, however it is spelt in capitals. @param {Variety[]} varieties @param {string} typed */
export function varietyOf(varieties, typed) {
  const wanted = typed.trim().toLowerCase();
  return (
    varieties.find((v) => v.code.toLowerCase() === wanted) ?? varieties.find((v) => v.name.toLowerCase() === wanted)
  );
}

/** What the order comes to, in hundredths; lines that cannot be read yet count nothing. @param {TypedLine[]} lines */
export function totalOf(lines) {
  return lines.reduce(
    (sum, l) =>
      sum +
      Math.round(Number(readMoney(l.price) ?? 0) * 100) * (/^\d+$/.test(l.quantity.trim()) ? Number(l.quantity) : 0),
    0,
  );
}

/**
 * The first line that cannot be sent as it is typed.
 * @param {Typed} typed @param {Variety[]} varieties
 * @returns {{line: number, key: 'new.no_variety' | 'new.no_quantity' | 'new.no_price' | 'new.twice', what: string} | null}
 */
export function wrongLine(typed, varieties) {
  const seen = new Set();
  for (const [i, l] of typed.lines.entries()) {
    const v = varietyOf(varieties, l.variety);
    if (!v) return { line: i + 1, key: 'new.no_variety', what: l.variety };
    if (seen.has(v.code)) return { line: i + 1, key: 'new.twice', what: v.code };
    seen.add(v.code);
    if (!/^[1-9]\d*$/.test(l.quantity.trim())) return { line: i + 1, key: 'new.no_quantity', what: l.quantity };
    if (readMoney(l.price) === null) return { line: i + 1, key: 'new.no_price', what: l.price };
  }
  return null;
}

/** What is sent. @param {Typed} typed @param {Variety[]} varieties @param {string} number */
export function orderBody(typed, varieties, number) {
  /** @type {Record<string, string>} */
  const head = { order: number, channel: 'phone', tier: typed.tier };
  for (const name of /** @type {const} */ ([...BUYER, 'zone']))
    // A draft that an older page kept has not all of them.
    if (typed[name]?.trim()) head[name] = typed[name].trim();
  if (typed.week) head.wish_week = typed.week;
  const named =
    typed.consent === 'named'
      ? {
          named: typed.named
            .trim()
            .toUpperCase()
            .split(/[\s,;]+/)
            .filter(Boolean),
        }
      : {};
  const lines = typed.lines.map((l, i) => ({
    line: i + 1,
    variety: varietyOf(varieties, l.variety)?.code ?? l.variety.trim(),
    quantity: Number(l.quantity),
    unit_price: readMoney(l.price),
    consent: typed.consent,
    ...named,
  }));
  return { ...head, lines };
}
