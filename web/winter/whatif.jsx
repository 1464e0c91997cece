// SPDX-License-Identifier: MIT
// What if prices, hold-backs, the rot or the shipping day were others? Worked out beside the record, which stays as it is.

import { useState } from 'preact/hooks';
import { withQuery } from '../shared/net/api.js';
import { Field, Wrong } from '../shared/dialog.jsx';
import { readMoney, readNumber } from '../shared/strings/format.js';
import { hashOf } from '../shared/route.js';
import { useSearch } from '../shared/search.jsx';
import { useSeason } from '../shared/season.jsx';
import { Code } from '../shared/tag.jsx';
import { t } from '../shared/strings/text.js';
import { readKept, useResource } from '../shared/net/use.js';
import { firstBasis, ground } from './plan.js';
import { moved, triedPath, triedText } from './whatif.js';

/** @typedef {import('./whatif.js').Tried} Tried */

const NONE = /** @type {Tried} */ ({ rot: '1', ship: '', items: [] });
const MOST_SHOWN = 100;

export function WhatIfPage() {
  const { nursery } = useSeason();
  const first = firstBasis(nursery.settings);
  const basis = { ...first, ...readKept('basis', first) };
  const decides = ground(basis) ?? { confidence: basis.confidence };
  const [tried, setTried] = useState(NONE);
  const now = useResource(withQuery('/api/plan', decides));
  const asked = tried !== NONE && (tried.rot !== '1' || tried.ship !== '' || tried.items.length > 0);
  const then = useResource(asked ? triedPath(decides, tried) : null, { keep: true });
  return (
    <>
      <div class="page-head">
        <h1 class="page-title">{t('whatif.title')}</h1>
        {asked && (
          <button type="button" onClick={() => setTried(NONE)}>
            {t('whatif.drop')}
          </button>
        )}
      </div>
      <p class="quiet">{t('whatif.about')}</p>
      <div class="two">
        <section class="sheet whatif" aria-label={t('whatif.change')}>
          <h2>{t('whatif.change')}</h2>
          <div class="form">
            <Field label={t('whatif.rot')}>
              <select value={tried.rot} onChange={(e) => setTried({ ...tried, rot: e.currentTarget.value })}>
                {['0.5', '1', '1.5', '2', '3'].map((r) => (
                  <option key={r} value={r}>
                    {r === '1' ? t('whatif.rot.as_now') : t('whatif.rot.times', { n: r })}
                  </option>
                ))}
              </select>
            </Field>
            <Field label={t('whatif.ship')}>
              <input
                type="date"
                value={tried.ship || nursery.ship}
                onChange={(e) =>
                  setTried({ ...tried, ship: e.currentTarget.value === nursery.ship ? '' : e.currentTarget.value })
                }
              />
            </Field>
          </div>
          <TryForm
            varieties={now.data?.varieties ?? []}
            onTry={(item) =>
              setTried({
                ...tried,
                items: [...tried.items.filter((i) => i.variety !== item.variety || i.field !== item.field), item],
              })
            }
          />
          <ul class="rows">
            {tried.items.map((i) => (
              <li key={`${i.variety} ${i.field}`}>
                <Code code={i.variety} /> {triedText(i)}{' '}
                <button
                  type="button"
                  class="link-button"
                  aria-label={t('whatif.take_out', { what: `${i.variety} ${triedText(i)}` })}
                  onClick={() => setTried({ ...tried, items: tried.items.filter((x) => x !== i) })}
                >
                  ×
                </button>
              </li>
            ))}
          </ul>
        </section>
        <section class="sheet" aria-label={t('whatif.out')}>
          <h2>{t('whatif.out')}</h2>
          {now.data ? <Totals now={now.data.totals} then={asked ? then.data?.totals : undefined} /> : null}
          <Wrong error={asked ? then.error : now.error} />
        </section>
      </div>
      {asked && now.data && then.data && <Moved list={moved(now.data.varieties, then.data.varieties)} />}
    </>
  );
}

/**
 * @param {object} props
 * @param {import('../contract').Answers['GET /api/plan']['varieties']} props.varieties
 * @param {(item: import('./whatif.js').Item) => void} props.onTry
 */
