// SPDX-License-Identifier: MIT
// The board of ship weeks: parcels against what the crew can pack, the orders of a week, holds, waves.

import { useState } from 'preact/hooks';
import { newKey, send } from '../shared/net/api.js';
import { Dialog, Field, Form, Loaded, ReasonDialog, say, sayError } from '../shared/dialog.jsx';
import { hashOf } from '../shared/route.js';
import { useSearch } from '../shared/search.jsx';
import { rights, useSeason } from '../shared/season.jsx';
import { t, word } from '../shared/strings/text.js';
import { touch, useFields, useResource } from '../shared/net/use.js';
import { WeekSelect } from './weekfield.jsx';

/** More orders of one week than this are found by the finder; of those without a week as many are asked for. */
const MOST_SHOWN = 200;

/** @typedef {import('../contract').Answers['GET /api/schedule']['orders']} Orders */

export function WeeksPage() {
  const { session, format } = useSeason();
  const schedule = useResource('/api/schedule?without=1&most=200');
  const waves = useResource('/api/waves');
  const [week, setWeek] = useState('');
  const [notes, setNotes] = useState(
    /** @type {import('../contract').Answers['POST /api/waves']['notes'] | null} */ (null),
  );
  const may = rights(session).office;
  /** @param {string} path @param {Record<string, unknown>} body @param {string} done */
  const act = async (path, body, done) => {
    try {
      await send('POST', path, body, { key: newKey() });
      say(done);
      touch();
    } catch (e) {
      sayError(e);
    }
  };
  const makeWave = async () => {
    try {
      const made = await send('POST', '/api/waves', { week }, { key: newKey() });
      say(t('weeks.wave_done', { week: format.week(week) }));
      if ((made?.notes ?? []).length > 0) setNotes(made.notes);
      touch();
    } catch (e) {
      sayError(e);
    }
  };
  return (
    <>
      <div class="page-head">
        <h1 class="page-title">{t('weeks.title')}</h1>
        {may && (
          <button type="button" class="main-button" onClick={() => act('/api/schedule', {}, t('weeks.set_done'))}>
            {t('weeks.set')}
          </button>
        )}
      </div>
      <Loaded of={schedule}>
        {(data) => (
          <>
            {data.weeks.length === 0 ? (
              <p class="sheet quiet">{t('weeks.none')}</p>
            ) : (
              <ol class="board">
                {upToLast(data.weeks).map((w) => (
                  <WeekColumn
                    key={w.week}
                    w={w}
                    most={Math.max(...data.weeks.map((x) => Math.max(x.parcels, x.capacity ?? 0)))}
                    here={w.week === week}
                    onOpen={() => setWeek(w.week === week ? '' : w.week)}
                  />
                ))}
              </ol>
            )}
            <Without orders={data.orders} n={data.without} />
            {week && <WeekOrders key={week} week={week} may={may} onWave={makeWave} />}
            {notes && <WaveNotes notes={notes} onClose={() => setNotes(null)} />}
          </>
        )}
      </Loaded>
      <div class="two">
        <section class="sheet">
          <h2>{t('weeks.waves')}</h2>
          <Waves waves={waves.data ?? []} may={may} />
        </section>
        <section class="sheet">
          <h2>{t('frost.title')}</h2>
          <FrostHolds may={may} />
        </section>
      </div>
    </>
  );
}

/** Weeks after the last parcel are left away. @param {import('../contract').Answers['GET /api/schedule']['weeks']} weeks */
function upToLast(weeks) {
  const last = weeks.findLastIndex((w) => w.parcels > 0);
  return weeks.slice(0, Math.max(last + 2, 4));
}

/**
 * @param {object} props
 * @param {import('../contract').Answers['GET /api/schedule']['weeks'][number]} props.w
 * @param {number} props.most
 * @param {boolean} props.here
 * @param {() => void} props.onOpen
 */
