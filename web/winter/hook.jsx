// SPDX-License-Identifier: MIT
// The address where a shop is told by itself what changes, its secret (shown once), and the test that comes before all else.

import { useState } from 'preact/hooks';
import { OwnPassword, proven } from '../shared/account/password.jsx';
import { send } from '../shared/net/api.js';
import { Field, Form, Loaded, say } from '../shared/dialog.jsx';
import { t } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';
import { Forget, SendTest } from './proving.jsx';

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
          {h.set && (
            <SendTest
              path="/api/hook/test"
              label={t('told.test.send')}
              tested={h.tested}
              works="told.tested"
              isTest={(r) => r.kind === 'hook' && r.varieties + r.orders === 0}
            />
          )}
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
        <Forget
          path="/api/hook/forget"
          label={t('told.forget')}
          current={current}
          onDone={() => {
            onSecret('');
            setCurrent('');
          }}
        />
      )}
    </Form>
  );
}
