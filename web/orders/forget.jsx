// SPDX-License-Identifier: MIT
// Removing a buyer's data from the orders: first look, then remove, with one's own password. The owner's.

import { useState } from 'preact/hooks';
import { OwnPassword, proven } from '../shared/account/password.jsx';
import { send } from '../shared/net/api.js';
import { Field, Form, say } from '../shared/dialog.jsx';
import { t, word } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';
import { useSeason } from '../shared/season.jsx';

export function ForgetPage() {
  const [customer, setCustomer] = useState('');
  const [postcode, setPostcode] = useState('');
  const [found, setFound] = useState(/** @type {any[] | null} */ (null));
  const [several, setSeveral] = useState(false);
  const [current, setCurrent] = useState('');
  const [before, setBefore] = useState('');
  const asked = before ? { before } : postcode ? { customer, postcode } : { customer };
  const open = (found ?? []).find((o) => o.state === 'open');
  const season = useSeason().nursery.season;
  const past = [...new Set((found ?? []).filter((o) => o.season !== season).map((o) => String(o.file)))];
  const closed = useResource('/api/season/closed').data;
  const here = (found ?? []).some((o) => o.season === season);
  return (
    <div class="two">
      <section class="sheet">
        <h1 class="page-title">{t('forget.title')}</h1>
        <p>{t('forget.what')}</p>
        <p class="note">{t('forget.caution')}</p>
        {closed?.closed && closed.buyers > 0 && (
          <p class="note">{t('forget.closed', { season: String(closed.season) })}</p>
        )}
        <Form
          save={t('forget.look')}
          onSave={async () => {
            setFound(null);
            setSeveral(false);
            try {
              setFound(await send('POST', '/api/forget/preview', asked));
            } catch (e) {
              const orders = /** @type {any} */ (e).body?.orders;
              if (orders) {
                setFound(orders);
                setSeveral(true);
              }
              throw e;
            }
          }}
        >
          <Field label={t('forget.customer')} hint={t('forget.customer_hint')}>
            <input
              required={!before}
              autoComplete="off"
              value={customer}
              onInput={(e) => (setCustomer(e.currentTarget.value), setBefore(''), setFound(null))}
            />
          </Field>
          <Field label={t('forget.postcode')} hint={t('forget.postcode_hint')}>
            <input
              autoComplete="off"
              value={postcode}
              onInput={(e) => (setPostcode(e.currentTarget.value), setFound(null))}
            />
          </Field>
          <Field label={t('forget.before')} hint={t('forget.before_hint')}>
            <input
              type="date"
              value={before}
              onInput={(e) => (setBefore(e.currentTarget.value), setCustomer(''), setPostcode(''), setFound(null))}
            />
          </Field>
        </Form>
      </section>
      {found && (
        <section class="sheet">
          <h2>{t('forget.found', { n: found.length })}</h2>
          <ul class="rows">
            {found.map((o) => (
              <li key={`${o.file} ${o.order ?? [o.customer, o.email, o.postcode].join()}`}>
                {o.order === null ? (
                  <b>{t('forget.known')}</b>
                ) : (
                  <>
                    <b class="figure">{o.order}</b> {word('state', o.state)}
                  </>
                )}{' '}
                <span class="quiet">
                  {t('forget.row', {
                    person: [o.customer, o.email, o.postcode].filter(Boolean).join(', ') || '–',
                    texts: o.notes + o.notices + o.claims,
                  })}
                  {o.season !== season && ` · ${t('forget.past', { season: String(o.season) })}`}
                </span>
              </li>
            ))}
          </ul>
          {past.length > 0 && <p class="note">{t('forget.past_how', { files: past.join(', ') })}</p>}
          {several || !here ? null : open ? (
            <p>{t('forget.open', { order: open.order })}</p>
          ) : (
            <Form
              save={t('forget.do')}
              onSave={async () => {
                const done = await send('POST', '/api/forget', proven(asked, current));
                setCurrent('');
                setCustomer('');
                setPostcode('');
                setBefore('');
                setFound(null);
                say(t('forget.done', { n: done.length }));
                touch();
              }}
            >
              <OwnPassword value={current} onInput={setCurrent} />
            </Form>
          )}
        </section>
      )}
    </div>
  );
}