function WeekColumn({ w, most, here, onOpen }) {
  const { format } = useSeason();
  const height = 120;
  const y = (/** @type {number} */ v) => (v / Math.max(most, 1)) * height;
  const [number, ...days] = format.week(w.week).split(' ');
  const over = w.capacity !== null && w.capacity !== undefined && w.parcels > w.capacity;
  return (
    <li>
      <button type="button" class="week" aria-pressed={here} onClick={onOpen}>
        <svg viewBox={`0 0 60 ${height}`} aria-hidden="true" focusable="false">
          <rect class="week-room" x="8" width="44" y={height - y(w.capacity ?? 0)} height={y(w.capacity ?? 0)} />
          <rect class="tuber-sold" x="14" width="32" y={height - y(w.parcels)} height={y(w.parcels)} />
          {over && (
            <rect class="tuber-risk" x="14" width="32" y={height - y(w.parcels)} height={y(w.parcels - w.capacity)} />
          )}
        </svg>
        <b>
          <span class="hidden">{t('weeks.week')}</span> {number}
        </b>
        <span class="quiet">{days.join(' ').replace(/[()]/g, '')}</span>
        <span>
          {w.parcels} / {w.capacity ?? '–'} <span class="hidden">{t('weeks.parcels')}</span>
        </span>
        {over && <span>{t('weeks.over', { n: w.parcels - w.capacity })}</span>}
      </button>
    </li>
  );
}

/** Orders that have something to send and no week: each says why. @param {{orders: Orders, n: number}} props */
function Without({ orders, n }) {
  if (n === 0) return null;
  return (
    <details class="sheet">
      <summary>
        {t('weeks.without')} ({n})
      </summary>
      <ul class="rows scroll-y">
        {orders.map((o) => (
          <li key={o.order}>
            <a class="figure" href={hashOf(['orders', 'order', o.order])}>
              {o.order}
            </a>{' '}
            {o.customer} <span class="quiet">{o.sentence}</span>
          </li>
        ))}
      </ul>
      {n > orders.length && <p class="quiet">{t('weeks.more', { n: n - orders.length })}</p>}
    </details>
  );
}

/**
 * Asked for when a week is opened: all orders of a season would be tens of megabytes.
 * @param {{week: string, may: boolean, onWave: () => void}} props
 */
function WeekOrders({ week, may, onWave }) {
  const { format } = useSeason();
  const orders = useResource(`/api/schedule?week=${week}`);
  return (
    <section class="sheet">
      <div class="page-head">
        <h2>{t('weeks.of', { week: format.week(week) })}</h2>
        {may && (
          <button type="button" class="main-button" onClick={onWave}>
            {t('weeks.wave')}
          </button>
        )}
      </div>
      <Loaded of={orders}>{(data) => <OrdersOfWeek orders={data.orders} />}</Loaded>
    </section>
  );
}

/** @param {{orders: Orders}} props */
function OrdersOfWeek({ orders }) {
  const { found, field } = useSearch(orders, (o) => [o.order, o.customer, o.sentence], t('weeks.find'));
  return (
    <>
      {orders.length > 8 && field}
      <ul class="rows">
        {found.slice(0, MOST_SHOWN).map((o) => (
          <li key={o.order}>
            <a class="figure" href={hashOf(['orders', 'order', o.order])}>
              {o.order}
            </a>{' '}
            {o.customer} <span class="quiet">{o.sentence}</span>
          </li>
        ))}
      </ul>
      {found.length > MOST_SHOWN && <p class="quiet">{t('weeks.more', { n: found.length - MOST_SHOWN })}</p>}
    </>
  );
}

/**
 * Who is not in the wave just made, or not wholly, and why.
 * @param {{notes: import('../contract').Answers['POST /api/waves']['notes'], onClose: () => void}} props
 */
function WaveNotes({ notes, onClose }) {
  return (
    <Dialog title={t('weeks.notes')} onClose={onClose} wide>
      <ul class="rows scroll-y">
        {notes.map((n, i) => (
          <li key={i}>
            <b>{n.what}</b>{' '}
            <a class="figure" href={hashOf(['orders', 'order', n.order])}>
              {n.order}
            </a>{' '}
            {n.sentence}
          </li>
        ))}
      </ul>
    </Dialog>
  );
}

