// SPDX-License-Identifier: MIT
// One's own account: a new password with what it is worth, and where one is signed in. Also the fields for a password that
// other pages need.

import { useEffect, useState } from 'preact/hooks';
import { send } from './api.js';
import { Field, Form, Loaded, say } from './dialog.jsx';
import { Frame } from './frame.jsx';
import { useSeason } from './season.jsx';
import { t } from './text.js';
import { useResource } from './use.js';

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
        <input type={type} required autoComplete="new-password" value={value} onInput={(e) => onInput(e.currentTarget.value)} />
      </Field>
      <label class="check">
        <input type="checkbox" checked={shown} onChange={(e) => setShown(e.currentTarget.checked)} /> {t('account.show')}
      </label>
      <p class={verdict && !verdict.good ? 'wrong' : 'quiet'} role="status">
        {verdict ? t('account.verdict', { says: verdict.says }) : ''}
      </p>
    </>
  );
}

/** Asks who sits here for their own password; nothing where nobody signs in. @param {{value: string, onInput: (value: string) => void}} props */
export function OwnPassword({ value, onInput }) {
  const { session } = useSeason();
  const [shown, setShown] = useState(false);
  const type = /** @type {any} */ (shown ? 'text' : 'password');
  if (!session.accounts || !session.signed_in) return null;
  return (
    <>
      <Field label={t('account.current')} hint={t('account.current_hint')}>
        <input type={type} required autoComplete="current-password" value={value} onInput={(e) => onInput(e.currentTarget.value)} />
      </Field>
      <label class="check">
        <input type="checkbox" checked={shown} onChange={(e) => setShown(e.currentTarget.checked)} /> {t('account.show_own')}
      </label>
    </>
  );
}

/** Members for a body, with the own password if there is one. @param {Record<string, unknown>} members @param {string} current */
export function proven(members, current) {
  return current ? { ...members, current } : members;
}

export function AccountPage() {
  const { session } = useSeason();
  return (
    <Frame desk="account" pages={[]} page="" title={t('frame.account')}>
      <h1 class="page-title">{t('account.title', { name: session.name })}</h1>
      <div class="two">
        <section class="sheet">
          <h2>{t('account.password')}</h2>
          <ChangePassword name={session.name} />
        </section>
        <section class="sheet">
          <h2>{t('account.sessions')}</h2>
          <Sessions />
        </section>
      </div>
    </Frame>
  );
}

/** @param {{name: string}} props */
function ChangePassword({ name }) {
  const [current, setCurrent] = useState('');
  const [password, setPassword] = useState('');
  return (
    <Form
      save={t('account.change')}
      onSave={async () => {
        await send('PUT', `/api/people/${encodeURIComponent(name)}/password`, { password, current });
        location.reload(); // every session has ended: the page asks to sign in
      }}
    >
      <OwnPassword value={current} onInput={setCurrent} />
      <NewPassword label={t('account.new')} name={name} value={password} onInput={setPassword} />
    </Form>
  );
}

function Sessions() {
  const { format } = useSeason();
  const sessions = useResource('/api/sessions');
  const [current, setCurrent] = useState('');
  const [ending, setEnding] = useState('');
  return (
    <Loaded of={sessions}>
      {(list) => (
        <Form
          save={t('account.end')}
          disabled={list.length < 2}
          onSave={async () => {
            await send('POST', '/api/sessions/end', proven(ending ? { session: ending } : {}, current));
            setCurrent('');
            setEnding('');
            say(t('account.ended'));
            sessions.reload();
          }}
        >
          <ul class="rows">
            {list.map((/** @type {any} */ s) => (
              <li key={s.session}>
                {t('account.session', { since: format.instant(s.since), seen: format.instant(s.seen) })} {s.here && <b>{t('account.here')}</b>}
              </li>
            ))}
          </ul>
          <Field label={t('account.which')}>
            <select value={ending} onChange={(e) => setEnding(e.currentTarget.value)}>
              <option value="">{t('account.all_others')}</option>
              {list
                .filter((/** @type {any} */ s) => !s.here)
                .map((/** @type {any} */ s) => (
                  <option key={s.session} value={s.session}>
                    {t('account.session', { since: format.instant(s.since), seen: format.instant(s.seen) })}
                  </option>
                ))}
            </select>
          </Field>
          <OwnPassword value={current} onInput={setCurrent} />
        </Form>
      )}
    </Loaded>
  );
}
