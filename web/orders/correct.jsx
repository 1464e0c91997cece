// SPDX-License-Identifier: MIT
// Who the buyer is, where they live, when they want it and what they allow in its place, put right on the phone.

import { useState } from 'preact/hooks';
import { send } from '../shared/net/api.js';
import { Dialog, Field, Form, say } from '../shared/dialog.jsx';
import { t, word } from '../shared/strings/text.js';
import { touch, useFields } from '../shared/net/use.js';
import { LanguageSelect } from './languagefield.jsx';
import { WeekSelect } from './weekfield.jsx';

/** @typedef {import('../contract').Answers['GET /api/orders/{order}']} Sheet */

/** What is the person's may be put right in every state, the rest while the order is open. */
const PERSON = /** @type {const} */ ([
  'customer',
  'name2',
  'email',
  'phone',
  'street',
  'postcode',
  'town',
  'region',
  'country',
]);
const OPEN = /** @type {const} */ (['zone', 'wish_week']);
const ALL = /** @type {const} */ ([...PERSON, 'language', ...OPEN]);

/** What stands on the order, as the dialog shows it. @param {Sheet} data */
function standing({ order, lines }) {
  /** @type {Record<string, string>} */
  const values = {};
  for (const name of ALL) values[name] = order[name] ?? '';
  if (order.zone_by_range) values.zone = ''; // not the order's own: the table of postcodes says it
  const consents = new Set(
    lines.filter((l) => l.variety && l.quantity > 0).map((l) => `${l.consent} ${namedOf(l)}`.trim()),
  );
  const [only = ''] = consents.size === 1 ? consents : [];
  values.consent = only.split(' ')[0] ?? '';
  values.named = only.split(' ').slice(1).join(' ');
  return values;
}

/** @param {{named: string | null}} line */
const namedOf = (line) => line.named ?? '';

/**
 * Only what was changed is sent, with what it was typed over.
 * @param {Record<string, string>} was @param {Record<string, string>} typed
 */
export function changes(was, typed) {
  /** @type {Record<string, string>} */
  const body = {};
  /** @type {Record<string, string>} */
  const base = {};
  for (const name of ALL) {
    const value = (typed[name] ?? '').trim();
    if (value === was[name]) continue;
    body[name] = value;
    base[name] = was[name] ?? '';
  }
  const named = (typed.named ?? '')
    .toUpperCase()
    .split(/[\s,;]+/)
    .filter(Boolean)
    .join(' ');
  if (typed.consent && (typed.consent !== was.consent || (typed.consent === 'named' && named !== was.named))) {
    body.consent = typed.consent;
    if (typed.consent === 'named') body.named = named;
  }
  return { body, base };
}

/** @param {{data: Sheet, onClose: () => void}} props */
export function CorrectDialog({ data, onClose }) {
  const [was] = useState(() => standing(data));
  const [typed, put] = useFields(was);
  const [why, setWhy] = useState('');
  const number = data.order.order;
  const open = data.order.state === 'open';
  /** @param {string} name @param {string} value */
  const set = (name, value) => put({ [name]: value });
  const { body, base } = changes(was, typed);
  const save = async () => {
    const reason = why.trim() ? { why: why.trim() } : {};
    const done = await send(
      'PATCH',
      `/api/orders/${encodeURIComponent(number)}`,
      { ...body, ...reason },
      { base, of: t('action.order_of', { order: number }) },
    );
    const tells = done?.tells ?? [];
    say(tells.length > 0 ? t('action.breaks', { what: tells.join(' ') }) : t('action.done'), {
      loud: tells.length > 0,
    });
    touch();
    onClose();
  };
  return (
    <Dialog title={t('correct.title', { order: number })} onClose={onClose} wide>
      <Form
        class="form-wide"
        save={t('correct.save')}
        onSave={save}
        onCancel={onClose}
        disabled={Object.keys(body).length === 0}
      >
        <div class="new-who">
          {PERSON.map((name) => (
            <Field key={name} label={word('field', name)}>
              <input
                type={/** @type {any} */ (name === 'email' ? 'email' : 'text')}
                autoComplete="off"
                maxLength={200}
                value={typed[name]}
                onInput={(e) => set(name, e.currentTarget.value)}
              />
            </Field>
          ))}
          <Field label={t('new.language')}>
            <LanguageSelect value={typed.language ?? ''} onLanguage={(language) => set('language', language)} />
          </Field>
          {open && (
            <>
              <Field
                label={t('new.zone')}
                hint={
                  data.order.zone_by_range && data.order.zone
                    ? t('order.zone.by_range', { zone: data.order.zone })
                    : undefined
                }
              >
                <input autoComplete="off" value={typed.zone} onInput={(e) => set('zone', e.currentTarget.value)} />
              </Field>
              <Field label={t('new.week')}>
                <WeekSelect
                  value={typed.wish_week ?? ''}
                  onWeek={(week) => set('wish_week', week)}
                  none={t('order.no_wish')}
                />
              </Field>
              <Field label={t('new.consent')}>
                <select value={typed.consent} onChange={(e) => set('consent', e.currentTarget.value)}>
                  {was.consent === '' && <option value="">{t('correct.consent.differs')}</option>}
                  {
                    /** @satisfies {import('../contract').Some<'consents'>} */ (['none', 'same', 'any', 'named']).map(
                      (c) => (
                        <option key={c} value={c}>
                          {word('consent', c)}
                        </option>
                      ),
                    )
                  }
                </select>
              </Field>
              {typed.consent === 'named' && (
                <Field label={t('new.named')}>
                  <input required value={typed.named} onInput={(e) => set('named', e.currentTarget.value)} />
                </Field>
              )}
            </>
          )}
        </div>
        <Field label={t('correct.why')}>
          <input value={why} onInput={(e) => setWhy(e.currentTarget.value)} />
        </Field>
      </Form>
    </Dialog>
  );
}