/** @param {{waves: import('../contract').Answers['GET /api/waves'], may: boolean}} props */
function Waves({ waves, may }) {
  const { format } = useSeason();
  const [dropping, setDropping] = useState(/** @type {string | null} */ (null));
  const [key] = useState(newKey);
  const { found, field } = useSearch(
    waves,
    (w) => [w.wave, w.week, format.week(w.week), word('state', w.state)],
    t('weeks.waves.find'),
  );
  if (waves.length === 0) return <p class="quiet">{t('weeks.no_waves')}</p>;
  return (
    <>
      {field}
      <ul class="rows">
        {found.map((w) => {
          const id = String(w.wave);
          return (
            <li key={id}>
              <b>{t('weeks.wave_of', { wave: id, week: format.week(w.week) })}</b>{' '}
              <span class="quiet">
                {w.forgotten > 0 && <b class="shout">{t('weeks.forgotten', { n: w.forgotten })} </b>}
                {word('state', w.state)}{' '}
                {w.picks !== undefined
                  ? t('weeks.wave_state', { n: w.open ?? 0, parcels: w.parcels ?? 0, packed: w.packed ?? 0 })
                  : ''}
              </span>{' '}
              {['walk', 'walk?by=room', 'walk?by=person', 'slips', 'slips?by=slot', 'labels'].map((sheet) => (
                <a
                  key={sheet}
                  class="apart"
                  href={`/print/${sheet}${sheet.includes('?') ? '&' : '?'}wave=${id}`}
                  target="_blank"
                  rel="noopener"
                >
                  {word('sheet', sheet.replace('?by=', '.'))}
                </a>
              ))}{' '}
              <a class="apart" href={`/api/waves/${id}/carrier.csv`} download>
                {t('weeks.carrier')}
              </a>{' '}
              {may && w.state === 'open' && (
                <button
                  type="button"
                  class="link-button"
                  aria-label={t('weeks.drop.which', { wave: id })}
                  onClick={() => setDropping(id)}
                >
                  {t('weeks.drop')}
                </button>
              )}
            </li>
          );
        })}
      </ul>
      {dropping && (
        <ReasonDialog
          title={t('weeks.drop.of', { wave: dropping })}
          about={t('weeks.drop.about')}
          save={t('weeks.drop')}
          onClose={() => setDropping(null)}
          onSave={async (why) => {
            await send('POST', `/api/waves/${dropping}/drop`, { why }, { key: `${key}.${dropping}` });
            say(t('action.done'));
            touch();
          }}
        />
      )}
    </>
  );
}

const NOWHERE = { country: '', region: '', postcode_from: '', postcode_to: '' };
const PLACE = /** @type {const} */ ([
  ['country', 'frost.country'],
  ['region', 'frost.region'],
  ['postcode_from', 'frost.postcode_from'],
  ['postcode_to', 'frost.postcode_to'],
]);

/** @param {import('../contract').Row<'GET /api/frost-holds'>} h */
function heldName(h) {
  const codes = h.postcode_from === h.postcode_to ? h.postcode_from : `${h.postcode_from}–${h.postcode_to}`;
  return h.zone ?? h.order ?? [h.carrier, h.country, h.region, codes].filter(Boolean).join(' ');
}

