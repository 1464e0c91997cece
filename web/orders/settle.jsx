// SPDX-License-Identifier: MIT
// One crate was short and several orders are hit: what becomes of each, with its buyer and its sentence, settled by one click.

import { useState } from 'preact/hooks';
import { newKey, send } from '../shared/net/api.js';
import { Dialog, Field, Form, say } from '../shared/dialog.jsx';
import { sentence } from '../shared/strings/prose.js';
import { useSeason } from '../shared/season.jsx';
import { Code } from '../shared/tag.jsx';
import { t } from '../shared/strings/text.js';
import { touch } from '../shared/net/use.js';

/** @typedef {import('./found.jsx').FoundShort} FoundShort */

/**
 * What is proposed for each: another lot while it lasts, for parcels that are still open; else the money back.
 * @param {FoundShort[]} list
 * @returns {boolean[]} filled from another lot
 */
export function proposed(list) {
  /** @type {Map<string, number>} */
  const free = new Map();
  return list.map((f) => {
    if (!f.other_lot || f.parcel_state !== 'open') return false;
    const from = `${f.other_lot} ${f.other_place ?? ''}`;
    const left = free.get(from) ?? f.other_free ?? 0;
    if (left < f.short) return false;
    free.set(from, left - f.short);
    return true;
  });
}

/** @param {{list: FoundShort[], onClose: () => void}} props */
export function SettleDialog({ list, onClose }) {
  const { format } = useSeason();
  const [fill, setFill] = useState(() => proposed(list));
  const [why, setWhy] = useState('');
  const [key] = useState(newKey);
  return (
    <Dialog title={t('settle.title', { n: list.length })} onClose={onClose} wide>
      <Form
        class="form-wide"
        save={t('settle.save', { n: list.length })}
        onCancel={onClose}
        onSave={async () => {
          const items = list.map((f, i) => ({
            order: f.order,
            line: f.line,
            parcel: f.parcel,
            ...(fill[i] ? { lot: f.other_lot, place: f.other_place ?? undefined } : {}),
          }));
          const done = await send('POST', '/api/shorts/settle', { items, why: why.trim() || undefined }, { key });
          say(t('settle.done', { filled: done.filled, refunded: done.refunded, money: format.money(done.refund) }));
          touch();
          onClose();
        }}
      >
        <ul class="rows">
          {list.map((f, i) => (
            <li key={`${f.order} ${f.line}`}>
              <p>
                <b class="figure">{f.order}</b> {f.customer} · <b>{f.short}</b> × <Code code={f.variety} />
              </p>
              <p class="quiet">{sentence(f.sentence)}</p>
              <div class="choice" role="group" aria-label={t('settle.of', { order: f.order })}>
                {f.other_lot && f.parcel_state === 'open' && (
                  <button
                    type="button"
                    aria-pressed={fill[i]}
                    onClick={() => setFill(fill.map((was, j) => (j === i ? true : was)))}
                  >
                    {t('settle.fill', { lot: f.other_lot, place: f.other_place ?? '' })}
                  </button>
                )}
                <button
                  type="button"
                  aria-pressed={!fill[i]}
                  onClick={() => setFill(fill.map((was, j) => (j === i ? false : was)))}
                >
                  {t('settle.refund', { money: format.money(f.refund) })}
                </button>
              </div>
            </li>
          ))}
        </ul>
        <Field label={t('rests.why')} hint={t('rests.why.hint')}>
          <input value={why} onInput={(e) => setWhy(e.currentTarget.value)} />
        </Field>
      </Form>
    </Dialog>
  );
}
