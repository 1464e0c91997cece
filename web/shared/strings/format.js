// SPDX-License-Identifier: MIT
// How figures, money, days and temperatures are written, by the reader's own locale.

import { spokenLocale, t } from './text.js';

/**
 * @typedef {object} Format
 * @property {(n: number | null | undefined) => string} whole
 * @property {(n: number | null | undefined, digits?: number) => string} decimal
 * @property {(p: number | null | undefined, digits?: number) => string} percent
 * @property {(p: number) => string} odds
 * @property {(m: string | number | null | undefined) => string} money
 * @property {(d: string | null | undefined) => string} day
 * @property {(d: string | null | undefined) => string} dayShort
 * @property {(i: string | null | undefined) => string} instant
 * @property {(w: string | null | undefined) => string} week
 * @property {(c: number) => number} temperature in the reader's unit
 * @property {string} degree "°C" or "°F"
 */

// The few regions that read a thermometer in Fahrenheit (CLDR measurement data, from memory).
const FAHRENHEIT = new Set(['US', 'LR', 'BS', 'BZ', 'KY', 'PW', 'FM', 'MH']);

/** Nothing known is written as a dash, never as a zero. */
const NONE = '–';

/**
 * @param {string} locale
 * @param {{currency?: string, timezone?: string}} [nursery]
 * @returns {Format}
 */
export function makeFormat(locale, nursery = {}) {
  const timeZone = nursery.timezone || undefined;
  const whole = new Intl.NumberFormat(locale, { maximumFractionDigits: 0 });
  const currency = new Intl.NumberFormat(locale, { style: 'currency', currency: nursery.currency || 'USD' });
  const day = new Intl.DateTimeFormat(locale, { day: 'numeric', month: 'short', year: 'numeric', timeZone: 'UTC' });
  const dayShort = new Intl.DateTimeFormat(locale, { day: 'numeric', month: 'short', timeZone: 'UTC' });
  const instant = new Intl.DateTimeFormat(locale, { dateStyle: 'medium', timeStyle: 'short', timeZone });
  const region = regionOf(locale);
  const fahrenheit = region !== undefined && FAHRENHEIT.has(region);
  /** Made once for each number of digits: making one costs more than a hundred uses. @type {Map<number, Intl.NumberFormat>} */
  const decimals = new Map();
  /** @param {number | null | undefined} n @param {number} digits */
  const fixed = (n, digits) => {
    if (n === null || n === undefined) return NONE;
    let form = decimals.get(digits);
    if (!form)
      decimals.set(
        digits,
        (form = new Intl.NumberFormat(locale, { minimumFractionDigits: digits, maximumFractionDigits: digits })),
      );
    return form.format(n);
  };
  return {
    whole: (n) => (n === null || n === undefined ? NONE : whole.format(n)),
    decimal: (n, digits = 1) => fixed(n, digits),
    percent: (p, digits = 0) => (p === null || p === undefined ? NONE : `${fixed(p * 100, digits)} %`),
    odds,
    money: (m) => (m === null || m === undefined || m === '' ? NONE : currency.format(Number(m))),
    day: (d) => (d ? day.format(utc(d)) : NONE),
    dayShort: (d) => (d ? dayShort.format(utc(d)) : NONE),
    instant: (i) => (i ? instant.format(new Date(i)) : NONE),
    week: (w) => (w ? weekText(w, dayShort) : NONE),
    temperature: (c) => (fahrenheit ? (c * 9) / 5 + 32 : c),
    degree: fahrenheit ? '°F' : '°C',
  };
}

/** @param {string} locale */
function regionOf(locale) {
  try {
    return new Intl.Locale(locale).maximize().region;
  } catch {
    return undefined;
  }
}

/** @param {string} day "2032-04-19" */
function utc(day) {
  return new Date(`${day.slice(0, 10)}T00:00:00Z`);
}

/**
 * A chance as people say it: "9 in 10", "19 in 20", else "87 in 100".
 * @param {number} p
 */
export function odds(p) {
  for (const of of [2, 3, 4, 5, 10, 20]) {
    const n = p * of;
    if (Math.abs(n - Math.round(n)) < 1e-6 && Math.round(n) > 0 && Math.round(n) < of)
      return t('odds.of', { n: Math.round(n), of });
  }
  if (p > 0 && p < 1 && Math.round(p * 100) === 100) return t('odds.over');
  return t('odds.of', { n: Math.round(p * 100), of: 100 });
}

/**
 * The Monday of an ISO week "2032-W16".
 * @param {string} week
 */
export function mondayOf(week) {
  const [year, number] = week.split('-W').map(Number);
  const fourth = new Date(Date.UTC(year ?? 1970, 0, 4)); // 4 January is always in week 1 (ISO 8601)
  const monday = new Date(fourth);
  monday.setUTCDate(fourth.getUTCDate() - ((fourth.getUTCDay() + 6) % 7) + ((number ?? 1) - 1) * 7);
  return monday;
}

/** @param {string} week @param {Intl.DateTimeFormat} short */
function weekText(week, short) {
  const monday = mondayOf(week);
  const sunday = new Date(monday.getTime() + 6 * 86400000);
  return `${Number(week.split('-W')[1])} (${short.formatRange(monday, sunday)})`;
}

/** What parts thousands in the reader's own writing: "," "." "’" or a blank. @param {string} [locale] */
function grouping(locale) {
  return new Intl.NumberFormat(locale).formatToParts(12345.6).find((p) => p.type === 'group')?.value ?? '';
}

/**
 * Reads a number that a person typed, in either decimal writing and with thousands parted or not; NaN when it is none. Where both
 * signs stand, the last one is the decimal; where one stands once before three digits ("1,234"), the reader's own writing decides.
 * @param {string} text
 * @param {string} [locale] of the reader; the one that the page is written in unless told
 */
export function readNumber(text, locale = spokenLocale()) {
  const bare = text.trim().replace(/[\s\u00a0\u202f'’]/g, '');
  const signs = bare.replace(/[^.,]/g, '');
  const last = signs.at(-1) ?? '';
  const parts = signs.length > 1 && signs[0] === last; // "1,234,567": nothing but thousands
  const doubtful = signs.length === 1 && /^[+-]?[1-9]\d{0,2}[.,]\d{3}$/.test(bare) && grouping(locale) === last;
  const group = parts || doubtful ? last : last === ',' ? '.' : ',';
  const whole = (group === last ? bare : bare.slice(0, bare.lastIndexOf(last || ' '))) || bare;
  if (whole.includes(group) && !/^[+-]?\d{1,3}([.,]\d{3})+$/.test(whole)) return NaN;
  const plain = bare.replaceAll(group, '').replace(',', '.');
  return /^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain) ? Number(plain) : NaN;
}

/**
 * Reads money that a person typed, as the decimal string that the interface carries; null when it is none.
 * @param {string} text
 * @param {string} [locale]
 */
export function readMoney(text, locale) {
  const n = readNumber(text.replace(/[^\d.,'’\s+-]/g, ''), locale);
  return Number.isNaN(n) || n < 0 || n > 1e9 ? null : n.toFixed(2);
}
