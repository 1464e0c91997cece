// SPDX-License-Identifier: MIT
// Who waits for a variety, next first, what each could have now and what each allows instead; and the owner's way to sell more.

import { useState } from 'preact/hooks';
import { newKey, send, withQuery } from '../shared/net/api.js';
import { Dialog, Field, Form, say, sayError } from '../shared/dialog.jsx';
import { hashOf } from '../shared/route.js';
import { t, word } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';

/**
 * @typedef {object} Waiting
 * @property {string} order
 * @property {number} line
 * @property {string | null} customer
 * @property {string} tier
 * @property {number} short
 * @property {number} now
 * @property {string} consent
 * @property {string} sentence
 */

const MOST_SHOWN = 100;

/** @param {{code: string}} props */
export function Waitlist({ code }) {
  const list = /** @type {Waiting[]} */ (useResource(withQuery('/api/waitlist', { variety: code })).data ?? []);
  const served = list.filter((w) => w.now > 0);
  return (
    <details class="sheet">
      <summary>{t('wait.title', { n: list.length })}</summary>
      {list.length === 0 && <p class="quiet">{t('wait.none')}</p>}
      {list.length > 0 && (
        <p class="quiet">
          {served.length > 0 ? t('wait.free', { n: served.reduce((sum, w) => sum + w.now, 0) }) : t('wait.nothing')}
        </p>
      )}
      <ol class="rows">
        {list.slice(0, MOST_SHOWN).map((w) => (
          <li key={`${w.order} ${w.line}`}>
            <a class="figure" href={hashOf(['orders', 'order', w.order])}>
              {w.order}
            </a>{' '}
            <b>{w.customer || '–'}</b> {w.tier !== 'retail' ? <span class="quiet">{word('tier', w.tier)} </span> : null}
            {w.sentence} <span class="quiet">{t('wait.consent', { consent: word('consent', w.consent) })}</span>
          </li>
        ))}
      </ol>
      {list.length > MOST_SHOWN && <p class="quiet">{t('weeks.more', { n: list.length - MOST_SHOWN })}</p>}
    </details>
  );
}

/**
 * The owner allows more of a variety to be sold than is offered, with the reason; what was not sold can be taken back.
 * @param {{code: string}} props
 */
export function Oversell({ code }) {
  const [open, setOpen] = useState(false);
  const [quantity, setQuantity] = useState('1');
  const [why, setWhy] = useState('');
  const [key, setKey] = useState(newKey);
  const close = () => {
    setOpen(false);
    setWhy('');
    setKey(newKey());
  };
  const save = async () => {
    const n = Number(quantity);
    const given = await send('POST', '/api/oversell', { variety: code, quantity: n, why: why.trim() }, { key });
    const back = async () => {
      try {
        await send(
          'POST',
          '/api/oversell',
          { variety: code, quantity: -n, why: t('action.undone.why') },
          { key: newKey() },
        );
        say(t('over.undone', { code }));
        touch();
      } catch (e) {
        sayError(e);
      }
    };
    say(
      t('over.done', { code, n: given.left }),
      n > 0 ? { action: { label: t('action.undo'), run: () => void back() } } : {},
    );
    touch();
    close();
  };
  return (
    <>
      <button type="button" onClick={() => setOpen(true)}>
        {t('over.open')}
      </button>
      {open && (
        <Dialog title={t('over.title', { code })} onClose={close}>
          <Form save={t('over.save')} onCancel={close} onSave={save}>
            <p>{t('over.about')}</p>
            <Field label={t('over.quantity')} hint={t('over.quantity.hint')}>
              <input
                type="number"
                required
                step="1"
                value={quantity}
                onInput={(e) => setQuantity(e.currentTarget.value)}
              />
            </Field>
            <Field label={t('action.why')}>
              <textarea rows={2} required value={why} onInput={(e) => setWhy(e.currentTarget.value)} />
            </Field>
          </Form>
        </Dialog>
      )}
    </>
  );
}