/** @param {{may: boolean}} props */
function FrostHolds({ may }) {
  const { format } = useSeason();
  const holds = useResource('/api/frost-holds').data ?? [];
  const { found, field } = useSearch(
    holds,
    (h) => [heldName(h), format.week(h.first_week), format.week(h.last_week), h.first_week, h.last_week, h.why],
    t('frost.find'),
  );
  const [of, setOf] = useState('zone');
  const [name, setName] = useState('');
  const [place, putPlace] = useFields(NOWHERE);
  const [from, setFrom] = useState('');
  const [to, setTo] = useState('');
  const [why, setWhy] = useState('');
  const [told, setTold] = useState(
    /** @type {import('../contract').Answers['GET /api/frost-holds/touched'] | null} */ (null),
  );
  /** @param {import('../contract').Row<'GET /api/frost-holds'>} hold */
  const lift = async (hold) => {
    try {
      await send('DELETE', `/api/frost-holds/${hold.hold}`);
      touch();
    } catch (e) {
      sayError(e);
    }
  };
  return (
    <>
      {holds.length > 0 && field}
      <ul class="rows">
        {found.map((h) => (
          <li key={h.hold}>
            <b>{heldName(h)}</b> {format.week(h.first_week)} – {format.week(h.last_week)} {h.why}{' '}
            {h.orders > 0 && (
              <b class="shout">{t('frost.touches', { n: h.orders, parcels: h.parcels, stops: h.stops })} </b>
            )}
            {may && (
              <button
                type="button"
                class="link-button"
                aria-label={t('frost.lift.of', { what: heldName(h) })}
                onClick={() => lift(h)}
              >
                {t('frost.lift')}
              </button>
            )}
          </li>
        ))}
      </ul>
      {may && (
        <Form
          class="form form-row"
          save={t('frost.save')}
          onSave={async () => {
            const all = await send(
              'POST',
              '/api/frost-holds',
              {
                ...(of === 'place'
                  ? Object.fromEntries(Object.entries(place).map(([part, text]) => [part, text.trim() || undefined]))
                  : { [/** @type {'zone'} */ (of)]: name.trim() }),
                first_week: from,
                last_week: to,
                why: why.trim() || undefined,
              },
              { key: newKey() },
            );
            const set = all[all.length - 1];
            if (set.parcels > 0) setTold(await send('GET', `/api/frost-holds/touched?hold=${set.hold}`));
            setName('');
            putPlace(NOWHERE);
            setWhy('');
            touch();
          }}
        >
          <Field label={t('frost.of')}>
            <select value={of} onChange={(e) => setOf(e.currentTarget.value)}>
              <option value="zone">{t('frost.zone')}</option>
              <option value="order">{t('order.order')}</option>
              <option value="place">{t('frost.place')}</option>
              <option value="carrier">{t('frost.carrier')}</option>
            </select>
          </Field>
          {of === 'place' ? (
            PLACE.map(([part, label]) => (
              <Field key={part} label={t(label)}>
                <input
                  required={part === 'country' && !place.postcode_from}
                  value={place[part]}
                  onInput={(e) => putPlace({ [part]: e.currentTarget.value })}
                />
              </Field>
            ))
          ) : (
            <Field label={t(of === 'zone' ? 'frost.zone' : of === 'carrier' ? 'frost.carrier' : 'frost.order')}>
              <input required value={name} onInput={(e) => setName(e.currentTarget.value)} />
            </Field>
          )}
          <Field label={t('frost.from')}>
            <WeekSelect required value={from} onWeek={setFrom} />
          </Field>
          <Field label={t('frost.to')}>
            <WeekSelect required value={to} onWeek={setTo} />
          </Field>
          <Field label={t('action.why')}>
            <input value={why} onInput={(e) => setWhy(e.currentTarget.value)} />
          </Field>
        </Form>
      )}
      {may && (
        <p>
          <a href={hashOf(['orders', 'load'])}>{t('frost.by_file')}</a>
        </p>
      )}
      {told && (
        <Dialog title={t('frost.told', { n: told.length })} onClose={() => setTold(null)} wide>
          <p>{t('frost.told.about')}</p>
          <ul class="rows scroll-y">
            {told.map((p) => (
              <li key={p.parcel}>
                <a class="figure" href={hashOf(['orders', 'order', p.order])}>
                  {p.order}
                </a>{' '}
                {p.customer}{' '}
                <span class="quiet">
                  {t('frost.parcel', {
                    wave: p.wave,
                    slot: p.slot,
                    state: word('state', p.state),
                    taken: p.taken,
                    open: p.open,
                  })}
                </span>
              </li>
            ))}
          </ul>
        </Dialog>
      )}
    </>
  );
}
