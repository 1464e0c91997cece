// SPDX-License-Identifier: MIT
import { useEffect, useState } from 'preact/hooks';
import { send } from '../net/api.js';
import { Field, Form, say } from '../dialog.jsx';
import { CodeField } from './factor.jsx';
import { Foot, Language } from '../frame.jsx';
import { hashOf } from '../route.js';
import { t } from '../strings/text.js';

/** How long the password waits for the code of a second factor; then it is asked again. */
const WAIT_MS = 120_000;

/** @param {{onDone: () => void, children?: import('preact').ComponentChildren}} props children: what stands below the form */
export function SignIn({ onDone, children }) {
  useEffect(() => {
    document.title = 'Clumpwise';
  }, []);
  const [name, setName] = useState('');
  const [password, setPassword] = useState('');
  const [code, setCode] = useState('');
  const [wanted, setWanted] = useState(false);
  const back = () => {
    setPassword('');
    setCode('');
    setWanted(false);
  };
  useEffect(() => {
    if (!wanted) return;
    const timer = setTimeout(back, WAIT_MS);
    return () => clearTimeout(timer);
  }, [wanted]);
  const enter = async () => {
    const answer = await send('POST', '/api/session', wanted ? { name, password, code } : { name, password });
    if (answer.code_wanted) {
      setWanted(true);
      return;
    }
    if (answer.weak) {
      location.hash = hashOf(['account']);
      say(t('signin.weak'), { loud: true });
    }
    onDone();
  };
  return (
    <main class="signin" id="main">
      <div class="tag tag-huge">
        <span class="tag-hole" aria-hidden="true" />
        <h1 class="tag-code">Clumpwise</h1>
      </div>
      <div class="sheet">
        {wanted ? (
          <Form key="code" save={t('signin.enter')} onSave={enter} onCancel={back}>
            <p>{t('signin.code', { name })}</p>
            <CodeField value={code} hint={t('factor.code_hint')} onInput={setCode} focus />
          </Form>
        ) : (
          <NameAndPassword
            key="password"
            name={name}
            password={password}
            onName={setName}
            onPassword={setPassword}
            onSave={enter}
          />
        )}
      </div>
      {children}
      <Language />
      <Foot />
    </main>
  );
}

/**
 * @param {object} props
 * @param {string} props.name
 * @param {string} props.password
 * @param {(name: string) => void} props.onName
 * @param {(password: string) => void} props.onPassword
 * @param {() => Promise<void>} props.onSave
 */
function NameAndPassword({ name, password, onName, onPassword, onSave }) {
  const [shown, setShown] = useState(false);
  const type = /** @type {any} */ (shown ? 'text' : 'password');
  return (
    <Form save={t('signin.enter')} onSave={onSave}>
      <Field label={t('signin.name')}>
        <input autoComplete="username" required value={name} onInput={(e) => onName(e.currentTarget.value)} />
      </Field>
      <Field label={t('signin.password')}>
        <input
          type={type}
          autoComplete="current-password"
          required
          value={password}
          onInput={(e) => onPassword(e.currentTarget.value)}
        />
      </Field>
      <label class="check">
        <input type="checkbox" checked={shown} onChange={(e) => setShown(e.currentTarget.checked)} />{' '}
        {t('account.show')}
      </label>
    </Form>
  );
}
