// SPDX-License-Identifier: MIT
// The season's end: what is left of each lot, what of it goes to the beds and what is thrown out, entered once for all.

import { useState } from 'preact/hooks';
import { send } from '../shared/net/api.js';
import { Dialog, Field, Form, Loaded, say } from '../shared/dialog.jsx';
import { PlainTable } from '../shared/grid/plain.jsx';
import { plain } from '../shared/grid/grid.js';
import { hashOf } from '../shared/route.js';
import { useSeason } from '../shared/season.jsx';
import { t } from '../shared/strings/text.js';
import { Code } from '../shared/tag.jsx';
import { touch, useResource } from '../shared/net/use.js';
import { CloseSeason } from './close.jsx';
import { figures, items, plantWorth, throwOutRest, totals, wrongOf } from './end.js';

/** @typedef {import('./end.js').Left} Left */
/** @typedef {import('./end.js').Typed} Typed */

export function EndPage() {
  const left = useResource('/api/season/left', { keep: true });
  const planted = useResource('/api/season/planted');
  const plan = useResource('/api/keep', { keep: true });
  return (
    <Loaded of={left}>
      {(lots) => (
        <>
          <LeftOver lots={lots} plan={plan.data} />
          <Planted rows={planted.data ?? []} />
          <CloseSeason />
        </>
      )}
    </Loaded>
  );
}

/** @param {{lots: Left[], plan?: import('../contract').Answers['GET /api/keep']}} props */
function LeftOver({ lots, plan }) {
  const { format, nursery } = useSeason();
  const [typed, setTyped] = useState(/** @type {Record<string, Typed>} */ ({}));
  const [find, setFind] = useState('');
  const [entering, setEntering] = useState(false);
  const [chosen, setDay] = useState('');
  const day = chosen || nursery.today; // the season may still be on its way
  const query = plain(find);
  const shown = query === '' ? lots : lots.filter((l) => plain(`${l.lot} ${l.variety} ${l.name}`).includes(query));
  const sum = totals(lots, typed);
  const wrong = lots.filter((l) => wrongOf(l, typed[l.lot]) !== '');
  const list = items(lots, typed);
  const worth = new Map((plan?.varieties ?? []).map((v) => [v.variety, v.up_to]));
  const put = (/** @type {string} */ lot, /** @type {Typed} */ part) =>
    setTyped((all) => ({ ...all, [lot]: { ...all[lot], ...part } }));
  return (
    <section class="sheet">
      <h1>{t('end.title')}</h1>
      <p>{t('end.about')}</p>
      <p class="facts-row" role="status">
        <span>{t('end.left', { n: format.whole(sum.divisions), clumps: format.whole(sum.clumps) })}</span>
        <b>{t('end.to_beds', { n: format.whole(sum.planted) })}</b>
        <b>{t('end.out', { n: format.whole(sum.discarded), clumps: format.whole(sum.clumpsOut) })}</b>
      </p>
      {lots.length === 0 ? (
        <p class="note">{t('end.none')}</p>
      ) : (
        <>
          <div class="form-row form">
            <Field label={t('end.find')}>
              <input type="search" value={find} onInput={(e) => setFind(e.currentTarget.value)} />
            </Field>
            <button
              type="button"
              disabled={plan === undefined}
              onClick={() => plan && setTyped(plantWorth(shown, lots, typed, plan))}
            >
              {t('end.plant_worth')}
            </button>
            <button type="button" onClick={() => setTyped(throwOutRest(shown, typed))}>
              {t('end.rest', { n: shown.length })}
            </button>
            <button
              type="button"
              class="main-button"
              disabled={wrong.length > 0 || list.length === 0}
              onClick={() => setEntering(true)}
            >
              {t('end.enter', { n: list.length })}
            </button>
          </div>
          {wrong[0] && (
            <p class="wrong" role="alert">
              {wrong[0].lot}:{' '}
              {wrongOf(wrong[0], typed[wrong[0].lot]) === 'number'
                ? t('error.whole_number')
                : t('end.too_many', { n: wrong[0].divisions, clumps: wrong[0].clumps })}
            </p>
          )}
          <PlainTable label={t('end.table')} class="many">
            <thead>
              <tr>
                <th>{t('end.lot')}</th>
                <th>{t('end.variety')}</th>
                <th>{t('end.places')}</th>
                <th class="right">{t('end.divisions')}</th>
                <th class="right">{t('end.clumps')}</th>
                <th class="right">{t('end.hold_back')}</th>
                <th class="right">{t('end.worth')}</th>
                <th>{t('end.beds')}</th>
                <th>{t('end.row')}</th>
                <th>{t('end.discarded')}</th>
                <th>{t('end.clumps_discarded')}</th>
              </tr>
            </thead>
            <tbody>
              {shown.map((l) => (
                <LeftRow
                  key={l.lot}
                  left={l}
                  worth={worth.get(l.variety) ?? null}
                  typed={typed[l.lot]}
                  onType={(part) => put(l.lot, part)}
                />
              ))}
            </tbody>
          </PlainTable>
        </>
      )}
      {entering && (
        <Dialog title={t('end.enter', { n: list.length })} onClose={() => setEntering(false)}>
          <Form
            save={t('end.save')}
            onCancel={() => setEntering(false)}
            onSave={async () => {
              const done = await send('POST', '/api/season/left', { day, items: list });
              say(t('end.done', { n: done[0]?.planted ?? 0, out: done[0]?.discarded ?? 0 }));
              setTyped({});
              setEntering(false);
              touch();
            }}
          >
            <p>{t('end.confirm', { n: sum.planted, out: sum.discarded, clumps: sum.clumpsOut })}</p>
            <Field label={t('end.day')}>
              <input
                type="date"
                required
                max={nursery.today}
                value={day}
                onInput={(e) => setDay(e.currentTarget.value)}
              />
            </Field>
          </Form>
        </Dialog>
      )}
      <p class="caution">{t('end.caution')}</p>
    </section>
  );
}

