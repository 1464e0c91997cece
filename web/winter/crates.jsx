// SPDX-License-Identifier: MIT
// The cellar as a place to look at: rooms with their crates in walking order, each filled by what is asked about, on any day until
// shipping. Never by colour alone: a crate says its figure, and stands the fuller the more there is of it.

import { useMemo, useState } from 'preact/hooks';
import { Dialog, Loaded } from '../shared/dialog.jsx';
import { PlainTable } from '../shared/grid/plain.jsx';
import { withQuery } from '../shared/net/api.js';
import { hashOf } from '../shared/route.js';
import { useSeason } from '../shared/season.jsx';
import { t } from '../shared/strings/text.js';
import { useResource } from '../shared/net/use.js';
import { LOOKS, STEPS, dayAfter, daysBetween, levelOf, roomsOf, shown } from './crates.js';

/** @typedef {import('./crates.js').Cellar} Cellar */
/** @typedef {import('./crates.js').Place} Place */
/** @typedef {import('./crates.js').Look} Look */
/** @typedef {import('../shared/strings/text.js').Key} Key */

/** @type {Record<Look, Key>} */
const NAMES = {
  undivided: 'crates.undivided',
  rot: 'crates.rot',
  drying: 'crates.drying',
  age: 'crates.age',
  held: 'crates.held',
};

/** @type {Record<Look, Key>} */
const ABOUT = {
  undivided: 'crates.undivided.about',
  rot: 'crates.rot.about',
  drying: 'crates.drying.about',
  age: 'crates.age.about',
  held: 'crates.held.about',
};

export function CratesPage() {
  const cellar = useResource('/api/cellar', { keep: true });
  return (
    <>
      <h1 class="page-title">{t('crates.title')}</h1>
      <Loaded of={cellar}>
        {(data) => (data.places.length === 0 ? <p class="sheet quiet">{t('crates.none')}</p> : <Rooms cellar={data} />)}
      </Loaded>
    </>
  );
}

/** @param {{cellar: Cellar}} props */
function Rooms({ cellar }) {
  const { format } = useSeason();
  const [look, setLook] = useState(/** @type {Look} */ ('undivided'));
  const [ahead, setAhead] = useState(0);
  const [place, setPlace] = useState(/** @type {Place | null} */ (null));
  const [table, setTable] = useState(false);
  const rooms = useMemo(() => roomsOf(cellar.places), [cellar]);
  const last = Math.max(0, daysBetween(cellar.today, cellar.ship));
  const day = dayAfter(cellar.today, Math.min(ahead, last));
  const moves = look === 'rot' || look === 'drying' || look === 'age';
  return (
    <>
      <section class="sheet crates-tools">
        <div class="choice" role="group" aria-label={t('crates.by')}>
          {LOOKS.map((l) => (
            <button key={l} type="button" aria-pressed={look === l} onClick={() => setLook(l)}>
              {t(NAMES[l])}
            </button>
          ))}
        </div>
        <label class="crates-day">
          <span>
            {moves ? t('crates.on', { day: format.day(day) }) : t('crates.today', { day: format.day(cellar.today) })}
          </span>
          <input
            type="range"
            min="0"
            max={String(last)}
            step="1"
            disabled={!moves || last === 0}
            value={String(ahead)}
            aria-valuetext={format.day(day)}
            onInput={(e) => setAhead(Number(e.currentTarget.value))}
          />
        </label>
        <p class="quiet">{t(ABOUT[look])}</p>
        <Legend look={look} />
      </section>
      {rooms.map((r) => (
        <section key={r.room} class="sheet room">
          <h2>{r.room || t('crates.no_room')}</h2>
          <Air cellar={cellar} room={r.room} />
          <ol class="crates">
            {r.places.map((p) => (
              <li key={p.place ?? ''}>
                <Crate place={p} look={look} value={shown(p, look, cellar, day)} onPress={() => setPlace(p)} />
              </li>
            ))}
          </ol>
        </section>
      ))}
      <details class="sheet" onToggle={(e) => setTable(e.currentTarget.open)}>
        <summary>{t('crates.table')}</summary>
        {table && <Rows cellar={cellar} day={day} />}
      </details>
      <p class="caution">{t('crates.caution')}</p>
      {place && <Lots place={place} onClose={() => setPlace(null)} />}
    </>
  );
}

/** @param {Look} look @param {number | null} value @param {import('../shared/strings/format.js').Format} format */
function figure(look, value, format) {
  if (value === null) return '–';
  return look === 'age' ? t('crates.weeks', { n: format.decimal(value, 0) }) : format.percent(value);
}

/** @param {{place: Place, look: Look, value: number | null, onPress: () => void}} props */
function Crate({ place, look, value, onPress }) {
  const { format } = useSeason();
  const level = levelOf(look, value);
  const text = figure(look, value, format);
  return (
    <button
      type="button"
      class={`crate ${level === null ? 'crate-empty' : `crate-${level}`}`}
      disabled={place.lots === 0}
      aria-label={t('crates.one', {
        place: place.place ?? t('cutting.no_place'),
        n: place.lots,
        look: t(NAMES[look]),
        value: text,
      })}
      onClick={onPress}
    >
      <span class="crate-place">{place.place ?? t('cutting.no_place')}</span> <span class="crate-figure">{text}</span>
    </button>
  );
}

