// SPDX-License-Identifier: MIT
// Short varieties, most harm first; and lines that a changed count has put out of reach.

import { withQuery } from '../shared/net/api.js';
import { Loaded } from '../shared/dialog.jsx';
import { PlainTable } from '../shared/grid/plain.jsx';
import { hashOf } from '../shared/route.js';
import { useSearch } from '../shared/search.jsx';
import { useSeason } from '../shared/season.jsx';
import { Code } from '../shared/tag.jsx';
import { t, word } from '../shared/strings/text.js';
import { ShareAll } from './all.jsx';
import { FoundShorts } from './found.jsx';
import { RestsPanel } from './rests.jsx';
import { SupplyChoice, useSupply } from './supply.jsx';
import { useResource } from '../shared/net/use.js';

export function ShortPage() {
  const [supply, setSupply] = useSupply();
  const short = useResource(withQuery('/api/short', { supply }), { keep: true });
  const hit = useResource(withQuery('/api/hit', { supply }));
  const runs = useResource('/api/runs');
  return (
    <>
      <div class="page-head">
        <h1 class="page-title">{t('short.title')}</h1>
        <SupplyChoice supply={supply} onSupply={setSupply} />
      </div>
      <FoundShorts />
      <Hit hit={hit.data ?? []} />
      <Loaded of={short}>
        {(list) => (list.length === 0 ? <p class="sheet quiet">{t('short.none')}</p> : <ShortTable list={list} />)}
      </Loaded>
      <RestsPanel />
      <ShareAll supply={supply} />
      <Runs runs={runs.data ?? []} />
    </>
  );
}

/** @param {{hit: import('../contract').Answers['GET /api/hit']}} props */
function Hit({ hit }) {
  if (hit.length === 0) return null;
  return (
    <section class="sheet note" aria-label={t('hit.title')}>
      <h2>{t('hit.title')}</h2>
      <ul class="rows">
        {hit.map((h) => (
          <li key={`${h.order} ${h.line}`}>
            <a class="figure" href={hashOf(['orders', 'order', h.order])}>
              {h.order}
            </a>{' '}
            <Code code={h.variety} /> {h.sentence}
          </li>
        ))}
      </ul>
    </section>
  );
}

/** @param {{list: import('../contract').Answers['GET /api/short']}} props */
function ShortTable({ list }) {
  const { format } = useSeason();
  const { found, field } = useSearch(list, (v) => [v.variety, v.name], t('short.find'));
  return (
    <section class="sheet">
      {field}
      <PlainTable label={t('short.title')} class="short-table">
        <thead>
          <tr>
            <th scope="col">{t('col.code')}</th>
            <th scope="col">{t('col.name')}</th>
            <th scope="col">{t('short.picture')}</th>
            <th scope="col" class="right">
              {t('short.asked')}
            </th>
            <th scope="col" class="right">
              {t('short.firm')}
            </th>
            <th scope="col" class="right">
              {t('short.left')}
            </th>
            <th scope="col" class="right">
              {t('short.short')}
            </th>
            <th scope="col" class="right">
              {t('short.orders')}
            </th>
            <th scope="col" class="right">
              {t('short.harm')}
            </th>
          </tr>
        </thead>
        <tbody>
          {found.map((v) => (
            <tr key={v.variety}>
              <td>
                <a href={hashOf(['orders', 'short', v.variety])} aria-label={t('short.open', { code: v.variety })}>
                  <Code code={v.variety} />
                </a>
              </td>
              <td>{v.name}</td>
              <td>
                <Basket v={v} />
              </td>
              <td class="right">{format.whole(v.asked)}</td>
              <td class="right">{format.whole(v.firm)}</td>
              <td class="right">{format.whole(v.supply)}</td>
              <td class="right">
                <b>{format.whole(v.short)}</b>
              </td>
              <td class="right">{format.whole(v.orders)}</td>
              <td class="right">{typeof v.harm === 'string' ? format.money(v.harm) : format.decimal(v.harm, 0)}</td>
            </tr>
          ))}
        </tbody>
      </PlainTable>
    </section>
  );
}

/**
 * Asked as a length: firm filled, still to share outlined, short hatched.
 * @param {{v: import('../contract').Row<'GET /api/short'>}} props
 */
function Basket({ v }) {
  const width = 150;
  const unit = width / Math.max(v.asked, 1);
  const firm = v.firm * unit;
  const share = Math.min(v.supply, Math.max(0, v.asked - v.firm)) * unit;
  return (
    <svg
      class="basket"
      viewBox={`0 0 ${width} 14`}
      width={width}
      height="14"
      role="img"
      aria-label={t('short.text', { asked: v.asked, firm: v.firm, short: v.short })}
    >
      <rect class="tuber-sold" x="0" y="2" width={firm} height="10" />
      <rect class="basket-share" x={firm} y="2.5" width={share} height="9" />
      <rect class="tuber-risk" x={firm + share} y="2.5" width={Math.max(0, width - firm - share - 0.5)} height="9" />
    </svg>
  );
}

/** @param {{runs: import('../contract').Answers['GET /api/runs']}} props */
function Runs({ runs }) {
  const { format } = useSeason();
  if (runs.length === 0) return null;
  return (
    <details class="sheet">
      <summary>{t('runs.title')}</summary>
      <ul class="rows">
        {runs.map((r, i) => (
          <li key={r.run}>
            <span class="quiet">{format.instant(r.at)}</span> <b>{r.actor}</b> {word('rule', r.rule)} ·{' '}
            {word('supply', r.supply)} · {t('runs.placed', { n: r.placed ?? 0, lines: r.lines ?? 0 })}{' '}
            {r.undone_at && <b>{t('runs.undone', { at: format.instant(r.undone_at) })}</b>}
          </li>
        ))}
      </ul>
    </details>
  );
}
