// SPDX-License-Identifier: MIT
// The same buyer has another order: one click puts it into this one, or both into one parcel, and one takes it back.

import { newKey, send } from '../shared/net/api.js';
import { say, sayError, useBusy } from '../shared/dialog.jsx';
import { hashOf } from '../shared/route.js';
import { useSeason } from '../shared/season.jsx';
import { t } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';

/** @typedef {import('../contract').Row<'GET /api/orders/{order}/beside'>} Other */
/** @typedef {'merge' | 'unmerge' | 'together' | 'apart'} Step */

/** What each step is called, and what takes it back. */
const STEPS = /** @type {const} */ ({
  merge: { text: 'also.merge', done: 'also.done.merge', back: 'unmerge' },
  unmerge: { text: 'also.unmerge', done: 'also.done.unmerge', back: 'merge' },
  together: { text: 'also.together', done: 'also.done.together', back: 'apart' },
  apart: { text: 'also.apart', done: 'also.done.apart', back: 'together' },
});

/** @param {{order: import('../contract').Answers['GET /api/orders/{order}']['order']}} props */
export function Besides({ order }) {
  const { format } = useSeason();
  const path = `/api/orders/${encodeURIComponent(order.order)}`;
  const found = useResource(`/api/orders/${encodeURIComponent(order.order)}/beside`).data;
  const others = /** @type {Other[]} */ (found ?? []);
  const [busy, run] = useBusy();
  if (others.length === 0) return null;
  /** @param {string} other @param {Step} step @param {boolean} [back] */
  const take = async (other, step, back = false) => {
    const done = await send('POST', `${path}/${step}`, { other }, { key: newKey() });
    const tells = done?.tells?.length ? done.tells.join(' ') : t(STEPS[step].done, { order: other });
    const undo = () => void take(other, STEPS[step].back, true).catch(sayError);
    // What a packer must move is not to be missed.
    say(tells, {
      action: back ? undefined : { label: t('add.undo'), run: undo },
      loud: step === 'together' && done?.tells?.length > 0,
    });
    touch();
  };
  return (
    <section class="note besides" aria-label={t('also.title')}>
      <h2>{t('also.title')}</h2>
      <ul class="rows">
        {others.map((o) => (
          <li key={o.order}>
            <a class="figure" href={hashOf(['orders', 'order', o.order])}>
              {o.order}
            </a>{' '}
            {t('also.holds', { n: o.quantity })} ·{' '}
            {o.merged
              ? t('also.merged')
              : o.together
                ? t('also.joined')
                : o.week
                  ? format.week(o.week)
                  : t('also.no_week')}
            {!o.merged && !o.same_place && <b class="late"> {t('also.other_place')}</b>}{' '}
            {stepsOf(o, order.week).map((step) => (
              <button
                key={step}
                type="button"
                aria-disabled={busy}
                aria-label={`${t(STEPS[step].text)}: ${o.order}`}
                onClick={() => run(() => take(o.order, step))}
              >
                {t(STEPS[step].text)}
              </button>
            ))}
          </li>
        ))}
      </ul>
    </section>
  );
}

/** What may be done about it. @param {Other} o @param {string | null} week @returns {Step[]} */
function stepsOf(o, week) {
  if (o.merged) return ['unmerge'];
  const merge = /** @type {Step[]} */ (o.pulled ? [] : ['merge']);
  if (o.together) return [...merge, 'apart'];
  return o.same_place && o.week === week ? [...merge, 'together'] : merge;
}
