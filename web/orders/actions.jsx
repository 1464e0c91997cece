// SPDX-License-Identifier: MIT
// What the office does to an order, each with a reason on record.

import { useState } from 'preact/hooks';
import { newKey, send } from '../shared/net/api.js';
import { Dialog, Field, Form, say } from '../shared/dialog.jsx';
import { t } from '../shared/strings/text.js';
import { touch, useFields } from '../shared/net/use.js';
import { AnswerFields, answerBody } from './claims.jsx';
import { Lying } from './lying.jsx';
import { WeekSelect } from './weekfield.jsx';

/** @typedef {{kind: 'cancel' | 'week' | 'quantity' | 'back' | 'claim', order: any, line?: any}} Action */

/**
 * @param {object} props
 * @param {Action} props.action
 * @param {() => void} props.onClose
 * @param {() => void} props.onDone
 */
export function ActionDialog({ action, onClose, onDone }) {
  const { kind, order, line } = action;
  const number = order.order ?? order.number;
  const path = `/api/orders/${encodeURIComponent(number)}`;
  const [why, setWhy] = useState('');
  const [quantity, setQuantity] = useState(
    String(kind === 'quantity' ? line.quantity : kind === 'back' ? line.firm : 1),
  );
  const [week, setWeek] = useState(String(order.week ?? order.wish_week ?? ''));
  const [given, putGiven] = useFields({ answer: 'replace', lot: '', reply: '' });
  const [key] = useState(newKey);
  const save = async () => {
    const reason = why.trim();
    const n = Number(quantity);
    const of = line ? t('action.line_of', { order: number, line: line.line }) : t('action.order_of', { order: number });
    let done;
    if (kind === 'cancel')
      await send('POST', `${path}/cancel`, line ? { why: reason, line: line.line } : { why: reason }, {
        key,
        of,
        base: line ? { quantity: line.quantity } : { version: order.version },
      });
    else if (kind === 'quantity')
      await send(
        'PATCH',
        `${path}/lines/${line.line}`,
        { quantity: n, why: reason },
        { of, base: { quantity: line.quantity } },
      );
    else if (kind === 'week')
      done = await send('POST', `${path}/week`, { week, why: reason }, { key, of, base: { week: order.week ?? null } });
    else if (kind === 'back')
      await send(
        'POST',
        '/api/allocation/take-back',
        { order: number, line: line.line, variety: line.variety, quantity: n, why: reason },
        { key },
      );
    else
      await send(
        'POST',
        '/api/claims',
        { order: number, line: line.line, quantity: n, why: reason, ...answerBody(given) },
        { key },
      );
    const breaks = done?.breaks ?? [];
    say(breaks.length > 0 ? t('action.breaks', { what: breaks.map(breakText).join(' ') }) : t('action.done'), {
      loud: breaks.length > 0,
    });
    touch();
    onDone();
    onClose();
  };
  const title = t(
    /** @type {import('../shared/strings/text.js').Key} */ (
      kind === 'cancel' && line ? 'action.cancel.line' : `action.${kind}.title`
    ),
    { order: number, line: line ? line.line : '' },
  );
  return (
    <Dialog title={title} onClose={onClose}>
      <Form
        save={t(/** @type {import('../shared/strings/text.js').Key} */ (`action.${kind}.save`))}
        onSave={save}
        onCancel={onClose}
      >
        {kind === 'week' && (
          <Field label={t('action.week')}>
            <WeekSelect required value={week} onWeek={setWeek} />
          </Field>
        )}
        {kind === 'cancel' && !line && <p>{t('action.cancel.about')}</p>}
        {kind === 'cancel' && <Lying order={number} line={line?.line} />}
        {(kind === 'quantity' || kind === 'back' || kind === 'claim') && (
          <Field label={t('action.quantity')}>
            <input
              type="number"
              min={kind === 'quantity' ? 0 : 1}
              max={kind === 'back' ? line.firm : undefined}
              required
              value={quantity}
              onInput={(e) => setQuantity(e.currentTarget.value)}
            />
          </Field>
        )}
        {kind === 'claim' && (
          <AnswerFields
            given={given}
            answers={
              /** @satisfies {import('../contract').Some<'claim_answers'>} */ (['replace', 'refund', 'refused', 'open'])
            }
            onGiven={putGiven}
          />
        )}
        <Field label={t('action.why')}>
          <textarea rows={2} required value={why} onInput={(e) => setWhy(e.currentTarget.value)} />
        </Field>
      </Form>
    </Dialog>
  );
}

/** @param {any} b */
function breakText(b) {
  return typeof b === 'string' ? b : String(b.sentence ?? b.detail ?? JSON.stringify(b));
}
