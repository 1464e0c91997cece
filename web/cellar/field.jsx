// SPDX-License-Identifier: MIT
// The field on the phone: which rows are left, who is at which, what was dug today. Two phones share the list; without a network
// it is the one that this device last saw, less what waits here.

import { useState } from 'preact/hooks';
import { Dialog, Form } from '../shared/dialog.jsx';
import { hashOf } from '../shared/route.js';
import { useSeason } from '../shared/season.jsx';
import { CrateTag } from '../shared/tag.jsx';
import { t } from '../shared/strings/text.js';
import { useStore } from '../shared/net/use.js';
import { entries, post } from './box.js';
import { todayOf } from './entry.jsx';
import { soundYes } from './sound.js';
import { useOffline } from './use.js';

/** @typedef {import('../contract').Row<'GET /api/field'>} Planting */
/** @typedef {import('../contract').Row<'GET /api/field/dug'>} Dug */

/** What of a row was entered on this device and is not handed over yet. @param {import('./box.js').Entry[]} list @param {Planting} p */
export function waitingOf(list, p) {
  let clumps = 0;
  let done = false;
  for (const e of list) {
    const { row, variety } = /** @type {any} */ (e.body);
    if (e.state !== 'waiting' || e.path !== '/api/field/dug' || row !== p.row || (variety && variety !== p.variety))
      continue;
    clumps += Number(e.body.clumps ?? 0) + Number(e.body.culled ?? 0);
    done ||= e.body.done === 'yes';
  }
  return { clumps, done };
}

/** Rows with something to dig, as far as this device knows. @param {Planting[]} rows @param {import('./box.js').Entry[]} list */
export function rowsLeft(rows, list) {
  return rows
    .map((p) => ({ p, w: waitingOf(list, p) }))
    .filter(({ p, w }) => p.row !== null && !w.done && p.standing - w.clumps > 0);
}

export function FieldRows() {
  const { nursery, session, format } = useSeason();
  const rows = useOffline('/api/field');
  const box = useStore(entries);
  if (!rows.data)
    return (
      <section class="lists">
        <h1>{t('cellar.field')}</h1>
        <p class="large-note" role="status">
          {rows.error ? rows.error.message : t('lists.loading')}
        </p>
      </section>
    );
  const all = /** @type {Planting[]} */ (rows.data);
  const left = rowsLeft(all, box);
  const nameless = all.filter((p) => p.row === null && !p.loose);
  const me = session.accounts ? session.name : '';
  const plants = left.reduce((sum, { p, w }) => sum + p.standing - w.clumps, 0);
  return (
    <section class="lists">
      <h1>{t('cellar.field')}</h1>
      {rows.old && <p class="note">{t('ground.old')}</p>}
      <p class="large-note" role="status">
        {all.length === 0 ? t('ground.none') : t('ground.left', { n: left.length, plants: format.whole(plants) })}
      </p>
      <div class="thumbs-row">
        <a class="thumb" href={hashOf(['cellar', 'dug'])}>
          {t('cellar.dug')}
        </a>
        <a class="thumb" href={hashOf(['cellar', 'plant'])}>
          {t('cellar.plant')}
        </a>
      </div>
      <details class="note">
        <summary>{t('ground.usual')}</summary>
        <ul>
          <li>{t('ground.usual.frost')}</li>
          <li>{t('ground.usual.mown')}</li>
          <li>{t('ground.usual.stalks')}</li>
          <li>{t('ground.usual.soil')}</li>
          <li>{t('ground.usual.one')}</li>
        </ul>
        <p>{t('ground.usual.note')}</p>
      </details>
      <ul class="list-tasks">
        {left.map(({ p, w }) => (
          <li key={p.planting}>
            <CrateTag
              variety={{ code: p.variety, name: p.name }}
              extra={t('ground.row_tag', { row: p.row ?? '', n: p.standing - w.clumps })}
            />
            <p>
              {p.walked_on ? t('ground.walked', { day: format.day(p.walked_on) }) : t('ground.not_walked')}{' '}
              {p.dug + p.culled > 0 && t('ground.part', { n: p.dug + p.culled })}{' '}
              {w.clumps > 0 && t('ground.waiting', { n: w.clumps })}{' '}
              {p.taken_by && <b>{t('ground.taken', { name: p.taken_by })}</b>}
            </p>
            <div class="thumbs-row">
              <a class="thumb" href={hashOf(['cellar', 'dig'], { row: p.row ?? '', variety: p.variety })}>
                {t('ground.dig.row', { row: p.row ?? '' })}
              </a>
              <a class="thumb" href={hashOf(['cellar', 'fieldwalk'], { row: p.row ?? '', variety: p.variety })}>
                {t('ground.count')}
              </a>
              <TakeRow planting={p} mine={p.taken_by !== null && (me === '' || p.taken_by === me)} />
            </div>
          </li>
        ))}
      </ul>
      {nameless.length > 0 && (
        <>
          <h2>{t('ground.nameless', { n: nameless.length })}</h2>
          <ul class="list-tasks">
            {nameless.map((p) => (
              <Nameless key={p.planting} planting={p} />
            ))}
          </ul>
        </>
      )}
      <p class="caution">{t('ground.caution')}</p>
      <p class="quiet">{t('ground.today', { day: format.day(todayOf(nursery)) })}</p>
    </section>
  );
}

