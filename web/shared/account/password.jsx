// SPDX-License-Identifier: MIT
// The fields for a password: a new one with what it is worth, and the own one, asked once more before what matters.

import { useEffect, useState } from 'preact/hooks';
import { send } from '../net/api.js';
import { Field } from '../dialog.jsx';
import { useSeason } from '../season.jsx';
import { t } from '../strings/text.js';

/**
 * A new password, and the server's own verdict on it while it is typed.
 * @param {{label: string, name: string, value: string, onInput: (value: string) => void}} props
 */
export function NewPassword({ label, name, value, onInput }) {
  const [verdict, setVerdict] = useState(/** @type {{good: boolean, says: string} | null} */ (null));
  const [shown, setShown] = useState(false);
  const type = /** @type {any} */ (shown ? 'text' : 'password');
  useEffect(() => {
    setVerdict(null);
    if (!value) return;
    const stop = new AbortController();
    const timer = setTimeout(async () => {
      try {
        setVerdict(await send('POST', '/api/password-verdict', { name, password: value }, { signal: stop.signal }));
      } catch {
        /* without a verdict the save still tells what is wrong */
      }
    }, 300);
    return () => {
      clearTimeout(timer);
      stop.abort();
    };
  }, [name, value]);
  return (
    <>
      <Field label={label} hint={t('account.password_hint')}>
        <input
          type={type}
          required
          autoComplete="new-password"
          value={value}
          onInput={(e) => onInput(e.currentTarget.value)}
        />
      </Field>
      <label class="check">
        <input type="checkbox" checked={shown} onChange={(e) => setShown(e.currentTarget.checked)} />{' '}
        {t('account.show')}
      </label>
      <p class={verdict && !verdict.good ? 'wrong' : 'quiet'} role="status">
        {verdict ? t('account.verdict', { says: verdict.says }) : ''}
      </p>
    </>
  );
}

/**
 * Asks who sits here for their own password; nothing where nobody signs in.
 * @param {{value: string, onInput: (value: string) => void}} props
 */
export function OwnPassword({ value, onInput }) {
  const { session } = useSeason();
  const [shown, setShown] = useState(false);
  const type = /** @type {any} */ (shown ? 'text' : 'password');
  if (!session.accounts || !session.signed_in) return null;
  return (
    <>
      <Field label={t('account.current')} hint={t('account.current_hint')}>
        <input
          type={type}
          required
          autoComplete="current-password"
          value={value}
          onInput={(e) => onInput(e.currentTarget.value)}
        />
      </Field>
      <label class="check">
        <input type="checkbox" checked={shown} onChange={(e) => setShown(e.currentTarget.checked)} />{' '}
        {t('account.show_own')}
      </label>
    </>
  );
}

/** Members for a body, with the own password if there is one. @param {Record<string, unknown>} members @param {string} current */
export function proven(members, current) {
  return current ? { ...members, current } : members;
}
