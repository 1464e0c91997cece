// SPDX-License-Identifier: MIT
// One's own account: a new password, the second factor, and where one is signed in.

import { useState } from 'preact/hooks';
import { send } from '../net/api.js';
import { Field, Form, Loaded, say } from '../dialog.jsx';
import { SecondFactor } from './factor.jsx';
import { Frame } from '../frame.jsx';
import { NewPassword, OwnPassword, proven } from './password.jsx';
import { useSeason } from '../season.jsx';
import { t } from '../strings/text.js';
import { useResource } from '../net/use.js';

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
          <h2>{t('factor.title')}</h2>
          <SecondFactor />
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
            {list.map((s) => (
              <li key={s.session}>
                {t('account.session', { since: format.instant(s.since), seen: format.instant(s.seen) })}{' '}
                {s.here && <b>{t('account.here')}</b>}
              </li>
            ))}
          </ul>
          <Field label={t('account.which')}>
            <select value={ending} onChange={(e) => setEnding(e.currentTarget.value)}>
              <option value="">{t('account.all_others')}</option>
              {list
                .filter((s) => !s.here)
                .map((s) => (
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
