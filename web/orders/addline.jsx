// SPDX-License-Identifier: MIT
// One thing more on an order: a variety by code or name, how many; promised at once if there is enough.

import { useState } from 'preact/hooks';
import { newKey, send } from '../shared/net/api.js';
import { Dialog, Field, Form, say, sayError } from '../shared/dialog.jsx';
import { readMoney } from '../shared/strings/format.js';
import { t, word } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';
import { varietyOf } from './neworder.js';

/** @typedef {import('../contract').Answers['GET /api/orders/{order}']} Sheet */

const CONSENTS = /** @type {const} */ (['none', 'same', 'any']);

/** What the buyer allows on the last line, where a new one may allow it, too. @param {Sheet['lines']} lines */
const lastConsent = (lines) => CONSENTS.find((c) => c === lines[lines.length - 1]?.consent) ?? 'none';

/** @param {{data: Sheet, onClose: () => void}} props */
export function AddLineDialog({ data, onClose }) {
  const varieties = (useResource('/api/varieties').data ?? []).filter((v) => !v.retired);
  const left = new Map((useResource('/api/availability').data ?? []).map((r) => [r.variety, r.left]));
  const [typed, setTyped] = useState('');
  const [quantity, setQuantity] = useState('1');
  const [price, setPrice] = useState('');
  const [consent, setConsent] = useState(/** @type {string} */ (lastConsent(data.lines)));
  const [key] = useState(newKey);
  const number = data.order.order;
  const path = `/api/orders/${encodeURIComponent(number)}`;
  const meant = varietyOf(varieties, typed);
  const rest = meant && left.get(meant.code);
  const save = async () => {
    const apiece = price.trim() === '' ? undefined : readMoney(price);
    if (apiece === null) throw new Error(t('new.line_wrong', { line: 1, what: t('new.no_price', { what: price }) }));
    // A code that the variety had before is known to the server.
    const variety = meant?.code ?? typed.trim().toUpperCase();
    const body = { variety, quantity: Number(quantity), unit_price: apiece, consent };
    const done = await send('POST', `${path}/lines`, body, { key });
    const undo = async () => {
      try {
        await send('POST', `${path}/cancel`, { line: done.line, why: t('add.undo.why') }, { key: newKey() });
        say(t('add.undone'));
        touch();
      } catch (e) {
        sayError(e);
      }
    };
    say([t('add.done', { line: done.line }), ...done.tells].join(' '), { action: { label: t('add.undo'), run: undo } });
    touch();
    onClose();
  };
  return (
    <Dialog title={t('add.title', { order: number })} onClose={onClose}>
      <Form save={t('add.save')} onSave={save} onCancel={onClose} disabled={typed.trim() === ''}>
        <datalist id="add-codes">
          {varieties.map((v) => (
            <option key={v.code} value={v.code}>
              {v.name}
            </option>
          ))}
        </datalist>
        <Field label={t('new.variety')}>
          <input
            list="add-codes"
            required
            autoComplete="off"
            value={typed}
            onInput={(e) => setTyped(e.currentTarget.value)}
          />
        </Field>
        <Field label={t('action.quantity')}>
          <input type="number" min={1} required value={quantity} onInput={(e) => setQuantity(e.currentTarget.value)} />
        </Field>
        <Field label={t('new.price')} hint={t('add.price.hint')}>
          <input
            inputMode="decimal"
            autoComplete="off"
            placeholder={meant?.price ?? ''}
            value={price}
            onInput={(e) => setPrice(e.currentTarget.value)}
          />
        </Field>
        <Field label={t('new.consent')}>
          <select value={consent} onChange={(e) => setConsent(e.currentTarget.value)}>
            {CONSENTS.map((c) => (
              <option key={c} value={c}>
                {word('consent', c)}
              </option>
            ))}
          </select>
        </Field>
        <p class="new-left quiet" aria-live="polite">
          {meant ? meant.name : ''}
          {rest !== undefined && rest !== null ? ` · ${t('new.left', { n: rest })}` : ''}
        </p>
      </Form>
    </Dialog>
  );
}
