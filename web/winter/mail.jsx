// SPDX-License-Identifier: MIT
// The nursery's own mail account, and the test letter that comes before all others.

import { useState } from 'preact/hooks';
import { OwnPassword, proven } from '../shared/account/password.jsx';
import { send } from '../shared/net/api.js';
import { Field, Form, Loaded, say } from '../shared/dialog.jsx';
import { t } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';
import { Forget, SendTest } from './proving.jsx';

/**
 * @typedef {object} Post
 * @property {string | null} server
 * @property {string | null} user
 * @property {string | null} authority
 * @property {number} per_minute
 * @property {boolean} account
 * @property {boolean} elsewhere
 * @property {string | null} trouble
 * @property {string | null} sender
 * @property {boolean} tested
 */

export function MailAccount() {
  const post = useResource('/api/post', { keep: true });
  return (
    <Loaded of={post}>
      {(/** @type {Post} */ p) => (
        <>
          {p.trouble && <p class="caution">{p.trouble}</p>}
          {p.elsewhere ? <p>{t('mail.elsewhere')}</p> : <Account key={`${p.server} ${p.user}`} post={p} />}
          {p.account && (
            <>
              <p>{p.sender ? t('mail.test.why', { sender: p.sender }) : t('mail.no_sender')}</p>
              <SendTest
                path="/api/post/test"
                label={t('mail.test')}
                disabled={!p.sender}
                tested={p.tested}
                works="mail.tested"
                isTest={(r) => r.kind === 'test'}
              />
            </>
          )}
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
        <Forget
          path="/api/post/account/forget"
          label={t('mail.forget')}
          current={current}
          onDone={() => setCurrent('')}
        />
      )}
    </Form>
  );
}
