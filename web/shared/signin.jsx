// SPDX-License-Identifier: MIT
import { useEffect, useState } from 'preact/hooks';
import { send } from './api.js';
import { Field, Form, say } from './dialog.jsx';
import { hashOf } from './route.js';
import { t } from './text.js';

/** @param {{onDone: () => void}} props */
export function SignIn({ onDone }) {
  useEffect(() => {
    document.title = 'Clumpwise';
  }, []);
  const [name, setName] = useState('');
  const [password, setPassword] = useState('');
  const [shown, setShown] = useState(false);
  const type = /** @type {any} */ (shown ? 'text' : 'password');
  return (
    <main class="signin" id="main">
      <div class="tag tag-huge">
        <span class="tag-hole" aria-hidden="true" />
        <h1 class="tag-code">Clumpwise</h1>
      </div>
      <div class="sheet">
        <Form
          save={t('signin.enter')}
          onSave={async () => {
            const answer = await send('POST', '/api/session', { name, password });
            if (answer.weak) {
              location.hash = hashOf(['account']);
              say(t('signin.weak'), { loud: true });
            }
            onDone();
          }}
        >
          <Field label={t('signin.name')}>
            <input autoComplete="username" required value={name} onInput={(e) => setName(e.currentTarget.value)} />
          </Field>
          <Field label={t('signin.password')}>
            <input type={type} autoComplete="current-password" required value={password} onInput={(e) => setPassword(e.currentTarget.value)} />
          </Field>
          <label class="check">
            <input type="checkbox" checked={shown} onChange={(e) => setShown(e.currentTarget.checked)} /> {t('account.show')}
          </label>
        </Form>
      </div>
    </main>
  );
}
