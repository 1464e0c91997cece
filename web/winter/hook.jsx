// SPDX-License-Identifier: MIT
// The address where a shop is told by itself what changes, its secret (shown once), and the test that comes before all else.

import { useEffect, useState } from 'preact/hooks';
import { OwnPassword, proven } from '../shared/account/password.jsx';
import { newKey, send } from '../shared/net/api.js';
import { Field, Form, Loaded, say, sayError } from '../shared/dialog.jsx';
import { t, word } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';

/** @typedef {{address: string | null, set: boolean, elsewhere: boolean, trouble: string | null, tested: boolean}} Told */

export function Hook() {
  const hook = useResource('/api/hook', { keep: true });
  const [secret, setSecret] = useState(''); // until somebody leaves the page
  return (
    <Loaded of={hook}>
      {(/** @type {Told} */ h) => (
        <>
          {h.trouble && <p class="caution">{h.trouble}</p>}
          <p>{t('told.why')}</p>
          {h.elsewhere ? <p>{t('mail.elsewhere')}</p> : <Address key={h.address ?? ''} hook={h} onSecret={setSecret} />}
          {h.set && secret && (
            <p class="caution">
              {t('told.secret')} <code class="secret">{secret}</code>
            </p>
          )}
          {h.set && <TestHook hook={h} />}
        </>
      )}
    </Loaded>
  );
}

/** @param {{hook: Told, onSecret: (secret: string) => void}} props */
function Address({ hook, onSecret }) {
  const [address, setAddress] = useState(hook.address ?? '');
  const [current, setCurrent] = useState('');
  return (
    <Form
      save={t('told.save')}
      onSave={async () => {
        const done = await send('PUT', '/api/hook', proven({ address: address.trim() }, current));
        onSecret(done.secret);
        setCurrent('');
        say(t('action.done'));
        touch();
      }}
    >
      <Field label={t('told.address')} hint={t('told.address.hint')}>
        <input required spellcheck={false} value={address} onInput={(e) => setAddress(e.currentTarget.value)} />
      </Field>
      <OwnPassword value={current} onInput={setCurrent} />
      {hook.set && (
        <p>
          <button
            type="button"
            class="link-button"
            onClick={async () => {
              try {
                await send('POST', '/api/hook/forget', proven({}, current));
                onSecret('');
                setCurrent('');
                touch();
              } catch (e) {
                sayError(e);
              }
            }}
          >
            {t('told.forget')}
          </button>
        </p>
      )}
    </Form>
  );
}

/** What became of it is shown until the shop has answered. @param {{hook: Told}} props */
function TestHook({ hook }) {
  const rows = useResource('/api/outbox', { keep: true });
  const test = (rows.data ?? []).find((/** @type {any} */ r) => r.kind === 'hook' && r.varieties + r.orders === 0);
  const waits = test?.state === 'waits' || test?.state === 'going';
  useEffect(() => {
    if (!waits) return undefined;
    const timer = setInterval(() => touch(), 1000);
    return () => clearInterval(timer);
  }, [waits]);
  return (
    <>
      <button
        type="button"
        disabled={waits}
        onClick={async () => {
          try {
            await send('POST', '/api/hook/test', {}, { key: newKey() });
            touch();
          } catch (e) {
            sayError(e);
          }
        }}
      >
        {t('told.test.send')}
      </button>
      <p role="status">
        {test ? `${word('outbox', test.state)}. ${test.words ?? ''}` : ''} {hook.tested ? t('told.tested') : ''}
      </p>
    </>
  );
}
