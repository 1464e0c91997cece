// SPDX-License-Identifier: MIT
// The settings by the question that each answers.

/** The first are asked of everybody, the last are folded; what no question names is folded with them. */
export const QUESTIONS = /** @type {const} */ ([
  {
    ask: 'sure',
    names: [
      'confidence',
      'margin_share',
      'short_cost_share',
      'demand_confidence',
      'demand_caps',
      'release_every',
      'rot_low',
      'rot_high',
    ],
  },
  {
    ask: 'parcels',
    names: ['parcels_per_week', 'divisions_per_parcel', 'divisions_per_slot', 'promised_by', 'holidays', 'hold_unpaid'],
  },
  { ask: 'short', names: ['supply', 'tiers_first', 'order_minimum', 'assortment_spread'] },
  {
    ask: 'bench',
    names: [
      'cutters',
      'washers',
      'bench_hours',
      'work_days',
      'cut_minutes',
      'wash_minutes',
      'cut_lead_days',
      'best_first',
      'counts_look',
    ],
  },
  {
    ask: 'told',
    names: ['name', 'sender', 'language', 'timetable', 'ship_days', 'refund_days', 'carrier', 'carrier_columns'],
  },
  {
    ask: 'beds',
    names: [
      'beds_places',
      'beds_metres',
      'beds_spacing_cm',
      'plant_seasons',
      'plant_cost',
      'plant_discount',
      'establishment',
    ],
  },
  { ask: 'rare', names: ['establishment_doubt', 'session_hours', 'session_days', 'seed'] },
]);

/** @param {string[]} known names that this nursery has @returns {{ask: typeof QUESTIONS[number]['ask'], names: string[]}[]} */
export function grouped(known) {
  const named = new Set(QUESTIONS.flatMap((q) => /** @type {readonly string[]} */ (q.names)));
  return QUESTIONS.map(({ ask, names }) => ({
    ask,
    names: [...names.filter((n) => known.includes(n)), ...(ask === 'rare' ? known.filter((n) => !named.has(n)) : [])],
  })).filter((q) => q.names.length > 0);
}