/** @param {{planting: Planting, mine: boolean}} props */
function TakeRow({ planting, mine }) {
  const say = async () => {
    await post(
      '/api/field/take',
      { row: planting.row, variety: planting.variety, take: mine ? 'no' : 'yes' },
      t(mine ? 'ground.leave.said' : 'ground.take.said', { row: planting.row ?? '' }),
    );
    soundYes();
  };
  return (
    <button type="button" class="thumb" aria-pressed={mine} onClick={() => void say()}>
      {mine ? t('ground.leave') : t('ground.take')}
    </button>
  );
}

/** Planted out last spring, and nobody has said where. @param {{planting: Planting}} props */
function Nameless({ planting }) {
  const [row, setRow] = useState('');
  const [said, setSaid] = useState(false);
  const save = async () => {
    await post(
      '/api/field/name',
      { planting: planting.planting, row: row.trim() },
      t('ground.named.said', { row: row.trim(), n: planting.plants, variety: planting.variety }),
    );
    soundYes();
    setSaid(true);
  };
  return (
    <li>
      <CrateTag
        variety={{ code: planting.variety, name: planting.name }}
        extra={t('ground.nameless.tag', { n: planting.plants, lot: planting.lot ?? '–' })}
      />
      {said ? (
        <p class="note">{t('ground.named.said', { row: row.trim(), n: planting.plants, variety: planting.variety })}</p>
      ) : (
        <form
          class="thumbs-row"
          onSubmit={(e) => {
            e.preventDefault();
            if (row.trim()) void save();
          }}
        >
          <input
            class="large-field"
            aria-label={t('ground.which.named', { variety: planting.variety })}
            placeholder={t('ground.which')}
            value={row}
            onInput={(e) => setRow(e.currentTarget.value)}
          />
          <button type="submit" class="thumb" disabled={row.trim() === ''}>
            {t('ground.named')}
          </button>
        </form>
      )}
    </li>
  );
}

/** What was dug, for the tags: one by one, or the day's in one go; and to take a wrong entry back. */
export function DugToday() {
  const { nursery, format } = useSeason();
  const today = todayOf(nursery);
  const [chosen, setDay] = useState('');
  const day = chosen || today;
  const dug = useOffline(`/api/field/dug?day=${day}`);
  const [back, setBack] = useState(/** @type {Dug | null} */ (null));
  const list = /** @type {Dug[]} */ (dug.data ?? []);
  const tags = (/** @type {Dug[]} */ of) => `/print/tags?lots=${of.map((l) => encodeURIComponent(l.lot)).join(',')}`;
  const inStore = list.filter((l) => l.clumps > 0);
  return (
    <section class="lists">
      <h1>{t('cellar.dug')}</h1>
      <label class="keypad-label">
        <span>{t('ground.dug.since')}</span>
        <input
          type="date"
          class="large-field"
          max={today}
          value={day}
          onInput={(e) => e.currentTarget.value && setDay(e.currentTarget.value)}
        />
      </label>
      <p class="large-note" role="status">
        {dug.data === undefined
          ? (dug.error?.message ?? t('lists.loading'))
          : t('ground.dug.count', { n: list.length, clumps: format.whole(list.reduce((s, l) => s + l.clumps, 0)) })}
      </p>
      {inStore.length > 0 && (
        <a class="thumb" href={tags(inStore)} target="_blank" rel="noopener">
          {t('ground.tags', { n: inStore.length })}
        </a>
      )}
      <ul class="list-tasks">
        {list.map((l) => (
          <li key={l.cause_id}>
            <CrateTag
              variety={{ code: l.variety, name: l.name }}
              extra={t('ground.dug.tag', { lot: l.lot, row: l.row ?? '–', n: l.clumps, place: l.place ?? '–' })}
            />
            <p class="quiet">{t('ground.dug.by', { day: format.day(l.dug_on), name: l.by, culled: l.culled })}</p>
            <div class="thumbs-row">
              {l.clumps > 0 && (
                <a class="thumb" href={tags([l])} target="_blank" rel="noopener">
                  {t('lot.tag')}
                </a>
              )}
              <button type="button" class="thumb" onClick={() => setBack(l)}>
                {t('lot.undo')}
              </button>
            </div>
          </li>
        ))}
      </ul>
      {back && (
        <Dialog title={t('ground.back', { lot: back.lot })} onClose={() => setBack(null)}>
          <Form
            save={t('lot.undo')}
            onCancel={() => setBack(null)}
            onSave={async () => {
              await post(
                '/api/field/undo',
                { cause: 'dug', cause_id: back.cause_id, why: t('ground.back.why') },
                t('ground.back.said', { lot: back.lot }),
              );
              setBack(null);
            }}
          >
            <p>{t('ground.back.about')}</p>
          </Form>
        </Dialog>
      )}
    </section>
  );
}
