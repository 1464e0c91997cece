// SPDX-License-Identifier: MIT
// The catalogue quantities for paper, all rows at once, and every table for other programs.

import { Loaded } from '../shared/dialog.jsx';
import { PlainTable } from '../shared/grid/plain.jsx';
import { useSeason } from '../shared/season.jsx';
import { Code } from '../shared/tag.jsx';
import { t, word } from '../shared/strings/text.js';
import { readKept, useResource } from '../shared/net/use.js';
import { withQuery } from '../shared/net/api.js';
import { firstBasis, ground } from './plan.js';

export function PrintPage() {
  const { format, nursery } = useSeason();
  const first = firstBasis(nursery.settings);
  const basis = { ...first, ...readKept('basis', first) };
  const exports = useResource('/api/export');
  const plan = useResource(withQuery('/api/plan', ground(basis) ?? { confidence: basis.confidence }));
  return (
    <>
      <div class="screen-only">
        <h1 class="page-title">{t('print.title')}</h1>
        <div class="two">
          <section class="sheet">
            <h2>{t('print.paper')}</h2>
            <p>{t('print.paper.hint')}</p>
            <button type="button" class="main-button" onClick={() => window.print()}>
              {t('print.print')}
            </button>
          </section>
          <section class="sheet">
            <h2>{t('print.files')}</h2>
            <p>
              <a href="/api/export/season.xlsx" download>
                {t('print.workbook')}
              </a>
            </p>
            <Loaded of={exports}>
              {(list) => (
                <ul class="columns">
                  {list.map((e) => (
                    <li key={e.table}>
                      <a href={`/api/export/${e.table}.csv`} title={e.about} download>
                        {word('kind', e.table).replaceAll('_', ' ')}
                      </a>
                    </li>
                  ))}
                </ul>
              )}
            </Loaded>
          </section>
        </div>
      </div>
      <Loaded of={plan}>
        {(data) => (
          <section class="sheet catalogue">
            <h2>{t('print.list', { season: String(nursery.season), odds: format.odds(data.totals.confidence) })}</h2>
            <PlainTable label={t('print.title')}>
              <thead>
                <tr>
                  <th scope="col">{t('col.code')}</th>
                  <th scope="col">{t('col.name')}</th>
                  <th scope="col">{t('col.form')}</th>
                  <th scope="col">{t('col.colour')}</th>
                  <th scope="col" class="right">
                    {t('col.price')}
                  </th>
                  <th scope="col" class="right">
                    {t('col.offered')}
                  </th>
                  <th scope="col" class="right">
                    {t('col.sold')}
                  </th>
                  <th scope="col" class="right">
                    {t('col.quantity')}
                  </th>
                </tr>
              </thead>
              <tbody>
                {data.varieties.map((/** @type {any} */ v) => (
                  <tr key={v.variety}>
                    <td>
                      <Code code={v.variety} />
                    </td>
                    <td>{v.name}</td>
                    <td>{v.form}</td>
                    <td>{v.colour}</td>
                    <td class="right">{format.money(v.price)}</td>
                    <td class="right">{format.whole(v.offered)}</td>
                    <td class="right">{format.whole(v.sold)}</td>
                    <td class="right">
                      <b>{format.whole(v.quantity)}</b>
                    </td>
                  </tr>
                ))}
              </tbody>
            </PlainTable>
          </section>
        )}
      </Loaded>
    </>
  );
}
