// SPDX-License-Identifier: MIT
// Hindsight: what we said on past days against what came, overall and where we missed most.

import { Chart } from '../shared/chart/charts.jsx';
import { Loaded } from '../shared/dialog.jsx';
import { PlainTable } from '../shared/grid/plain.jsx';
import { hashOf } from '../shared/route.js';
import { linePath } from '../shared/chart/scale.js';
import { useSeason } from '../shared/season.jsx';
import { Code } from '../shared/tag.jsx';
import { t } from '../shared/strings/text.js';
import { useResource } from '../shared/net/use.js';

/**
 * @typedef {object} Score
 * @property {string | null} as_of
 * @property {number} projections
 * @property {number | null} bias_percent
 * @property {number} cover50
 * @property {number} cover80
 * @property {number} cover90
 * @property {number | null} quantile_loss_percent
 * @property {number} crps
 */
/** @typedef {{nominal: number, observed: number, n: number}} Held */
/** @typedef {{as_of: string, unit: string, code: string, p10: number, p50: number, p90: number, came: number, sentence: string}} Miss */

export function HindsightPage() {
  const { format } = useSeason();
  const hindsight = useResource('/api/hindsight');
  return (
    <>
      <h1 class="page-title">{t('hindsight.title')}</h1>
      <Loaded of={hindsight}>
        {(data) =>
          !data.projections ? (
            <p class="sheet quiet">{t('hindsight.none')}</p>
          ) : (
            <div class="two">
              <p class="sheet wide">
                {t('hindsight.counted', { share: format.percent(data.counted_percent / 100), n: data.left_out })}{' '}
                {t('hindsight.replay')}{' '}
                {data.own.said > 0 && t('hindsight.own', { said: data.own.said, held: data.own.held })}
              </p>
              <section class="sheet">
                <h2>{t('hindsight.reliability')}</h2>
                <Reliability held={data.reliability} />
              </section>
              <section class="sheet">
                <h2>{t('hindsight.pit')}</h2>
                <Pit bins={data.pit} />
              </section>
              <section class="sheet wide">
                <h2>{t('hindsight.scores')}</h2>
                <Scores scores={data.scores} />
              </section>
              {data.said.length > 0 && (
                <section class="sheet wide">
                  <h2>{t('hindsight.said')}</h2>
                  <Said said={data.said} />
                </section>
              )}
              <section class="sheet wide">
                <h2>{t('hindsight.worst')}</h2>
                <Worst worst={data.worst} />
              </section>
            </div>
          )
        }
      </Loaded>
      <OwnRot />
      <OwnDemand />
    </>
  );
}

/** @type {import('../shared/strings/text.js').Key[]} */
const DEMAND = [
  'hindsight.demand.said',
  'hindsight.demand.sold',
  'hindsight.demand.expected',
  'hindsight.demand.sales',
  'hindsight.demand.held',
  'hindsight.demand.nearer',
];

