// SPDX-License-Identifier: MIT
// What is asked for each thing that is written down in the cellar, in order, and which answers cannot be.

import { t } from '../shared/strings/text.js';
import { placesOf } from './beside.js';

/** @typedef {import('../shared/strings/text.js').Key} Key */
/** @typedef {Record<string, string>} Given */
/** @typedef {{text: string, lot: string, day: string, given: Given}} Done */
/** @typedef {import('../contract').Row<'GET /api/field'>} Planting */
/** @typedef {import('../contract').Row<'GET /api/lots'>} Lot */
/**
 * @typedef {object} Question
 * @property {string} name
 * @property {'lot' | 'row' | 'variety' | 'number' | 'place' | 'from' | 'stage' | 'reason' | 'yes' | 'text'} kind
 * @property {Key} label
 * @property {(given: Given, lot: Lot | null, planting?: Planting | null) => string} [wrong] a sentence when the answer
 *     cannot be
 * @property {boolean} [optional]
 * @property {string} [first] the number that stands there at first; 0 if it is not said
 * @property {(given: Given, lot: Lot | null, planting?: Planting | null) => boolean} [needless] what can be known
 *     without asking
 */

/** @param {Given} g @param {string} name */
export const n = (g, name) => Number(g[name] ?? 0);

const MOST_MINUTES = 10000;
const MOST_PEOPLE = 100;

/** @type {Question[]} */
export const DIVIDING = [
  { name: 'lot', kind: 'lot', label: 'entry.lot' },
  {
    name: 'clumps',
    kind: 'number',
    label: 'entry.clumps',
    wrong: (g, lot) =>
      n(g, 'clumps') < 1
        ? t('entry.least_one')
        : lot && lot.clumps !== undefined && n(g, 'clumps') > lot.clumps
          ? t('entry.too_many_clumps', { n: lot.clumps })
          : '',
  },
  {
    name: 'rotten',
    kind: 'number',
    label: 'entry.rotten_clumps',
    wrong: (g) => (n(g, 'rotten') > n(g, 'clumps') ? t('entry.more_rotten', { n: n(g, 'clumps') }) : ''),
  },
  { name: 'saleable', kind: 'number', label: 'entry.saleable' },
  { name: 'blind', kind: 'number', label: 'entry.blind' },
  { name: 'place', kind: 'place', label: 'entry.place', optional: true },
  {
    name: 'minutes',
    kind: 'number',
    label: 'entry.minutes',
    wrong: (g) => (n(g, 'minutes') > MOST_MINUTES ? t('entry.at_most', { n: MOST_MINUTES }) : ''),
  },
  {
    name: 'people',
    kind: 'number',
    label: 'entry.people',
    first: '1',
    needless: (g) => g.minutes !== undefined && n(g, 'minutes') === 0,
    wrong: (g) =>
      g.people !== undefined && n(g, 'people') < 1
        ? t('entry.least_one')
        : n(g, 'people') > MOST_PEOPLE
          ? t('entry.at_most', { n: MOST_PEOPLE })
          : '',
  },
];

/** @type {Question[]} */
export const CHECK = [
  { name: 'lot', kind: 'lot', label: 'entry.lot' },
  { name: 'stage', kind: 'stage', label: 'entry.stage' },
  {
    name: 'inspected',
    kind: 'number',
    label: 'entry.inspected',
    wrong: (g) => (n(g, 'inspected') < 1 ? t('entry.least_one') : ''),
  },
  {
    name: 'rotten',
    kind: 'number',
    label: 'entry.rotten',
    wrong: (g) => (n(g, 'rotten') > n(g, 'inspected') ? t('entry.more_rotten', { n: n(g, 'inspected') }) : ''),
  },
  {
    name: 'shrivelled',
    kind: 'number',
    label: 'entry.shrivelled',
    wrong: (g) =>
      n(g, 'rotten') + n(g, 'shrivelled') > n(g, 'inspected') ? t('entry.more_rotten', { n: n(g, 'inspected') }) : '',
  },
  { name: 'doubt', kind: 'yes', label: 'entry.doubt' },
];

/** @type {Question[]} */
export const COUNT = [
  { name: 'lot', kind: 'lot', label: 'entry.lot' },
  { name: 'stage', kind: 'stage', label: 'entry.stage' },
  { name: 'place', kind: 'place', label: 'entry.place_counted', optional: true },
  { name: 'count', kind: 'number', label: 'entry.count' },
  { name: 'looked', kind: 'yes', label: 'entry.looked', needless: (g, lot) => fewerThanBooked(g, lot) },
];

/**
 * Fewer than the ledger says: then somebody has looked, and thrown out. The ledger by place is not at hand here.
 * @param {Given} g
 * @param {import('../contract').Row<'GET /api/lots'> | null} lot
 */
function fewerThanBooked(g, lot) {
  const booked = g.stage === 'clump' ? lot?.clumps : lot?.divisions;
  return booked !== undefined && (!g.place || placesOf(lot).length <= 1) && n(g, 'count') < booked;
}

/** @type {Question[]} */
export const MOVE = [
  { name: 'lot', kind: 'lot', label: 'entry.lot' },
  { name: 'from', kind: 'from', label: 'entry.from' },
  { name: 'to', kind: 'place', label: 'entry.to' },
  { name: 'clumps', kind: 'number', label: 'entry.moved_clumps' },
  {
    name: 'divisions',
    kind: 'number',
    label: 'entry.moved_divisions',
    wrong: (g) => (n(g, 'clumps') + n(g, 'divisions') < 1 ? t('entry.least_one') : ''),
  },
];

/** @type {Question[]} */
export const OTHER = [
  { name: 'lot', kind: 'lot', label: 'entry.lot' },
  { name: 'reason', kind: 'reason', label: 'entry.reason' },
  { name: 'clumps', kind: 'number', label: 'entry.how_many_clumps' },
  {
    name: 'divisions',
    kind: 'number',
    label: 'entry.how_many_divisions',
    wrong: (g) => (n(g, 'clumps') + n(g, 'divisions') < 1 ? t('entry.least_one') : ''),
  },
  { name: 'place', kind: 'place', label: 'entry.place_other', optional: true },
  { name: 'note', kind: 'text', label: 'entry.note', optional: true },
];
