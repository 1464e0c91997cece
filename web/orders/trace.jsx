// SPDX-License-Identifier: MIT
// A lot, a row or an order over the years, and everyone who received of it; an order's own lots; and the season's mass balance.

import { useState } from 'preact/hooks';
import { withQuery } from '../shared/net/api.js';
import { Field, Loaded } from '../shared/dialog.jsx';
import { PlainTable } from '../shared/grid/plain.jsx';
import { go } from '../shared/route.js';
import { useSearch } from '../shared/search.jsx';
import { useSeason } from '../shared/season.jsx';
import { t, word } from '../shared/strings/text.js';
import { useResource } from '../shared/net/use.js';
import { LineageSheet } from './lineage.jsx';

const BY = /** @type {const} */ (['lot', 'row', 'order']);

/** @param {{values: Record<string, string>}} props */
export function TracePage({ values }) {
  const by = BY.find((b) => values[b]) ?? 'lot';
  const asked = values[by] ?? '';
  const of = { [by]: asked, season: values.season };
  const own = by === 'order' && !values.season;
  const trace = useResource(asked && own ? withQuery('/api/trace', { order: asked }) : null);
  const lineage = useResource(asked ? withQuery('/api/lineage', of) : null);
  const balance = useResource('/api/mass-balance');
  return (
    <>
      <h1 class="page-title">{t('trace.title')}</h1>
      <Ask key={JSON.stringify(of)} by={by} asked={asked} of={values.season ?? ''} />
      {asked && own && (
        <section class="sheet">
          <Loaded of={trace}>
            {(data) => <AnyTable label={t('trace.title')} rows={data} none={t('trace.none', { what: asked })} />}
          </Loaded>
        </section>
      )}
      {asked && <Loaded of={lineage}>{(data) => <LineageSheet data={data} />}</Loaded>}
      <details class="sheet">
        <summary>{t('trace.balance')}</summary>
        <Loaded of={balance}>
          {(data) => <AnyTable label={t('trace.balance')} rows={data} none={t('lot.none_entered')} />}
        </Loaded>
      </details>
    </>
  );
}

/** @param {{by: string, asked: string, of: string}} props */
function Ask({ by, asked, of }) {
  const [what, setWhat] = useState(by);
  const [text, setText] = useState(asked);
  const [season, setSeason] = useState(of);
  return (
    <form
      class="form form-row"
      onSubmit={(e) => {
        e.preventDefault();
        go(['orders', 'trace'], { [what]: text.trim(), season });
      }}
    >
      <Field label={t('trace.by')}>
        <select value={what} onChange={(e) => setWhat(e.currentTarget.value)}>
          <option value="lot">{t('lot.lot')}</option>
          <option value="row">{t('field.row')}</option>
          <option value="order">{t('order.order')}</option>
        </select>
      </Field>
      <Field label={t('trace.number')}>
        <input required value={text} onInput={(e) => setText(e.currentTarget.value)} />
      </Field>
      <Field label={t('lineage.season')}>
        <input
          type="number"
          min="1900"
          max="2199"
          class="narrow"
          placeholder={t('lineage.season_hint')}
          value={season}
          onInput={(e) => setSeason(e.currentTarget.value)}
        />
      </Field>
      <div class="form-actions">
        <button type="submit" class="main-button">
          {t('trace.find')}
        </button>
      </div>
    </form>
  );
}

/** Rows as they come, one column a field. @param {{label: string, rows: Record<string, string | number | null>[], none: string}} props */
function AnyTable({ label, rows, none }) {
  const { format } = useSeason();
  const { found, field } = useSearch(
    rows,
    (row) => Object.values(row).map((v) => (typeof v === 'number' ? String(v) : v)),
    t('trace.filter'),
  );
  if (rows.length === 0) return <p class="quiet">{none}</p>;
  const heads = Object.keys(rows[0]);
  return (
    <>
      {field}
      <PlainTable label={label} class={heads.length > 9 ? 'many' : ''}>
        <thead>
          <tr>
            {heads.map((h) => (
              <th key={h} scope="col" class={typeof rows[0][h] === 'number' ? 'right' : ''}>
                {word('trace', h).replaceAll('_', ' ')}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {found.map((row, i) => (
            <tr key={i}>
              {heads.map((h) => (
                <td key={h} class={typeof row[h] === 'number' ? 'right' : ''}>
                  {typeof row[h] === 'number'
                    ? format.whole(row[h])
                    : row[h] === null || row[h] === undefined
                      ? '–'
                      : String(row[h])}
                </td>
              ))}
            </tr>
          ))}
        </tbody>
      </PlainTable>
    </>
  );
}
