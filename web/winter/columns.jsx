// SPDX-License-Identifier: MIT
// The columns of the plan table, fewer as the window gets narrower.

import { readMoney, readNumber } from '../shared/strings/format.js';
import { Code, Swatch } from '../shared/tag.jsx';
import { SET, beyondDemand } from './plan.js';
import { TuberRow } from '../shared/chart/tuber.jsx';
import { t, word } from '../shared/strings/text.js';

/** @typedef {import('./plan.js').PlanRow} PlanRow */
/** @typedef {import('../shared/grid/grid.jsx').Column<PlanRow>} Column */

const MOST = 1_000_000;

/** @param {string} text */
function wholeOf(text) {
  const n = readNumber(text);
  if (!Number.isInteger(n) || n < 0 || n > MOST) throw new Error(t('error.whole_number'));
  return n;
}

/** @param {string} text */
function moneyOf(text) {
  const m = readMoney(text);
  if (m === null) throw new Error(t('error.money'));
  return m;
}

/**
 * @param {object} o
 * @param {import('../shared/strings/format.js').Format} o.format
 * @param {number} o.wide window width in rem
 * @param {boolean} o.owner
 * @param {Record<string, number>} o.drafts
 * @param {(row: PlanRow, field: 'hold_back' | 'reserve' | 'price', value: unknown, name: string) => Promise<void>} o.change
 * @param {(row: PlanRow, quantity: number) => void} o.draft
 * @returns {Column[]}
 */
export function planColumns({ format, wide, owner, drafts, change, draft }) {
  /** @param {'hold_back' | 'reserve'} field @param {string} head @param {string} hint @param {number} width @returns {Column} */
  const kept = (field, head, hint, width) => ({
    key: field,
    head,
    hint,
    width,
    right: true,
    sorts: true,
    cell: (r) => format.whole(r[SET[field]]),
    edit: owner
      ? { text: (r) => String(r[SET[field]]), save: (r, text) => change(r, field, wholeOf(text), head) }
      : undefined,
  });
  /** @type {(Column & {from: number})[]} */
  const all = [
    {
      from: 0,
      key: 'variety',
      head: t('col.code'),
      width: wide < 48 ? 6.75 : 7,
      sorts: true,
      cell: (r) => <Code code={r.variety} />,
    },
    { from: 46, key: 'name', head: t('col.name'), width: 11.5, sorts: true, cell: (r) => r.name },
    { from: 88, key: 'form', head: t('col.form'), width: 9.5, sorts: true, cell: (r) => r.form },
    {
      from: 72,
      key: 'colour',
      head: t('col.colour'),
      width: 7.5,
      sorts: true,
      cell: (r) => <Swatch word={r.colour} />,
    },
    {
      from: 96,
      key: 'clumps',
      head: t('col.clumps'),
      hint: t('col.clumps.hint'),
      width: 4.5,
      right: true,
      sorts: true,
      cell: (r) => format.whole(r.clumps),
    },
    {
      from: 96,
      key: 'divisions',
      head: t('col.divisions'),
      hint: t('col.divisions.hint'),
      width: 5.25,
      right: true,
      sorts: true,
      cell: (r) => format.whole(r.divisions),
    },
    {
      from: 64,
      key: 'expected',
      head: t('col.expected'),
      hint: t('col.expected.hint'),
      width: 5,
      right: true,
      sorts: true,
      cell: (r) => format.decimal(r.expected, 0),
    },
    {
      from: 0,
      key: 'spread',
      head: t('col.tuber'),
      hint: t('col.tuber.hint'),
      sorts: true,
      cell: (r) => (
        <TuberRow
          q={r}
          kept={r.hold_back + r.reserve}
          quantity={r.quantity}
          sold={r.sold}
          label={tuberText(r, format)}
        />
      ),
    },
    { from: 80, ...kept('hold_back', t('col.hold_back'), t('col.hold_back.hint'), 5) },
    { from: 80, ...kept('reserve', t('col.reserve'), t('col.reserve.hint'), 4.75) },
    {
      from: 104,
      key: 'price',
      head: t('col.price'),
      width: 5,
      right: true,
      sorts: true,
      cell: (r) => format.money(r.price),
      edit: owner
        ? { text: (r) => r.price ?? '', save: (r, text) => change(r, 'price', moneyOf(text), t('col.price')) }
        : undefined,
    },
    {
      from: 50,
      key: 'sold',
      head: t('col.sold'),
      width: 4,
      right: true,
      sorts: true,
      cell: (r) => format.whole(r.sold),
    },
    {
      from: 58,
      key: 'offered',
      head: t('col.offered'),
      hint: t('col.offered.hint'),
      width: 5,
      right: true,
      sorts: true,
      cell: (r) => format.whole(r.offered),
    },
    {
      from: 0,
      key: 'quantity',
      head: t('col.quantity'),
      hint: t('col.quantity.hint'),
      width: 5.25,
      right: true,
      sorts: true,
      cell: (r) => <Quantity row={r} drafted={drafts[r.variety] !== undefined} format={format} />,
      edit: owner ? { text: (r) => String(r.quantity), save: async (r, text) => draft(r, wholeOf(text)) } : undefined,
    },
    {
      from: 64,
      key: 'p_short',
      head: t('col.p_short'),
      hint: t('col.p_short.hint'),
      width: 5,
      right: true,
      sorts: true,
      cell: (r) => (drafts[r.variety] === undefined ? format.percent(r.p_short) : '…'),
    },
    {
      from: 110,
      key: 'expected_unsold',
      head: t('col.unsold'),
      hint: t('col.unsold.hint'),
      width: 5,
      right: true,
      sorts: true,
      cell: (r) => format.decimal(r.expected_unsold, 0),
    },
    {
      from: 118,
      key: 'binds',
      head: t('col.binds'),
      hint: t('col.binds.hint'),
      width: 6,
      sorts: true,
      cell: (r) => <span class="quiet">{beyondDemand(r) ? t('binds.beyond') : word('binds', r.binds)}</span>,
    },
    {
      from: 126,
      key: 'demand',
      head: t('col.demand'),
      hint: t('col.demand.hint'),
      width: 5,
      right: true,
      sorts: true,
      cell: (r) => format.decimal(r.demand ?? null, 0),
    },
  ];
  return all.filter((c) => wide >= c.from);
}

/** @param {{row: PlanRow, drafted: boolean, format: import('../shared/strings/format.js').Format}} props */
function Quantity({ row, drafted, format }) {
  const by = row.quantity - row.offered;
  return (
    <span class="quantity" title={drafted ? t('plan.by_hand') : undefined}>
      {by !== 0 && <span class="quantity-by">{by > 0 ? `+${format.whole(by)}` : `−${format.whole(-by)}`}</span>}
      <b>
        {format.whole(row.quantity)}
        {drafted && <span aria-label={t('plan.by_hand')}>*</span>}
      </b>
    </span>
  );
}

/** What the tuber plot shows, in words. @param {PlanRow} r @param {import('../shared/strings/format.js').Format} format */
export function tuberText(r, format) {
  return t('tuber.text', {
    p10: format.whole(r.p10),
    p50: format.whole(r.p50),
    p90: format.whole(r.p90),
    kept: format.whole(r.hold_back + r.reserve),
    quantity: format.whole(r.quantity),
    sold: format.whole(r.sold),
  });
}