/** @param {{left: Left, worth: number | null, typed?: Typed, onType: (part: Typed) => void}} props */
function LeftRow({ left, worth, typed, onType }) {
  const { format } = useSeason();
  const f = figures(left, typed);
  const wrong = wrongOf(left, typed) !== '' ? 'true' : undefined;
  const field = (/** @type {keyof Typed} */ name, /** @type {string} */ label, /** @type {string} */ value) => (
    <input
      class="fit-number"
      inputMode={name === 'row' ? 'text' : 'numeric'}
      aria-label={label}
      aria-invalid={wrong}
      value={value}
      onInput={(e) => onType({ [name]: e.currentTarget.value })}
    />
  );
  const show = (/** @type {keyof Typed} */ name, /** @type {number} */ n) =>
    typed?.[name] ?? (n > 0 && !Number.isNaN(n) ? String(n) : '');
  return (
    <tr>
      <td>
        <a href={hashOf(['cellar', 'lot', left.lot])}>{left.lot}</a>
        {left.held !== null && <b> {t('lot.held')}</b>}
      </td>
      <td>
        <Code code={left.variety} /> {left.name}
      </td>
      <td>{left.places}</td>
      <td class="right">{format.whole(left.divisions)}</td>
      <td class="right">{format.whole(left.clumps)}</td>
      <td class="right">{t('end.kept', { n: left.hold_back, planted: left.planted })}</td>
      <td class="right">{worth !== null && t('end.up_to', { n: format.whole(worth) })}</td>
      <td>{field('planted', t('end.beds.of', { lot: left.lot }), show('planted', f.planted))}</td>
      <td>{field('row', t('end.row.of', { lot: left.lot }), typed?.row ?? '')}</td>
      <td>{field('discarded', t('end.discarded.of', { lot: left.lot }), show('discarded', f.discarded))}</td>
      <td>{field('clumps', t('end.clumps_discarded.of', { lot: left.lot }), show('clumps', f.clumps))}</td>
    </tr>
  );
}

/**
 * What went to the beds so far: it stands in the next season's file.
 * @param {{rows: import('../contract').Answers['GET /api/season/planted']}} props
 */
function Planted({ rows }) {
  const { format } = useSeason();
  if (rows.length === 0) return null;
  return (
    <details class="sheet">
      <summary>{t('end.planted', { n: rows.length })}</summary>
      <PlainTable label={t('end.planted', { n: rows.length })}>
        <thead>
          <tr>
            <th>{t('end.row')}</th>
            <th>{t('end.variety')}</th>
            <th class="right">{t('end.plants')}</th>
            <th>{t('end.lot')}</th>
            <th>{t('end.day')}</th>
          </tr>
        </thead>
        <tbody>
          {rows.map((r) => (
            <tr key={r.entry}>
              <td>{r.row ?? t('end.no_row')}</td>
              <td>
                <Code code={r.variety} /> {r.name}
              </td>
              <td class="right">{format.whole(r.plants)}</td>
              <td>{r.lot}</td>
              <td>{format.day(r.planted_on)}</td>
            </tr>
          ))}
        </tbody>
      </PlainTable>
    </details>
  );
}
