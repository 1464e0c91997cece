// SPDX-License-Identifier: MIT
// The people who may sign in and at which desk, and the keys of programs. Each change asks for the owner's own password.

import { useState } from 'preact/hooks';
import { NewPassword, OwnPassword, proven } from '../shared/account/password.jsx';
import { send } from '../shared/net/api.js';
import { Dialog, Field, Form, Loaded, say, sayError } from '../shared/dialog.jsx';
import { useSeason } from '../shared/season.jsx';
import { t, word } from '../shared/strings/text.js';
import { useResource } from '../shared/net/use.js';

const ROLES = /** @satisfies {import('../contract').Some<'person_roles'>} */ (['owner', 'office', 'packer', 'cellar']);

/** @typedef {{name: string, role: string, disabled: boolean, second_factor: boolean}} Person */
/** @typedef {'role' | 'shut' | 'password' | 'clear'} Change */

/** @param {{role: string, roles: string[], onRole: (role: string) => void}} props */
function Desk({ role, roles, onRole }) {
  return (
    <Field label={t('settings.role')}>
      <select value={role} onChange={(e) => onRole(e.currentTarget.value)}>
        {roles.map((r) => (
          <option key={r} value={r}>
            {word('role', r)}
          </option>
        ))}
      </select>
    </Field>
  );
}

