// SPDX-License-Identifier: MIT
// The nursery's settings, the people who may sign in, and the keys of programs.

import { useState } from 'preact/hooks';
import { NewPassword, OwnPassword, proven } from '../shared/account.jsx';
import { send } from '../shared/api.js';
import { Field, Form, Loaded, say, sayError } from '../shared/dialog.jsx';
import { useSeason } from '../shared/season.jsx';
import { t, word } from '../shared/text.js';
import { touch, useResource } from '../shared/use.js';

const ROLES = ['owner', 'office', 'packer', 'cellar'];

export function SettingsPage() {
  const { nursery, session } = useSeason();
  return (
    <>
      <h1 class="page-title">{t('settings.title')}</h1>
      <div class="two">
        <section class="sheet">
          <h2>{t('settings.nursery')}</h2>
          <Settings settings={nursery.settings ?? {}} />
        </section>
        <section class="sheet">
          <h2>{t('settings.people')}</h2>
          <People accounts={session.accounts} />
        </section>
        <section class="sheet">
          <h2>{t('settings.keys')}</h2>
          <Keys />
        </section>
        <section class="sheet">
          <h2>{t('settings.audit')}</h2>
          <Audit />
        </section>
      </div>
    </>
  );
}

/** @param {{settings: Record<string, any>}} props */
function Settings({ settings }) {
  const [typed, setTyped] = useState(/** @type {Record<string, string>} */ ({}));
  return (
    <Form
      class="form settings-form"
      save={t('action.save')}
      disabled={Object.keys(typed).length === 0}
      onSave={async () => {
        await send('PATCH', '/api/settings', typed);
        setTyped({});
        say(t('settings.saved'));
        touch();
      }}
    >
      {Object.entries(settings).map(([name, value]) => (
        <Field key={name} label={word('setting', name)}>
          <input value={typed[name] ?? String(value ?? '')} onInput={(e) => setTyped({ ...typed, [name]: e.currentTarget.value })} />
        </Field>
      ))}
    </Form>
  );
}

/** @param {{accounts: boolean}} props */
function People({ accounts }) {
  const people = useResource('/api/people');
  const [name, setName] = useState('');
  const [role, setRole] = useState('owner');
  const [password, setPassword] = useState('');
  const [current, setCurrent] = useState('');
  return (
    <>
      {!accounts && <p>{t('settings.no_accounts')}</p>}
      <Loaded of={people}>
        {(list) => (
          <ul class="rows">
            {list.map((/** @type {any} */ p) => (
              <li key={p.name}>
                <b>{p.name}</b> <span class="quiet">{word('role', p.role)}</span> {p.disabled ? <span class="quiet">{t('settings.disabled')}</span> : null}
              </li>
            ))}
          </ul>
        )}
      </Loaded>
      <Form
        save={t('settings.add_person')}
        onSave={async () => {
          await send('POST', '/api/people', proven({ name, role, password }, current));
          setName('');
          setPassword('');
          setCurrent('');
          people.reload();
        }}
      >
        <Field label={t('signin.name')}>
          <input required autoComplete="off" value={name} onInput={(e) => setName(e.currentTarget.value)} />
        </Field>
        <Field label={t('settings.role')}>
          <select value={role} onChange={(e) => setRole(e.currentTarget.value)}>
            {ROLES.map((r) => (
              <option key={r} value={r}>
                {word('role', r)}
              </option>
            ))}
          </select>
        </Field>
        <NewPassword label={t('settings.password')} name={name} value={password} onInput={setPassword} />
        <OwnPassword value={current} onInput={setCurrent} />
      </Form>
    </>
  );
}

function Keys() {
  const keys = useResource('/api/keys');
  const [name, setName] = useState('');
  const [role, setRole] = useState('shop');
  const [made, setMade] = useState('');
  const [current, setCurrent] = useState('');
  /** @param {any} key */
  const drop = async (key) => {
    try {
      await send('DELETE', `/api/keys/${encodeURIComponent(key.name)}`);
      keys.reload();
    } catch (e) {
      sayError(e);
    }
  };
  return (
    <>
      <Loaded of={keys}>
        {(list) => (
          <ul class="rows">
            {list.map((/** @type {any} */ k) => (
              <li key={k.name}>
                <b>{k.name}</b> <span class="quiet">{word('role', k.role)}</span>{' '}
                <button type="button" class="link-button" onClick={() => drop(k)}>
                  {t('settings.drop_key')}
                </button>
              </li>
            ))}
          </ul>
        )}
      </Loaded>
      {made && (
        <p class="note" role="status">
          {t('settings.key_made')} <code>{made}</code>
        </p>
      )}
      <Form
        save={t('settings.add_key')}
        onSave={async () => {
          const answer = await send('POST', '/api/keys', proven({ name, role }, current));
          setMade(String(answer.key ?? answer.token ?? ''));
          setName('');
          setCurrent('');
          keys.reload();
        }}
      >
        <Field label={t('settings.key_name')}>
          <input required value={name} onInput={(e) => setName(e.currentTarget.value)} />
        </Field>
        <Field label={t('settings.role')}>
          <select value={role} onChange={(e) => setRole(e.currentTarget.value)}>
            {['shop', ...ROLES].map((r) => (
              <option key={r} value={r}>
                {word('role', r)}
              </option>
            ))}
          </select>
        </Field>
        <OwnPassword value={current} onInput={setCurrent} />
      </Form>
    </>
  );
}

function Audit() {
  const { format } = useSeason();
  const audit = useResource('/api/audit');
  return (
    <Loaded of={audit}>
      {(data) => (
        <ul class="rows audit">
          {(Array.isArray(data) ? data : (data.items ?? [])).slice(0, 30).map((/** @type {any} */ a, /** @type {number} */ i) => (
            <li key={i}>
              <span class="quiet">{format.instant(a.at)}</span> <b>{a.actor}</b> {a.action} <span class="quiet">{a.subject}</span>
            </li>
          ))}
        </ul>
      )}
    </Loaded>
  );
}
