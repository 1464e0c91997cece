// SPDX-License-Identifier: MIT
// How refunds, unsold and margin of the whole nursery move with the confidence; the plan's own point is on the curve and marked.

import { FigureTable, useMeasured } from '../shared/chart/charts.jsx';
import { linePath, scale } from '../shared/chart/scale.js';
import { useSeason } from '../shared/season.jsx';
import { t } from '../shared/strings/text.js';
import { useResource } from '../shared/net/use.js';
import { withPlan } from './plan.js';

/** @typedef {import('./plan.js').CurvePoint} CurvePoint */

/**
 * @param {object} props
 * @param {string} props.path of the curve
 * @param {import('../contract').Answers['GET /api/plan']['totals']} props.totals
 * @param {number | null} props.moving a confidence that the plan has not caught up with yet
 */
export function PlanCurves({ path, totals, moving }) {
  const { format } = useSeason();
  const curve = /** @type {CurvePoint[] | undefined} */ (useResource(path, { keep: true }).data);
  if (!curve || curve.length < 2) return <div class="curves" />;
  const points = withPlan(curve, totals);
  const confidence = moving ?? totals.confidence;
  const apart = points.some((p) => p.too_far > 0);
  /** @type {{name: string, value: (p: CurvePoint) => number, text: (n: number) => string}[]} */
  const kinds = [
    {
      name: t('curve.refunds'),
      value: (p) => Math.max(0, Number(p.expected_refunds) - Number(p.too_far_refunds)),
      text: (n) => format.money(Math.round(n)).replace(/[.,]00(?=\D*$)/, ''),
    },
    { name: t('curve.unsold'), value: (p) => p.expected_unsold, text: (n) => format.whole(n) },
    {
      name: t('curve.margin'),
      value: (p) => Number(p.margin),
      text: (n) => format.money(Math.round(n)).replace(/[.,]00(?=\D*$)/, ''),
    },
  ];
  return (
    <div class="curves">
      <div class="curves-row">
        {kinds.map((kind) => (
          <SmallCurve
            key={kind.name}
            name={kind.name}
            points={points.map((p) => [p.confidence, kind.value(p)])}
            at={confidence}
            text={kind.text}
          />
        ))}
      </div>
      {apart && <p class="quiet">{t('curve.apart')}</p>}
      <FigureTable
        heads={[t('curve.confidence'), t('col.quantity'), ...kinds.map((k) => k.name)]}
        rows={points.map((p) => [
          format.percent(p.confidence),
          format.whole(p.offered),
          ...kinds.map((k) => k.text(k.value(p))),
        ])}
      />
    </div>
  );
}

/** @param {{name: string, points: [number, number][], at: number, text: (n: number) => string}} props */
function SmallCurve({ name, points, at, text }) {
  const [frame, width] = useMeasured(180);
  const height = 74;
  const xs = points.map((p) => p[0]);
  const ys = points.map((p) => p[1]);
  const x = scale(Math.min(...xs), Math.max(...xs), 6, width - 6);
  const y = scale(Math.min(0, ...ys), Math.max(...ys, 1), height - 14, 6);
  const here = valueAt(points, at);
  return (
    <figure class="curve" ref={frame}>
      <figcaption>
        {name} <b>{text(here)}</b>
      </figcaption>
      <svg
        width={width}
        height={height}
        role="img"
        aria-label={t('curve.text', { name, value: text(here), confidence: Math.round(at * 100) })}
      >
        <line class="rule" x1={4} x2={width - 6} y1={height - 14} y2={height - 14} />
        <path class="curve-line" d={linePath(points, x, y)} />
        <line class="curve-at" x1={x(at)} x2={x(at)} y1={4} y2={height - 14} />
        <circle class="curve-dot" cx={x(at)} cy={y(here)} r="4.5" />
        <text class="axis-text" x={4} y={height - 2}>
          {Math.round((xs[0] ?? 0) * 100)} %
        </text>
        <text class="axis-text" x={width - 6} y={height - 2} text-anchor="end">
          {Math.round((xs[xs.length - 1] ?? 0) * 100)} %
        </text>
      </svg>
    </figure>
  );
}

/** @param {[number, number][]} points @param {number} x */
function valueAt(points, x) {
  let before = points[0];
  for (const p of points) {
    if (p[0] >= x) {
      if (!before || p[0] === before[0]) return p[1];
      return before[1] + ((x - before[0]) / (p[0] - before[0])) * (p[1] - before[1]);
    }
    before = p;
  }
  return before ? before[1] : 0;
}
