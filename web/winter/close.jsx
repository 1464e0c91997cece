// SPDX-License-Identifier: MIT
// The season is closed and the next one's file made: first what would become of it, then the making with its proof. A closed season
// says what it still takes; an owner opens it again, on record.

import { useState } from 'preact/hooks';
import { get, send } from '../shared/net/api.js';
import { Field, Form, say } from '../shared/dialog.jsx';
import { PlainTable } from '../shared/grid/plain.jsx';
import { useSeason } from '../shared/season.jsx';
import { t } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';

/** @typedef {import('../contract').Answers['POST /api/season/next']} Made */

export function CloseSeason() {
  const state = useResource('/api/season/closed');
  if (!state.data) return null;
  return state.data.closed ? <Closed state={state.data} /> : <Open />;
}

/** The same day of the week a year later: 52 weeks on. @param {string} day */
const yearLater = (day) =>
  day ? new Date(Date.parse(`${day}T00:00:00Z`) + 364 * 86400000).toISOString().slice(0, 10) : '';

function Open() {
  const { nursery } = useSeason();
  const [season, setSeason] = useState('');
  const [ship, setShip] = useState('');
  const [leave, setLeave] = useState(false);
  const [buyers, setBuyers] = useState(false);
  const [since, setSince] = useState('');
  const [look, setLook] = useState(/** @type {Made | null} */ (null));
  const [made, setMade] = useState(/** @type {Made | null} */ (null));
  const ask = {
    season: Number(season || Number(nursery.season) + 1),
    ship: ship || yearLater(nursery.ship),
    leave_open: leave ? 'yes' : undefined,
    buyers_since: buyers && since ? since : undefined,
  };
  const query = new URLSearchParams({ season: String(ask.season), ship: ask.ship });
  if (leave) query.set('leave_open', 'yes');
  if (ask.buyers_since) query.set('buyers_since', ask.buyers_since);
  const changed = (/** @type {() => void} */ set) => (set(), setLook(null), setMade(null));
  return (
    <section class="sheet">
      <h2>{t('close.title')}</h2>
      <p>{t('close.about')}</p>
      <Form
        save={t('close.look')}
        onSave={async () => {
          setMade(null);
          setLook(await get(`/api/season/next?${query}`));
        }}
      >
        <Field label={t('close.season')}>
          <input
            type="number"
            min={Number(nursery.season) + 1}
            max={2199}
            value={ask.season || ''}
            onInput={(e) => changed(() => setSeason(e.currentTarget.value))}
          />
        </Field>
        <Field label={t('close.ship')}>
          <input type="date" required value={ask.ship} onInput={(e) => changed(() => setShip(e.currentTarget.value))} />
        </Field>
        <label class="check">
          <input type="checkbox" checked={leave} onChange={(e) => changed(() => setLeave(e.currentTarget.checked))} />
          {t('close.leave')}
        </label>
        <label class="check">
          <input type="checkbox" checked={buyers} onChange={(e) => changed(() => setBuyers(e.currentTarget.checked))} />
          {t('close.buyers')}
        </label>
        {buyers && (
          <Field label={t('close.buyers_since')} hint={t('close.buyers_since_hint')}>
            <input
              type="date"
              required
              max={nursery.today}
              value={since}
              onInput={(e) => changed(() => setSince(e.currentTarget.value))}
            />
          </Field>
        )}
      </Form>
      {look && (
        <>
          <h3>{t('close.preview', { file: look.file })}</h3>
          <Rows rows={look.rows} />
          <Form
            save={t('close.do', { season: String(ask.season) })}
            onSave={async () => {
              const next = await send('POST', '/api/season/next', ask);
              setMade(next);
              if (next.proof.some((/** @type {any} */ p) => !p.agree)) return;
              await send('POST', '/api/season/close', ask);
              say(t('close.done', { file: next.file }));
              touch();
            }}
          >
            <p>{t('close.means')}</p>
          </Form>
        </>
      )}
      {made && <Proof made={made} />}
    </section>
  );
}

/** @param {{rows: Made['rows']}} props */
function Rows({ rows }) {
  return (
    <PlainTable label={t('close.becomes')}>
      <thead>
        <tr>
          <th>{t('close.part')}</th>
          <th>{t('close.old')}</th>
          <th>{t('close.new')}</th>
          <th>{t('close.note')}</th>
        </tr>
      </thead>
      <tbody>
        {rows.map((r, i) => (
          <tr key={i}>
            <td>{r.part}</td>
            <td>{r.old}</td>
            <td>{r.new}</td>
            <td class="reason">{r.note}</td>
          </tr>
        ))}
      </tbody>
    </PlainTable>
  );
}

/** @param {{made: Made}} props */
function Proof({ made }) {
  const wrong = made.proof.filter((p) => !p.agree).length;
  return (
    <details open={wrong > 0}>
      <summary>{wrong > 0 ? t('close.disagree', { n: wrong }) : t('close.agree', { n: made.proof.length })}</summary>
      <PlainTable label={t('close.proof')}>
        <thead>
          <tr>
            <th>{t('close.part')}</th>
            <th>{t('close.here')}</th>
            <th>{t('close.there')}</th>
          </tr>
        </thead>
        <tbody>
          {made.proof.map((p, i) => (
            <tr key={i} class={p.agree ? '' : 'fit-bad'}>
              <td>{p.part}</td>
              <td class="long">{p.past.slice(0, 16)}</td>
              <td class="long">{p.here.slice(0, 16)}</td>
            </tr>
          ))}
        </tbody>
      </PlainTable>
    </details>
  );
}

/** @param {{state: import('../contract').Answers['GET /api/season/closed']}} props */
function Closed({ state }) {
  const { format } = useSeason();
  const [why, setWhy] = useState('');
  return (
    <section class="sheet">
      <h2>{t('close.is')}</h2>
      <p>
        {t('close.by', { season: String(state.season ?? ''), day: format.day(state.day), name: state.actor ?? '' })}
      </p>
      <p>{t('close.takes')}</p>
      <Form
        save={t('close.reopen')}
        disabled={why.trim() === ''}
        onSave={async () => {
          await send('POST', '/api/season/reopen', { why: why.trim() });
          say(t('close.reopened'));
          touch();
        }}
      >
        <Field label={t('action.why')}>
          <textarea rows={2} required value={why} onInput={(e) => setWhy(e.currentTarget.value)} />
        </Field>
      </Form>
    </section>
  );
}
