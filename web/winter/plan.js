// SPDX-License-Identifier: MIT
// The pure part of the plan table: what a row is worth sorting and finding by, and which quantities a release changes.

import { roughQuantity } from '../shared/chart/distribution.js';
import { plain } from '../shared/grid/grid.js';

/**
 * @typedef {object} PlanRow
 * @property {string} variety
 * @property {string} name
 * @property {string | null} form
 * @property {string | null} colour
 * @property {string | null} price
 * @property {number} clumps
 * @property {number} divisions
 * @property {number} expected
 * @property {number} p05
 * @property {number} p10
 * @property {number} p25
 * @property {number} p50
 * @property {number} p75
 * @property {number} p90
 * @property {number} p95
 * @property {number} hold_back still to be kept: what the owner set less what is planted
 * @property {number} hold_back_set
 * @property {number} reserve
 * @property {number} offered
 * @property {number} sold
 * @property {number} quantity
 * @property {number | null} p_short
 * @property {number | null} expected_short
 * @property {number | null} expected_unsold
 * @property {string | null} binds
 * @property {number} by_stock what the stock alone would offer
 * @property {number | null} [demand] what past sales say will be asked
 * @property {number | null} [supported] how many that supports
 */

/**
 * What decides the quantities: a confidence, or shares of each variety's price (as typed, in percent).
 * @typedef {{by: string, confidence: number, earns: string, costs: string}} Basis
 */

/** A typed percentage as a share, or null when it is none. @param {string} text @param {number} most in percent */
function share(text, most) {
  const percent = Number(text.trim().replace(',', '.'));
  return text.trim() !== '' && percent >= 0 && percent <= most ? percent / 100 : null;
}

/**
 * What the server is asked with; null while something typed makes no sense.
 * @param {Basis} basis
 * @returns {{confidence: number} | {margin_share: number, short_cost_share: number} | null}
 */
export function ground(basis) {
  if (basis.by !== 'money') return { confidence: basis.confidence };
  const margin = share(basis.earns, 100);
  const cost = share(basis.costs, 2000);
  return margin === null || cost === null || margin + cost === 0
    ? null
    : { margin_share: margin, short_cost_share: cost };
}

/** The basis to begin with, of which a browser keeps what was chosen. @param {Record<string, any>} settings @returns {Basis} */
export function firstBasis(settings) {
  const percent = (/** @type {unknown} */ part, /** @type {number} */ otherwise) =>
    String(Math.round(Number(part ?? otherwise) * 1000) / 10);
  return {
    by: 'confidence',
    confidence: Number(settings.confidence ?? 0.9) || 0.9,
    earns: percent(settings.margin_share, 0.6),
    costs: percent(settings.short_cost_share, 1.5),
  };
}

/** Whether more of it is sold than the stock would offer: no quantity mends that. @param {{sold: number, by_stock: number}} r */
export function tooFar(r) {
  return r.sold > r.by_stock;
}

/** A figure as the owner set it: planting uses up a hold-back, but not what is on record. */
export const SET = /** @type {const} */ ({ hold_back: 'hold_back_set', reserve: 'reserve', price: 'price' });

/** @typedef {Record<string, number>} Drafts quantities set by hand, by variety */

/** @type {Record<string, (row: PlanRow) => import('../shared/grid/grid.js').Value>} */
export const SORTS = {
  variety: (r) => r.variety,
  name: (r) => r.name,
  form: (r) => r.form,
  colour: (r) => r.colour,
  clumps: (r) => r.clumps,
  divisions: (r) => r.divisions,
  expected: (r) => r.expected,
  spread: (r) => (r.p50 > 0 ? (r.p90 - r.p10) / r.p50 : null),
  hold_back: (r) => r.hold_back_set,
  reserve: (r) => r.reserve,
  price: (r) => (r.price === null ? null : Number(r.price)),
  offered: (r) => r.offered,
  sold: (r) => r.sold,
  quantity: (r) => r.quantity,
  p_short: (r) => r.p_short,
  expected_unsold: (r) => r.expected_unsold,
  binds: (r) => r.binds,
  demand: (r) => r.demand ?? null,
};

/** @type {Record<string, (row: PlanRow) => boolean>} */
export const SHOWS = {
  beyond: (r) => beyondDemand(r),
  all: () => true,
  changed: (r) => r.quantity !== r.offered,
  over: tooFar,
  soldout: (r) => r.offered > 0 && r.sold >= r.offered,
};

/** More is proposed than past sales support. @param {PlanRow} r */
export function beyondDemand(r) {
  return typeof r.supported === 'number' && r.quantity > r.supported;
}

/** @param {PlanRow} r @param {string[]} [former] codes that it had once */
export function findText(r, former = []) {
  return plain([r.variety, r.name, r.form, r.colour, ...former].filter(Boolean).join(' '));
}

/** @param {PlanRow[]} rows @param {Drafts} drafts @returns {PlanRow[]} */
export function withDrafts(rows, drafts) {
  return rows.map((r) => {
    const by = drafts[r.variety];
    return by === undefined ? r : { ...r, quantity: by };
  });
}

/**
 * About where the plan's quantity goes while the confidence is being moved, within what binds it.
 * @param {PlanRow} r
 * @param {number} confidence
 */
export function roughPlan(r, confidence) {
  let quantity = roughQuantity(r, r.hold_back + r.reserve, confidence);
  if (r.binds === 'demand') quantity = Math.min(quantity, r.quantity);
  return r.quantity >= r.sold ? Math.max(quantity, r.sold) : quantity;
}

/**
 * What a release would change.
 * @param {PlanRow[]} rows with drafts
 * @param {Drafts} drafts
 * @param {boolean} onlyDrafts
 */
export function releaseItems(rows, drafts, onlyDrafts) {
  return rows
    .filter((r) => r.quantity !== r.offered && (!onlyDrafts || drafts[r.variety] !== undefined))
    .map((r) => ({ variety: r.variety, name: r.name, before: r.offered, quantity: r.quantity }));
}

/**
 * @typedef {object} CurvePoint
 * @property {number} confidence
 * @property {number} offered
 * @property {string} expected_refunds
 * @property {number} expected_short
 * @property {number} expected_unsold
 * @property {string} margin
 * @property {number} too_far
 * @property {string} too_far_refunds
 */

/**
 * The curve with the plan's own point on it: what is marked, read out and told beside it is one plan.
 * @param {CurvePoint[]} curve
 * @param {CurvePoint & {quantity: number}} totals of the plan
 * @returns {CurvePoint[]}
 */
export function withPlan(curve, totals) {
  const own = { ...totals, offered: totals.quantity };
  return [...curve.filter((p) => p.confidence !== own.confidence), own].sort((a, b) => a.confidence - b.confidence);
}
