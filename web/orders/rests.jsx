// SPDX-License-Identifier: MIT
// Orders whose shorts will not come: ticked, closed and refunded together.

import { useState } from 'preact/hooks';
import { newKey, send } from '../shared/net/api.js';
import { Dialog, Field, Form, say } from '../shared/dialog.jsx';
import { PlainTable } from '../shared/grid/plain.jsx';
import { hashOf } from '../shared/route.js';
import { useSearch } from '../shared/search.jsx';
import { rights, useSeason } from '../shared/season.jsx';
import { t } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';

/** @typedef {import('../contract').Answers['GET /api/rests']} Rests */

export function RestsPanel() {
  const list = useResource('/api/rests').data ?? [];
  const { found, field } = useSearch(list, (r) => [r.order, r.customer, r.what], t('rests.find'));
  const { format, session } = useSeason();
  const [ticked, setTicked] = useState(/** @type {Set<string>} */ (new Set()));
  const [asking, setAsking] = useState(false);
  if (list.length === 0) return null;
  const may = rights(session).office;
  const chosen = list.filter((r) => ticked.has(r.order));
  const all = found.length > 0 && found.every((r) => ticked.has(r.order));
  /** @param {string[]} orders @param {boolean} on */
  const tick = (orders, on) =>
    setTicked(new Set(on ? [...ticked, ...orders] : [...ticked].filter((o) => !orders.includes(o))));
  return (
    <details class="sheet">
      <summary>{t('rests.title', { n: list.length })}</summary>
      <p>{t('rests.about')}</p>
      {field}
      {may && (
        <div class="form-actions">
          <label class="check">
            <input
              type="checkbox"
              checked={all}
              onChange={(e) =>
                tick(
                  found.map((r) => r.order),
                  e.currentTarget.checked,
                )
              }
            />{' '}
            {t('rests.all', { n: found.length })}
          </label>
          <button type="button" class="main-button" disabled={chosen.length === 0} onClick={() => setAsking(true)}>
            {t('rests.close', { n: chosen.length })}
          </button>
        </div>
      )}
      <PlainTable label={t('rests.title', { n: list.length })}>
        <thead>
          <tr>
            {may && <th scope="col">{t('rests.tick')}</th>}
            <th scope="col">{t('order.order')}</th>
            <th scope="col">{t('rules.customer')}</th>
            <th scope="col">{t('rests.what')}</th>
            <th scope="col" class="right">
              {t('rests.left')}
            </th>
            <th scope="col" class="right">
              {t('rests.refund')}
            </th>
          </tr>
        </thead>
        <tbody>
          {found.map((r) => (
            <tr key={r.order}>
              {may && (
                <td>
                  <label class="check">
                    <input
                      type="checkbox"
                      aria-label={t('rests.tick.of', { order: r.order })}
                      checked={ticked.has(r.order)}
                      onChange={(e) => tick([r.order], e.currentTarget.checked)}
                    />
                  </label>
                </td>
              )}
              <td>
                <a class="figure" href={hashOf(['orders', 'order', r.order])}>
                  {r.order}
                </a>
              </td>
              <td>{r.customer}</td>
              <td>{r.what}</td>
              <td class="right">{format.whole(r.left)}</td>
              <td class="right">{format.money(r.refund)}</td>
            </tr>
          ))}
        </tbody>
      </PlainTable>
      {asking && (
        <CloseDialog
          chosen={chosen}
          onClose={() => setAsking(false)}
          onDone={() => {
            setTicked(new Set());
            setAsking(false);
          }}
        />
      )}
    </details>
  );
}

/** @param {{chosen: Rests, onClose: () => void, onDone: () => void}} props */
export function CloseDialog({ chosen, onClose, onDone }) {
  const { format } = useSeason();
  const [why, setWhy] = useState('');
  const [key] = useState(newKey);
  const refund = chosen.reduce((sum, r) => sum + Math.round(Number(r.refund) * 100), 0);
  const divisions = chosen.reduce((sum, r) => sum + r.short, 0);
  return (
    <Dialog title={t('rests.dialog', { n: chosen.length })} onClose={onClose}>
      <Form
        save={t('rests.close', { n: chosen.length })}
        onCancel={onClose}
        onSave={async () => {
          const done = await send(
            'POST',
            '/api/rests/close',
            { orders: chosen.map((r) => r.order), why: why.trim() || undefined },
            { key },
          );
          say(t('rests.done', { n: done.orders, money: format.money(done.refund) }));
          touch();
          onDone();
        }}
      >
        <p>{t('rests.dialog.about', { n: divisions, money: format.money((refund / 100).toFixed(2)) })}</p>
        <ul class="rows">
          {chosen.slice(0, 12).map((r) => (
            <li key={r.order}>
              <b class="figure">{r.order}</b> {r.customer}: {r.what}
            </li>
          ))}
          {chosen.length > 12 && <li class="quiet">{t('weeks.more', { n: chosen.length - 12 })}</li>}
        </ul>
        <Field label={t('rests.why')} hint={t('rests.why.hint')}>
          <input value={why} onInput={(e) => setWhy(e.currentTarget.value)} />
        </Field>
      </Form>
    </Dialog>
  );
}
