// SPDX-License-Identifier: MIT
// A variety's own sheet: the large tuber plot with the knife, why the figure is what it is, history, lots, sales.

import { useState } from 'preact/hooks';
import { withQuery } from '../shared/net/api.js';
import { Loaded, Wrong } from '../shared/dialog.jsx';
import { NamingDialog } from '../shared/naming.jsx';
import { figures, quantityAt } from '../shared/chart/distribution.js';
import { PlainTable } from '../shared/grid/plain.jsx';
import { go, hashOf } from '../shared/route.js';
import { rights, useSeason } from '../shared/season.jsx';
import { Code, CrateTag } from '../shared/tag.jsx';
import { TuberLarge } from '../shared/chart/tuber.jsx';
import { t } from '../shared/strings/text.js';
import { readKept, useResource } from '../shared/net/use.js';
import { Oversell } from '../orders/waitlist.jsx';
import { RateHistory, SalesLine } from './history.jsx';
import { OwnEstimate } from './own.jsx';
import { TuberLegend } from './legend.jsx';
import { firstBasis, ground, tooFar } from './plan.js';
import { ReleaseDialog } from './release.jsx';

/** @param {{code: string}} props */
export function VarietyPage({ code }) {
  const { nursery } = useSeason();
  const first = firstBasis(nursery.settings);
  const basis = { ...first, ...readKept('basis', first) };
  const projection = useResource(`/api/projection/${encodeURIComponent(code)}`);
  const plan = useResource(withQuery('/api/plan', ground(basis) ?? { confidence: basis.confidence }));
  return (
    <Loaded of={projection}>
      {(p) => (
        <Loaded of={plan}>
          {(all) => {
            const row = all.varieties.find((/** @type {any} */ v) => v.variety === code);
            return row ? (
              <Sheet projection={p} row={row} rows={all.varieties} basis={basis} />
            ) : (
              <Wrong error={new Error(t('variety.unknown', { code }))} />
            );
          }}
        </Loaded>
      )}
    </Loaded>
  );
}

/**
 * @param {object} props
 * @param {import('../contract').Answers['GET /api/projection/{code}']} props.projection
 * @param {import('./plan.js').PlanRow & Record<string, any>} props.row
 * @param {any[]} props.rows
 * @param {any} props.basis
 */
function Sheet({ projection, row, rows, basis }) {
  const { session } = useSeason();
  const [naming, setNaming] = useState(/** @type {'code' | 'merge' | null} */ (null));
  const at = rows.findIndex((r) => r.variety === row.variety);
  const before = rows[at - 1];
  const after = rows[at + 1];
  return (
    <article class="variety">
      <header class="variety-head">
        <CrateTag variety={{ ...row, code: row.variety }} huge head />
        {rights(session).owner && (
          <>
            <button type="button" class="quiet-button" onClick={() => setNaming('code')}>
              {t('naming.rename')}
            </button>
            <button type="button" class="quiet-button" onClick={() => setNaming('merge')}>
              {t('naming.merge')}
            </button>
          </>
        )}
        <nav class="variety-step" aria-label={t('variety.neighbours')}>
          <a href={hashOf(['winter'])}>{t('variety.all')}</a>
          {before && (
            <a href={hashOf(['winter', 'variety', before.variety])}>
              ← <Code code={before.variety} />
            </a>
          )}
          {after && (
            <a href={hashOf(['winter', 'variety', after.variety])}>
              <Code code={after.variety} /> →
            </a>
          )}
        </nav>
      </header>
      {naming && (
        <NamingDialog
          path={`/api/varieties/${encodeURIComponent(row.variety)}/${naming === 'code' ? 'code' : 'merge'}`}
          title={t(naming === 'code' ? 'naming.rename_title' : 'naming.merge_title', { code: row.variety })}
          label={t(naming === 'code' ? 'naming.new_code' : 'naming.merge_label')}
          about={t(naming === 'code' ? 'naming.rename_about' : 'naming.merge_about', { code: row.variety })}
          onClose={() => setNaming(null)}
          onDone={(to) => go(['winter', 'variety', to])}
          back={(to) =>
            naming === 'code'
              ? { path: `/api/varieties/${encodeURIComponent(to)}/code`, to: row.variety }
              : { path: `/api/varieties/${encodeURIComponent(row.variety)}/part` }
          }
          onBack={() => go(['winter', 'variety', row.variety])}
        />
      )}
      <Merged code={row.variety} />
      <Knife projection={projection} row={row} rows={rows} basis={basis} />
      {projection.notes && <p class="caution">{projection.notes}</p>}
      <div class="two">
        <Why why={projection.why ?? []} />
        <section class="sheet">
          <h2>{t('variety.history')}</h2>
          <RateHistory history={projection.history ?? []} />
        </section>
        <OwnEstimate
          of="clump"
          code={row.variety}
          low={projection.own_low}
          high={projection.own_high}
          owner={rights(session).owner}
        />
        <OwnEstimate
          of="asked"
          code={row.variety}
          low={projection.asked_low}
          high={projection.asked_high}
          owner={rights(session).owner}
        />
        <section class="sheet">
          <h2>{t('variety.sales')}</h2>
          <SalesLine code={row.variety} />
        </section>
        <section class="sheet">
          <h2>{t('variety.lots')}</h2>
          <Lots lots={projection.lots ?? []} />
        </section>
      </div>
    </article>
  );
}