/** @param {{look: Look}} props */
function Legend({ look }) {
  const { format } = useSeason();
  const steps = STEPS[look];
  const text = (/** @type {number} */ v) => (look === 'age' ? t('crates.weeks', { n: v }) : format.percent(v));
  return (
    <ul class="crates-legend" aria-label={t('crates.legend')}>
      {[0, 1, 2, 3, 4].map((level) => (
        <li key={level}>
          <span class={`crate crate-${level}`} aria-hidden="true" />
          {level === 0
            ? t('crates.below', { value: text(steps[0]) })
            : t('crates.from', { value: text(steps[level - 1] ?? 0) })}
        </li>
      ))}
      <li>
        <span class="crate crate-empty" aria-hidden="true" />
        {t('crates.nothing')}
      </li>
    </ul>
  );
}

/** How the room's air was, and what it would save if it were otherwise. @param {{cellar: Cellar, room: string}} props */
function Air({ cellar, room }) {
  const { format } = useSeason();
  const [points, setPoints] = useState(0);
  const air = cellar.rooms.find((r) => r.room === room);
  const asked = useResource(points && air ? withQuery('/api/cellar/damper', { room, points: String(points) }) : null);
  if (!air) return <p class="quiet">{t('crates.no_air')}</p>;
  const told = points ? asked.data?.[0] : undefined;
  return (
    <p class="room-air">
      <span>
        {t('crates.air', {
          temp: format.decimal(format.temperature(air.temp_c), 1),
          unit: format.degree,
          rh: format.decimal(air.rh, 0),
        })}
      </span>{' '}
      <label>
        {t('crates.if')}{' '}
        <select value={String(points)} onChange={(e) => setPoints(Number(e.currentTarget.value))}>
          <option value="0">{t('crates.if.as_is')}</option>
          {[2, 5, -2, -5].map((p) => (
            <option key={p} value={String(p)}>
              {p > 0 ? t('crates.if.damper', { n: p }) : t('crates.if.drier', { n: -p })}
            </option>
          ))}
        </select>
      </label>{' '}
      <span role="status">
        {points !== 0 &&
          (asked.error
            ? asked.error.message
            : told
              ? Math.round(told.saved) === 0
                ? t('crates.saves_none')
                : told.saved > 0
                  ? t('crates.saves', { n: Math.round(told.saved) })
                  : t('crates.costs', { n: Math.round(-told.saved) })
              : t('cutting.counting'))}
      </span>
    </p>
  );
}

/** What lies at a place, each a door to its lot. @param {{place: Place, onClose: () => void}} props */
function Lots({ place, onClose }) {
  const { format } = useSeason();
  const lots = useResource('/api/lots');
  const here = (lots.data ?? []).filter((l) =>
    String(l.places ?? '')
      .split(/[\s,;]+/)
      .includes(place.place ?? ''),
  );
  return (
    <Dialog title={t('crates.place', { place: place.place ?? t('cutting.no_place') })} onClose={onClose}>
      {!lots.data && <p role="status">{t('crates.loading')}</p>}
      <ul class="rows">
        {here.map((l) => (
          <li key={l.lot}>
            <a href={hashOf(['cellar', 'lot', l.lot])}>
              <span class="code">{l.variety}</span> <b>{l.lot}</b> {l.name}
            </a>{' '}
            <span class="quiet">
              {[
                l.clumps > 0 ? t('cutting.clumps', { n: l.clumps }) : '',
                l.divisions > 0 ? t('crates.divisions', { n: l.divisions }) : '',
                l.last_checked ? t('crates.checked', { day: format.day(l.last_checked) }) : t('crates.unchecked'),
                l.held ? t('crates.held_for', { why: l.held }) : '',
              ]
                .filter(Boolean)
                .join(', ')}
            </span>
          </li>
        ))}
      </ul>
    </Dialog>
  );
}

/** @param {{cellar: Cellar, day: string}} props */
function Rows({ cellar, day }) {
  const { format } = useSeason();
  return (
    <PlainTable label={t('crates.table')}>
      <thead>
        <tr>
          <th scope="col">{t('crates.col.room')}</th>
          <th scope="col">{t('cutting.place')}</th>
          <th scope="col" class="right">
            {t('cutting.clumps_head')}
          </th>
          <th scope="col" class="right">
            {t('crates.col.divisions')}
          </th>
          {LOOKS.map((l) => (
            <th key={l} scope="col" class="right">
              {t(NAMES[l])}
            </th>
          ))}
        </tr>
      </thead>
      <tbody>
        {cellar.places.map((p) => (
          <tr key={p.place ?? ''}>
            <td>{p.room ?? '–'}</td>
            <td>{p.place ?? '–'}</td>
            <td class="right">{format.whole(p.clumps)}</td>
            <td class="right">{format.whole(p.divisions)}</td>
            {LOOKS.map((l) => (
              <td key={l} class="right">
                {figure(l, shown(p, l, cellar, day), format)}
              </td>
            ))}
          </tr>
        ))}
      </tbody>
    </PlainTable>
  );
}
