// SPDX-License-Identifier: MIT
// What every screen knows: who sits here, the nursery's season, and how figures are written.

import { createContext } from 'preact';
import { useContext } from 'preact/hooks';
import { makeFormat } from './strings/format.js';

/** @typedef {{signed_in: boolean, name: string, role: string, csrf?: string, accounts: boolean}} Session */
/**
 * @typedef {object} Nursery
 * @property {number} season
 * @property {string} ship
 * @property {string} currency
 * @property {string} timezone
 * @property {string} today
 * @property {Partial<NonNullable<import('../contract').Answers['GET /api/nursery']['settings']>>} settings
 */

const first = {
  session: /** @type {Session} */ ({ signed_in: false, name: '', role: '', accounts: false }),
  nursery: /** @type {Nursery} */ ({ season: 0, ship: '', currency: 'USD', timezone: 'UTC', today: '', settings: {} }),
  format: makeFormat('en-US'),
  signOut: () => {},
};

export const Season = createContext(first);

export function useSeason() {
  return useContext(Season);
}

/** Whose work may this role do? @param {Session} session */
export function rights(session) {
  const owner = session.role === 'owner';
  const office = owner || session.role === 'office';
  return { owner, office, pack: office || session.role === 'packer', cellar: owner || session.role === 'cellar' };
}