/** Codes that became part of this variety this season, each with a way back. @param {{code: string}} props */
function Merged({ code }) {
  const { session } = useSeason();
  const merged = useResource('/api/merged');
  const [parting, setParting] = useState(/** @type {string | null} */ (null));
  const here = (merged.data ?? []).filter((m) => m.variety === code && !m.undone_at);
  if (here.length === 0) return null;
  return (
    <ul class="rows">
      {here.map((m) => (
        <li key={m.code}>
          {t('naming.merged', { code: m.code, why: m.why })}{' '}
          {rights(session).owner && (
            <button type="button" class="quiet-button" onClick={() => setParting(m.code)}>
              {t('naming.part')}
            </button>
          )}
        </li>
      ))}
      {parting && (
        <NamingDialog
          path={`/api/varieties/${encodeURIComponent(parting)}/part`}
          title={t('naming.part_title', { code: parting })}
          about={t('naming.part_about', { code: parting, kept: code })}
          onClose={() => setParting(null)}
          onDone={() => {}}
        />
      )}
    </ul>
  );
}

/** @param {{projection: import('../contract').Answers['GET /api/projection/{code}'], row: any, rows: any[], basis: any}} props */
function Knife({ projection, row, rows, basis }) {
  const { format, session } = useSeason();
  const [quantity, setQuantity] = useState(Number(row.quantity));
  const [releasing, setReleasing] = useState(false);
  const hold = row.hold_back;
  const reserve = row.reserve;
  const kept = hold + reserve;
  const out = figures(projection.pmf, kept, quantity);
  const odds = format.percent(1 - out.pShort, out.pShort > 0.005 && out.pShort < 0.995 ? 0 : 1);
  const words = t('knife.words', { n: quantity, sure: odds });
  const far = tooFar(row);
  // What is likelier to fail than not is nothing to press for.
  const unsure = quantity > 0 && out.pShort > 0.5;
  return (
    <section class="sheet knife" aria-label={t('knife.title')}>
      <div class="knife-figures">
        <p>
          {t('knife.offer')} <b class="big">{format.whole(quantity)}</b>
        </p>
        <dl class="facts facts-row">
          <div>
            <dt>{t('knife.sure')}</dt>
            <dd>{odds}</dd>
          </div>
          <div>
            <dt>{t('knife.short')}</dt>
            <dd>{format.decimal(out.short)}</dd>
          </div>
          <div>
            <dt>{t('knife.unsold')}</dt>
            <dd>{format.decimal(out.unsold)}</dd>
          </div>
          <div>
            <dt>{t('knife.refund')}</dt>
            <dd>{row.price ? format.money(out.short * Number(row.price)) : '–'}</dd>
          </div>
          <div>
            <dt>{t('knife.now')}</dt>
            <dd>
              {format.whole(row.offered)} / {format.whole(row.sold)}
            </dd>
          </div>
        </dl>
      </div>
      <TuberLarge
        pmf={projection.pmf}
        hold={hold}
        reserve={reserve}
        quantity={quantity}
        sold={row.sold}
        offered={row.offered}
        onQuantity={setQuantity}
        valueText={words}
      />
      <TuberLegend />
      {far && <p class="caution">{t('knife.too_far', { sold: row.sold, n: row.by_stock })}</p>}
      {unsure && !far && <p class="caution">{t('knife.unsure', { n: quantity, sure: odds })}</p>}
      <div class="form-actions">
        {far && rights(session).office && (
          <button type="button" class="main-button" onClick={() => go(['orders', 'short', row.variety])}>
            {t('short.open', { code: row.variety })}
          </button>
        )}
        {rights(session).owner && (
          <button
            type="button"
            class={far || unsure ? '' : 'main-button'}
            disabled={quantity === row.offered}
            onClick={() => setReleasing(true)}
          >
            {t('knife.release', { n: quantity })}
          </button>
        )}
        {rights(session).owner && <Oversell code={row.variety} />}
        {[0.8, 0.9, 0.95].map((c) => (
          <button key={c} type="button" onClick={() => setQuantity(quantityAt(projection.pmf, kept, c))}>
            {t('knife.at', { odds: format.odds(c) })}
          </button>
        ))}
      </div>
      {releasing && (
        <ReleaseDialog
          rows={rows.map((r) => (r.variety === row.variety ? { ...r, quantity } : r))}
          drafts={{ [row.variety]: quantity }}
          basis={basis}
          onClose={() => setReleasing(false)}
          onDone={() => {}}
        />
      )}
    </section>
  );
}

