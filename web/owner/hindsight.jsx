// SPDX-License-Identifier: MIT
// Hindsight: what we said on past days against what came, overall and for the varieties we missed most.

import { Chart } from '../shared/charts.jsx';
import { Loaded } from '../shared/dialog.jsx';
import { hashOf } from '../shared/route.js';
import { useSeason } from '../shared/season.jsx';
import { Code } from '../shared/tag.jsx';
import { t } from '../shared/text.js';
import { useResource } from '../shared/use.js';

export function HindsightPage() {
  const hindsight = useResource('/api/hindsight');
  return (
    <>
      <h1 class="page-title">{t('hindsight.title')}</h1>
      <Loaded of={hindsight}>
        {(data) =>
          (data.coverage ?? []).length === 0 ? (
            <p class="sheet quiet">{t('hindsight.none')}</p>
          ) : (
            <div class="two">
              <section class="sheet">
                <h2>{t('hindsight.coverage')}</h2>
                <Coverage data={data} />
              </section>
              <section class="sheet">
                <h2>{t('hindsight.reliability')}</h2>
                <Reliability bins={data.reliability ?? []} />
              </section>
              <section class="sheet wide">
                <h2>{t('hindsight.worst')}</h2>
                <Worst worst={data.worst ?? []} />
              </section>
            </div>
          )
        }
      </Loaded>
    </>
  );
}

/** @param {{data: any}} props */
function Coverage({ data }) {
  const { format } = useSeason();
  return (
    <>
      <ul class="sentences">
        {data.coverage.map((/** @type {any} */ c) => (
          <li key={c.nominal}>{t('hindsight.held', { nominal: format.percent(c.nominal), observed: format.percent(c.observed), n: c.n })}</li>
        ))}
      </ul>
      <dl class="facts facts-row">
        <div>
          <dt>{t('hindsight.loss')}</dt>
          <dd>{format.decimal(data.quantile_loss, 2)}</dd>
        </div>
        <div>
          <dt>{t('hindsight.crps')}</dt>
          <dd>{format.decimal(data.crps, 2)}</dd>
        </div>
      </dl>
      <p class="quiet">{t('hindsight.scores')}</p>
    </>
  );
}

/** What came, by where in our distribution it fell: even bars mean an honest spread. @param {{bins: any[]}} props */
function Reliability({ bins }) {
  const { format } = useSeason();
  if (bins.length === 0) return <p class="quiet">{t('hindsight.none')}</p>;
  const even = bins.map((b) => b.high - b.low);
  const most = Math.max(...bins.map((b) => b.observed), ...even) * 1.15;
  return (
    <Chart
      label={t('reliability.text')}
      xs={[0, 1]}
      ys={[0, most]}
      xText={(v) => format.percent(v)}
      yText={(v) => format.percent(v)}
      xMarks={[0.05, 0.25, 0.5, 0.75, 0.95]}
      xName={t('reliability.x')}
      yName={t('reliability.y')}
      draw={({ x, y, bottom }) =>
        bins.map((b, i) => (
          <g key={i}>
            <rect class="bar" x={x(b.low) + 1} width={Math.max(1, x(b.high) - x(b.low) - 2)} y={y(b.observed)} height={Math.max(0, bottom - y(b.observed))} />
            <line class="bar-even" x1={x(b.low)} x2={x(b.high)} y1={y(b.high - b.low)} y2={y(b.high - b.low)} />
          </g>
        ))
      }
      table={{ heads: [t('reliability.bin'), t('reliability.even'), t('reliability.observed')], rows: bins.map((b) => [`${format.percent(b.low)} – ${format.percent(b.high)}`, format.percent(b.high - b.low), format.percent(b.observed, 1)]) }}
    />
  );
}

/** @param {{worst: any[]}} props */
function Worst({ worst }) {
  const { format } = useSeason();
  if (worst.length === 0) return <p class="quiet">{t('hindsight.no_worst')}</p>;
  return (
    <div class="scroll-x" tabIndex={0} role="region" aria-label={t('hindsight.worst')}>
      <table class="plain">
        <thead>
          <tr>
            <th scope="col">{t('col.code')}</th>
            <th scope="col">{t('hindsight.as_of')}</th>
            <th scope="col">{t('hindsight.said_came')}</th>
            <th scope="col">{t('hindsight.words')}</th>
          </tr>
        </thead>
        <tbody>
          {worst.map((w, i) => (
            <tr key={i}>
              <td>
                <a href={hashOf(['winter', 'variety', w.variety])}>
                  <Code code={w.variety} />
                </a>
              </td>
              <td>{format.day(w.as_of)}</td>
              <td>
                <SaidCame w={w} />
              </td>
              <td>{w.sentence}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

/** @param {{w: {p10: number, p50: number, p90: number, came: number}}} props */
function SaidCame({ w }) {
  const most = Math.max(w.p90, w.came, 1) * 1.05;
  const x = (/** @type {number} */ v) => (v / most) * 180;
  return (
    <svg class="said" viewBox="0 0 184 18" width="184" height="18" role="img" aria-label={t('hindsight.said_text', { p10: w.p10, p90: w.p90, came: w.came })}>
      <rect class="range" x={x(w.p10)} width={Math.max(2, x(w.p90) - x(w.p10))} y={4} height={10} rx={5} />
      <line class="range-middle" x1={x(w.p50)} x2={x(w.p50)} y1={2} y2={16} />
      <path class="came" transform={`translate(${x(w.came)} 9)`} d="M0 -7L5 0 0 7 -5 0Z" />
    </svg>
  );
}
