// SPDX-License-Identifier: MIT
// The nursery's own mail account, and the test letter that comes before all others.

import { useEffect, useState } from 'preact/hooks';
import { OwnPassword, proven } from '../shared/account/password.jsx';
import { newKey, send } from '../shared/net/api.js';
import { Field, Form, Loaded, say, sayError, useBusy } from '../shared/dialog.jsx';
import { t, word } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';

/** @typedef {{server: string | null, user: string | null, authority: string | null, per_minute: number, account: boolean, elsewhere: boolean, trouble: string | null, sender: string | null, tested: boolean}} Post */

export function MailAccount() {
  const post = useResource('/api/post', { keep: true });
  return (
    <Loaded of={post}>
      {(/** @type {Post} */ p) => (
        <>
          {p.trouble && <p class="caution">{p.trouble}</p>}
          {p.elsewhere ? <p>{t('mail.elsewhere')}</p> : <Account key={`${p.server} ${p.user}`} post={p} />}
          {p.account && <TestLetter post={p} />}
        </>
      )}
    </Loaded>
  );
}

/** @param {{post: Post}} props */
function Account({ post }) {
  const [server, setServer] = useState(post.server ?? '');
  const [user, setUser] = useState(post.user ?? '');
  const [password, setPassword] = useState('');
  const [minute, setMinute] = useState(String(post.per_minute));
  const [current, setCurrent] = useState('');
  const body = () => ({
    server: server.trim(),
    user: user.trim() || undefined,
    password: password || undefined,
    authority: post.authority ?? undefined,
    per_minute: Number(minute) || undefined,
  });
  return (
    <Form
      save={t('mail.save')}
      onSave={async () => {
        await send('PUT', '/api/post/account', proven(body(), current));
        setPassword('');
        setCurrent('');
        say(t('action.done'));
        touch();
      }}
    >
      <Field label={t('mail.server')} hint={t('mail.server.hint')}>
        <input required spellcheck={false} value={server} onInput={(e) => setServer(e.currentTarget.value)} />
      </Field>
      <Field label={t('mail.user')}>
        <input autoComplete="off" value={user} onInput={(e) => setUser(e.currentTarget.value)} />
      </Field>
      <Field label={t('mail.password')} hint={t('mail.password.hint')}>
        <input
          type="password"
          autoComplete="new-password"
          value={password}
          onInput={(e) => setPassword(e.currentTarget.value)}
        />
      </Field>
      <Field label={t('mail.minute')}>
        <input inputMode="numeric" value={minute} onInput={(e) => setMinute(e.currentTarget.value)} />
      </Field>
      <OwnPassword value={current} onInput={setCurrent} />
      {post.account && (
        <p>
          <button
            type="button"
            class="link-button"
            onClick={async () => {
              try {
                await send('POST', '/api/post/account/forget', proven({}, current));
                setCurrent('');
                touch();
              } catch (e) {
                sayError(e);
              }
            }}
          >
            {t('mail.forget')}
          </button>
        </p>
      )}
    </Form>
  );
}

/** What became of it is shown until the server has answered. @param {{post: Post}} props */
function TestLetter({ post }) {
  const rows = useResource('/api/outbox', { keep: true });
  const [busy, run] = useBusy();
  const test = (rows.data ?? []).find((/** @type {any} */ r) => r.kind === 'test');
  const waits = test?.state === 'waits' || test?.state === 'going';
  useEffect(() => {
    if (!waits) return undefined;
    const timer = setInterval(() => touch(), 1000);
    return () => clearInterval(timer);
  }, [waits]);
  return (
    <>
      <p>{post.sender ? t('mail.test.why', { sender: post.sender }) : t('mail.no_sender')}</p>
      <button
        type="button"
        disabled={!post.sender || waits}
        aria-disabled={busy}
        onClick={() =>
          run(async () => {
            await send('POST', '/api/post/test', {}, { key: newKey() });
            touch();
          })
        }
      >
        {t('mail.test')}
      </button>
      <p role="status">
        {test ? `${word('outbox', test.state)}. ${test.words ?? ''}` : ''} {post.tested ? t('mail.tested') : ''}
      </p>
    </>
  );
}