/** @typedef {{piece: string, sentence: string, variance_share: number | null}} Piece */

/** Each piece of the figure in a sentence, with its share of the unsureness as a bar. @param {{why: Piece[]}} props */
function Why({ why }) {
  const pieces = (why ?? []).filter((p) => p.piece !== 'next');
  const next = (why ?? []).filter((p) => p.piece === 'next');
  if (pieces.length === 0) return null;
  return (
    <section class="sheet why">
      <h2>{t('why.title')}</h2>
      <ul>
        {pieces.map((p) => (
          <li key={p.piece} class={p.piece.includes(':') ? 'why-part' : ''}>
            <span>{p.sentence}</span>
            {p.piece.includes(':') || p.piece === 'chance' || !p.piece.startsWith('rate') ? (
              <ShareBar share={p.variance_share} />
            ) : null}
          </li>
        ))}
      </ul>
      <p class="quiet">{t('why.bars')}</p>
      {next.length > 0 && (
        <>
          <h3>{t('why.next')}</h3>
          {next.map((p) => (
            <p key={p.sentence} class="note">
              {p.sentence}
            </p>
          ))}
        </>
      )}
    </section>
  );
}

/** @param {{share: number | null}} props */
function ShareBar({ share }) {
  if (share === null || share === undefined || share < 0.005) return null;
  return (
    <svg class="why-bar" viewBox="0 0 60 8" role="img" aria-label={t('why.share', { n: Math.round(share * 100) })}>
      <rect class="tuber-sure" x="0" y="1" width={Math.max(1, share * 60)} height="6" />
    </svg>
  );
}

/** @param {{lots: import('../contract').Answers['GET /api/projection/{code}']['lots']}} props */
function Lots({ lots }) {
  const { format } = useSeason();
  if (lots.length === 0) return <p class="quiet">{t('variety.no_lots')}</p>;
  return (
    <PlainTable label={t('variety.lots')}>
      <thead>
        <tr>
          <th scope="col">{t('lot.lot')}</th>
          <th scope="col">{t('lot.room')}</th>
          <th scope="col" class="right">
            {t('col.clumps')}
          </th>
          <th scope="col" class="right">
            {t('col.divisions')}
          </th>
          <th scope="col" class="right">
            {t('col.expected')}
          </th>
          <th scope="col" class="right">
            {t('lot.range')}
          </th>
        </tr>
      </thead>
      <tbody>
        {lots.map((l) => (
          <tr key={l.lot}>
            <td>
              <Code code={l.lot} />
            </td>
            <td>{l.room || '–'}</td>
            <td class="right">{format.whole(l.clumps)}</td>
            <td class="right">{format.whole(l.divisions)}</td>
            <td class="right">{format.decimal(l.expected, 0)}</td>
            <td class="right">
              {l.p10 === undefined || l.p10 === null ? '–' : `${format.whole(l.p10)} – ${format.whole(l.p90)}`}
            </td>
          </tr>
        ))}
      </tbody>
    </PlainTable>
  );
}