/** @param {{accounts: boolean}} props */
export function People({ accounts }) {
  const { session } = useSeason();
  const people = useResource('/api/people');
  const [name, setName] = useState('');
  const [role, setRole] = useState('owner');
  const [password, setPassword] = useState('');
  const [current, setCurrent] = useState('');
  const [changing, setChanging] = useState(/** @type {{person: Person, what: Change} | null} */ (null));
  return (
    <>
      {!accounts && <p>{t('settings.no_accounts')}</p>}
      <Loaded of={people}>
        {(list) => (
          <ul class="rows">
            {list.map((/** @type {Person} */ p) => (
              <li key={p.name} class="person">
                <span>
                  <b>{p.name}</b>{' '}
                  <span class="quiet">
                    {[word('role', p.role), p.second_factor ? t('people.has_factor') : ''].filter(Boolean).join(' · ')}
                  </span>{' '}
                  {p.disabled ? <b>{t('settings.disabled')}</b> : null}
                </span>
                <span class="person-acts">
                  <button
                    type="button"
                    class="link-button"
                    aria-label={t('people.role.of', { name: p.name })}
                    onClick={() => setChanging({ person: p, what: 'role' })}
                  >
                    {t('people.role')}
                  </button>
                  {p.name !== session.name && (
                    <button
                      type="button"
                      class="link-button"
                      aria-label={t('people.password.of', { name: p.name })}
                      onClick={() => setChanging({ person: p, what: 'password' })}
                    >
                      {t('people.password')}
                    </button>
                  )}
                  {p.second_factor && p.name !== session.name && (
                    <button
                      type="button"
                      class="link-button"
                      aria-label={t('people.clear.of', { name: p.name })}
                      onClick={() => setChanging({ person: p, what: 'clear' })}
                    >
                      {t('people.clear')}
                    </button>
                  )}
                  <button
                    type="button"
                    class="link-button"
                    aria-label={
                      p.disabled ? t('people.let.of', { name: p.name }) : t('people.shut.of', { name: p.name })
                    }
                    onClick={() => setChanging({ person: p, what: 'shut' })}
                  >
                    {p.disabled ? t('people.let') : t('people.shut')}
                  </button>
                </span>
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
        <Desk role={role} roles={ROLES} onRole={setRole} />
        <NewPassword label={t('settings.password')} name={name} value={password} onInput={setPassword} />
        <OwnPassword value={current} onInput={setCurrent} />
      </Form>
      {changing && <ChangeDialog {...changing} onClose={() => setChanging(null)} onDone={people.reload} />}
    </>
  );
}

/** @param {{person: Person, what: Change, onClose: () => void, onDone: () => void}} props */
function ChangeDialog({ person, what, onClose, onDone }) {
  const [role, setRole] = useState(person.role);
  const [password, setPassword] = useState('');
  const [current, setCurrent] = useState('');
  const path = `/api/people/${encodeURIComponent(person.name)}`;
  const name = { name: person.name };
  const title =
    what === 'role'
      ? t('people.role.of', name)
      : what === 'password'
        ? t('people.password.of', name)
        : what === 'clear'
          ? t('people.clear.of', name)
          : person.disabled
            ? t('people.let.of', name)
            : t('people.shut.of', name);
  const save = async () => {
    if (what === 'role')
      await send('PUT', `${path}/role`, proven({ role }, current), { of: person.name, base: { role: person.role } });
    else if (what === 'password') await send('PUT', `${path}/password`, proven({ password }, current));
    else if (what === 'clear') await send('POST', `${path}/clear-factor`, proven({}, current));
    else
      await send('PATCH', path, proven({ disabled: !person.disabled }, current), {
        of: person.name,
        base: { disabled: person.disabled },
      });
    say(t('action.done'));
    onDone();
    onClose();
  };
  return (
    <Dialog title={title} onClose={onClose}>
      <Form
        save={
          what === 'clear'
            ? t('people.clear')
            : what === 'shut'
              ? person.disabled
                ? t('people.let')
                : t('people.shut')
              : t('action.save')
        }
        disabled={what === 'role' && role === person.role}
        onSave={save}
        onCancel={onClose}
      >
        {what === 'clear' && <p>{t('people.clear.about', name)}</p>}
        <p>{what === 'shut' && person.disabled ? t('people.let.about') : t('people.signs_out', name)}</p>
        {what === 'role' && <Desk role={role} roles={ROLES} onRole={setRole} />}
        {what === 'password' && (
          <NewPassword label={t('settings.password')} name={person.name} value={password} onInput={setPassword} />
        )}
        <OwnPassword value={current} onInput={setCurrent} />
      </Form>
    </Dialog>
  );
}

/** @typedef {{name: string, role: string, disabled: boolean, expires_on: string | null, replace: boolean}} ProgramKey */

export function Keys() {
  const { format } = useSeason();
  const keys = useResource('/api/keys');
  const [name, setName] = useState('');
  const [role, setRole] = useState('shop');
  const [until, setUntil] = useState('');
  const [made, setMade] = useState('');
  const [current, setCurrent] = useState('');
  /** @param {ProgramKey} key */
  const drop = async (key) => {
    try {
      await send('DELETE', `/api/keys/${encodeURIComponent(key.name)}`);
      say(t('settings.key_dropped', { name: key.name }));
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
            {list.map((/** @type {ProgramKey} */ k) => (
              <li key={k.name} class="person">
                <span>
                  <b>{k.name}</b>{' '}
                  <span class="quiet">
                    {[
                      word('role', k.role),
                      k.expires_on ? t('settings.key_until_day', { day: format.day(k.expires_on) }) : '',
                    ]
                      .filter(Boolean)
                      .join(' · ')}
                  </span>{' '}
                  {k.disabled ? (
                    <b>{t('settings.revoked')}</b>
                  ) : k.replace ? (
                    <b>{k.expires_on ? t('settings.key_soon') : t('settings.key_never')}</b>
                  ) : null}
                </span>
                {!k.disabled && (
                  <button
                    type="button"
                    class="link-button"
                    aria-label={t('settings.drop_key.of', { name: k.name })}
                    onClick={() => drop(k)}
                  >
                    {t('settings.drop_key')}
                  </button>
                )}
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
          const answer = await send(
            'POST',
            '/api/keys',
            proven({ name, role, expires_on: until || undefined }, current),
          );
          setMade(String(answer.key ?? ''));
          setName('');
          setCurrent('');
          keys.reload();
        }}
      >
        <Field label={t('settings.key_name')}>
          <input required value={name} onInput={(e) => setName(e.currentTarget.value)} />
        </Field>
        <Desk role={role} roles={['shop', ...ROLES]} onRole={setRole} />
        <Field label={t('settings.key_until')} hint={t('settings.key_until.hint')}>
          <input type="date" value={until} onInput={(e) => setUntil(e.currentTarget.value)} />
        </Field>
        <OwnPassword value={current} onInput={setCurrent} />
      </Form>
    </>
  );
}