/** What the owner said of demand against what was asked for; nothing before the season's shipping day. */
function OwnDemand() {
  const { format } = useSeason();
  const rows = useResource('/api/hindsight/demand').data ?? [];
  const yes = (/** @type {boolean | null} */ v) => (v === null ? '–' : t(v ? 'choice.yes' : 'choice.no'));
  if (rows.length === 0) return null;
  return (
    <section class="sheet wide">
      <h2>{t('hindsight.demand')}</h2>
      <p>
        {t('hindsight.demand.words', {
          held: rows.filter((r) => r.held).length,
          said: rows.filter((r) => r.held !== null).length,
          nearer: rows.filter((r) => r.nearer).length,
          n: rows.filter((r) => r.nearer !== null).length,
        })}
      </p>
      <PlainTable label={t('hindsight.demand')}>
        <thead>
          <tr>
            <th scope="col">{t('col.code')}</th>
            {DEMAND.map((key) => (
              <th key={key} scope="col" class="right">
                {t(key)}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {rows.map((r) => (
            <tr key={r.variety}>
              <td>
                <Code code={r.variety} />
              </td>
              <td class="right">
                {format.decimal(r.low, 0)} – {format.decimal(r.high, 0)}
              </td>
              <td class="right">{r.ended ? t('hindsight.demand.ended', { n: r.sold }) : format.whole(r.sold)}</td>
              <td class="right">{format.decimal(r.expected, 0)}</td>
              <td class="right">{r.sales_only === null ? '–' : format.decimal(r.sales_only, 0)}</td>
              <td class="right">{yes(r.held)}</td>
              <td class="right">{yes(r.nearer)}</td>
            </tr>
          ))}
        </tbody>
      </PlainTable>
    </section>
  );
}

/** What the owner said of a usual winter against what this season's checks found; nothing before the season's shipping day. */
function OwnRot() {
  const { format } = useSeason();
  const own = useResource('/api/hindsight/rot').data?.[0];
  if (!own) return null;
  const { low, high, looked, rotten, lost, expected, without } = own;
  const shares = { expected: format.percent(expected), without: format.percent(without) };
  return (
    <section class="sheet wide">
      <h2>{t('hindsight.rot')}</h2>
      <p>
        {t('hindsight.rot.words', { low: format.percent(low), high: format.percent(high), looked, rotten })}{' '}
        {lost === null
          ? t('hindsight.rot.few')
          : t(own.held ? 'hindsight.rot.held' : 'hindsight.rot.not_held', { lost: format.percent(lost) })}{' '}
        {lost !== null && t(own.nearer ? 'hindsight.rot.nearer' : 'hindsight.rot.not_nearer', shares)}
      </p>
    </section>
  );
}

/** Ranges meant to hold so much against what they held: on the line is honest, below it too narrow. @param {{held: Held[]}} props */
function Reliability({ held }) {
  const { format } = useSeason();
  const eighty = held.find((h) => Math.abs(h.nominal - 0.8) < 1e-6);
  return (
    <>
      {eighty && (
        <p>
          {t('hindsight.held', {
            nominal: format.percent(eighty.nominal),
            observed: format.percent(eighty.observed),
            n: eighty.n,
          })}
        </p>
      )}
      <Chart
        label={t('reliability.text')}
        xs={[0, 1]}
        ys={[0, 1]}
        height={280}
        xMarks={[0, 0.2, 0.4, 0.6, 0.8, 1]}
        xText={(v) => format.percent(v)}
        yText={(v) => format.percent(v)}
        xName={t('reliability.x')}
        yName={t('reliability.y')}
        draw={({ x, y }) => (
          <>
            <line class="bar-even" x1={x(0)} y1={y(0)} x2={x(1)} y2={y(1)} />
            <path
              class="line-sold"
              d={linePath(
                held.map((h) => [h.nominal, h.observed]),
                x,
                y,
              )}
            />
            {held.map((h) => (
              <circle key={h.nominal} class="held" cx={x(h.nominal)} cy={y(h.observed)} r="5" />
            ))}
          </>
        )}
        table={{
          heads: [t('reliability.x'), t('reliability.y')],
          rows: held.map((h) => [format.percent(h.nominal), format.percent(h.observed, 1)]),
        }}
      />
    </>
  );
}

/** Where in our distributions the outcomes fell: even bars are honest, a hollow middle is too sure. @param {{bins: number[]}} props */
function Pit({ bins }) {
  const { format } = useSeason();
  const width = 1 / bins.length;
  return (
    <>
      <p>{t('pit.words')}</p>
      <Chart
        label={t('pit.text')}
        xs={[0, 1]}
        ys={[0, Math.max(...bins, width) * 1.15]}
        height={280}
        xMarks={[0, 0.25, 0.5, 0.75, 1]}
        xText={(v) => format.percent(v)}
        yText={(v) => format.percent(v)}
        xName={t('pit.x')}
        yName={t('pit.y')}
        draw={({ x, y, bottom }) => (
          <>
            {bins.map((b, i) => (
              <rect
                key={i}
                class="bar"
                x={x(i * width) + 1}
                width={Math.max(1, x((i + 1) * width) - x(i * width) - 2)}
                y={y(b)}
                height={Math.max(0, bottom - y(b))}
              />
            ))}
            <line class="bar-even" x1={x(0)} x2={x(1)} y1={y(width)} y2={y(width)} />
          </>
        )}
        table={{
          heads: [t('pit.x'), t('pit.y')],
          rows: bins.map((b, i) => [
            `${format.percent(i * width)} – ${format.percent((i + 1) * width)}`,
            format.percent(b, 1),
          ]),
        }}
      />
    </>
  );
}

/**
 * @typedef {object} Judged
 * @property {number} projections
 * @property {number | null} bias_percent
 * @property {number | null} cover50
 * @property {number | null} cover80
 * @property {number | null} cover90
 * @property {number | null} quantile_loss_percent
 */

/** @type {import('../shared/strings/text.js').Key[]} */
const SCORES = ['score.figures', 'score.bias', 'score.cover50', 'score.cover80', 'score.cover90', 'score.loss'];

/** @param {{crps?: boolean}} props */
function ScoreHeads({ crps }) {
  return (
    <>
      {SCORES.map((key) => (
        <th key={key} scope="col" class="right">
          {t(key)}
        </th>
      ))}
      {crps && (
        <th scope="col" class="right">
          {t('score.crps')}
        </th>
      )}
    </>
  );
}

/** @param {{score: Judged}} props */
function ScoreCells({ score: s }) {
  const { format } = useSeason();
  const bias = s.bias_percent === null ? '–' : `${s.bias_percent > 0 ? '+' : ''}${format.decimal(s.bias_percent)} %`;
  return (
    <>
      <td class="right">{format.whole(s.projections)}</td>
      <td class="right">{bias}</td>
      <td class="right">{format.percent(s.cover50)}</td>
      <td class="right">{format.percent(s.cover80)}</td>
      <td class="right">{format.percent(s.cover90)}</td>
      <td class="right">{format.decimal(s.quantile_loss_percent)} %</td>
    </>
  );
}

/** @param {{scores: Score[]}} props */
function Scores({ scores }) {
  const { format } = useSeason();
  return (
    <>
      <PlainTable label={t('hindsight.scores')}>
        <thead>
          <tr>
            <th scope="col">{t('hindsight.as_of')}</th>
            <ScoreHeads crps />
          </tr>
        </thead>
        <tbody>
          {scores.map((s) => (
            <tr key={s.as_of ?? 'all'} class={s.as_of ? '' : 'sum'}>
              <td>{s.as_of ? format.day(s.as_of) : t('score.all')}</td>
              <ScoreCells score={s} />
              <td class="right">{format.decimal(s.crps)}</td>
            </tr>
          ))}
        </tbody>
      </PlainTable>
      <p class="quiet">{t('score.words')}</p>
    </>
  );
}

/** What was on record at the time, not told again. @param {{said: import('../contract').Answers['GET /api/hindsight']['said']}} props */
function Said({ said }) {
  const { format } = useSeason();
  return (
    <PlainTable label={t('hindsight.said')}>
      <thead>
        <tr>
          <th scope="col">{t('hindsight.as_of')}</th>
          <th scope="col">{t('hindsight.said_why')}</th>
          <ScoreHeads />
        </tr>
      </thead>
      <tbody>
        {said.map((s, i) => (
          <tr key={i}>
            <td>{format.day(s.said_on)}</td>
            <td>{t(s.why === 'release' ? 'hindsight.said_release' : 'hindsight.said_month')}</td>
            <ScoreCells score={s} />
          </tr>
        ))}
      </tbody>
    </PlainTable>
  );
}

/** @param {{worst: Miss[]}} props */
function Worst({ worst }) {
  const { format } = useSeason();
  if (worst.length === 0) return <p class="quiet">{t('hindsight.no_worst')}</p>;
  return (
    <PlainTable label={t('hindsight.worst')}>
      <thead>
        <tr>
          <th scope="col">{t('hindsight.what')}</th>
          <th scope="col">{t('hindsight.as_of')}</th>
          <th scope="col">{t('hindsight.said_came')}</th>
          <th scope="col">{t('hindsight.words')}</th>
        </tr>
      </thead>
      <tbody>
        {worst.map((w, i) => (
          <tr key={i}>
            <td>
              {w.unit === 'variety' ? (
                <a href={hashOf(['winter', 'variety', w.code])}>
                  <Code code={w.code} />
                </a>
              ) : (
                <>
                  {t('lot.lot')} <b>{w.code}</b>
                </>
              )}
            </td>
            <td>{format.day(w.as_of)}</td>
            <td>
              <SaidCame w={w} />
            </td>
            <td>{w.sentence}</td>
          </tr>
        ))}
      </tbody>
    </PlainTable>
  );
}

/** @param {{w: Miss}} props */
function SaidCame({ w }) {
  const most = Math.max(w.p90, w.came, 1) * 1.05;
  const x = (/** @type {number} */ v) => (v / most) * 180;
  return (
    <svg
      class="said"
      viewBox="0 0 184 18"
      width="184"
      height="18"
      role="img"
      aria-label={t('hindsight.said_text', { p10: w.p10, p90: w.p90, came: w.came })}
    >
      <rect class="range" x={x(w.p10)} width={Math.max(2, x(w.p90) - x(w.p10))} y={4} height={10} rx={5} />
      <line class="range-middle" x1={x(w.p50)} x2={x(w.p50)} y1={2} y2={16} />
      <path class="came" transform={`translate(${x(w.came)} 9)`} d="M0 -7L5 0 0 7 -5 0Z" />
    </svg>
  );
}