function TryForm({ varieties, onTry }) {
  const [variety, setVariety] = useState('');
  const [field, setField] = useState(/** @type {'price' | 'hold_back' | 'reserve'} */ ('price'));
  const [value, setValue] = useState('');
  const [wrong, setWrong] = useState('');
  /** @param {Event} event */
  const save = (event) => {
    event.preventDefault();
    const code = variety.trim().toUpperCase();
    const said = field === 'price' ? readMoney(value) : readNumber(value);
    if (!varieties.some((v) => v.variety.toUpperCase() === code)) setWrong(t('variety.unknown', { code: variety }));
    else if (said === null || Number.isNaN(said))
      setWrong(field === 'price' ? t('error.money') : t('error.whole_number'));
    else {
      onTry({
        variety: varieties.find((v) => v.variety.toUpperCase() === code)?.variety ?? code,
        field,
        value: String(said),
      });
      setValue('');
      setWrong('');
    }
  };
  return (
    <form class="form form-row" onSubmit={save}>
      <Field label={t('col.code')}>
        <input
          list="whatif-codes"
          required
          autoComplete="off"
          value={variety}
          onInput={(e) => setVariety(e.currentTarget.value)}
        />
      </Field>
      <datalist id="whatif-codes">
        {varieties.map((v) => (
          <option key={v.variety} value={v.variety}>
            {v.name}
          </option>
        ))}
      </datalist>
      <Field label={t('whatif.field')}>
        <select value={field} onChange={(e) => setField(/** @type {any} */ (e.currentTarget.value))}>
          <option value="price">{t('col.price')}</option>
          <option value="hold_back">{t('col.hold_back')}</option>
          <option value="reserve">{t('col.reserve')}</option>
        </select>
      </Field>
      <Field label={t('whatif.value')}>
        <input
          inputMode="decimal"
          required
          autoComplete="off"
          value={value}
          onInput={(e) => setValue(e.currentTarget.value)}
        />
      </Field>
      <div class="form-actions">
        <button type="submit">{t('whatif.try')}</button>
      </div>
      {wrong && (
        <p class="wrong" role="alert">
          {wrong}
        </p>
      )}
    </form>
  );
}

/**
 * @param {object} props
 * @param {import('../contract').Answers['GET /api/plan']['totals']} props.now
 * @param {import('../contract').Answers['GET /api/plan']['totals']} props.then
 */
function Totals({ now, then }) {
  const { format } = useSeason();
  /** @type {[string, (t: import('../contract').Answers['GET /api/plan']['totals']) => string][]} */
  const rows = [
    [t('col.quantity'), (x) => format.whole(x.quantity)],
    [t('knife.short'), (x) => format.decimal(x.expected_short, 0)],
    [t('knife.refund'), (x) => format.money(x.expected_refunds)],
    [t('knife.unsold'), (x) => format.decimal(x.expected_unsold, 0)],
    [t('curve.margin'), (x) => format.money(x.expected_margin)],
  ];
  return (
    <table class="plain" aria-live="polite">
      <thead>
        <tr>
          <th scope="col">
            <span class="hidden">{t('hindsight.what')}</span>
          </th>
          <th scope="col" class="right">
            {t('release.before')}
          </th>
          <th scope="col" class="right">
            {t('release.after')}
          </th>
        </tr>
      </thead>
      <tbody>
        {rows.map(([name, text]) => (
          <tr key={name}>
            <th scope="row">{name}</th>
            <td class="right">{text(now)}</td>
            <td class="right">
              <b>{then ? text(then) : '–'}</b>
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

/** @param {{list: import('./whatif.js').Moved[]}} props */
function Moved({ list }) {
  const { format } = useSeason();
  const { found, field } = useSearch(list, (m) => [m.variety, m.name], t('whatif.find'));
  return (
    <section class="sheet" aria-label={t('whatif.moved')}>
      <h2>{t('whatif.moved')}</h2>
      {list.length === 0 ? (
        <p class="quiet">{t('whatif.nothing')}</p>
      ) : (
        <>
          {field}
          <ul class="columns">
            {found.slice(0, MOST_SHOWN).map((m) => (
              <li key={m.variety}>
                <a href={hashOf(['winter', 'variety', m.variety])}>
                  <Code code={m.variety} />
                </a>{' '}
                {format.whole(m.before)} → <b>{format.whole(m.after)}</b>
              </li>
            ))}
          </ul>
          {found.length > MOST_SHOWN && <p class="quiet">{t('record.more', { n: found.length - MOST_SHOWN })}</p>}
        </>
      )}
    </section>
  );
}
