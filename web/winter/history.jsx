// SPDX-License-Identifier: MIT
// A variety's division rate season by season with its interval, and its orders against what was offered.

import { Chart } from '../shared/chart/charts.jsx';
import { stepPath } from '../shared/chart/scale.js';
import { useSeason } from '../shared/season.jsx';
import { t } from '../shared/strings/text.js';
import { useResource } from '../shared/net/use.js';

/** @typedef {{season: number, clumps: number, divisions: number, rate: number, low: number, high: number}} Past */

/** @param {{history: Past[]}} props */
export function RateHistory({ history }) {
  const { format } = useSeason();
  if (history.length === 0) return <p class="quiet">{t('history.none')}</p>;
  const seasons = history.map((h) => h.season);
  const most = Math.max(...history.map((h) => h.high ?? h.rate), 1);
  return (
    <Chart
      label={t('history.text', { from: String(seasons[0]), to: String(seasons[seasons.length - 1]) })}
      xs={[Math.min(...seasons) - 0.5, Math.max(...seasons) + 0.5]}
      ys={[0, most * 1.05]}
      xMarks={seasons}
      yName={t('history.rate')}
      draw={({ x, y }) =>
        history.map((h) => (
          <g key={h.season}>
            {h.low !== null && h.high !== null && (
              <rect
                class="range"
                x={x(h.season) - 7}
                width={14}
                y={y(h.high)}
                height={Math.max(1, y(h.low) - y(h.high))}
                rx={7}
              />
            )}
            <line class="range-middle" x1={x(h.season) - 11} x2={x(h.season) + 11} y1={y(h.rate)} y2={y(h.rate)} />
          </g>
        ))
      }
      table={{
        heads: [
          t('history.season'),
          t('col.clumps'),
          t('col.divisions'),
          t('history.rate'),
          t('history.low'),
          t('history.high'),
        ],
        rows: history.map((h) => [
          h.season,
          format.whole(h.clumps),
          format.whole(h.divisions),
          format.decimal(h.rate, 2),
          format.decimal(h.low, 2),
          format.decimal(h.high, 2),
        ]),
      }}
    />
  );
}

const DAY_MS = 86400000;

/** @param {{code: string}} props */
export function SalesLine({ code }) {
  const { format, nursery } = useSeason();
  const releases = useResource(`/api/releases?variety=${encodeURIComponent(code)}`).data ?? [];
  const sales = useResource(`/api/varieties/${encodeURIComponent(code)}/asked`).data ?? [];
  const offered = /** @type {[number, number][]} */ (
    releases.map((r) => [Date.parse(r.at), r.offered]).sort((a, b) => Number(a[0]) - Number(b[0]))
  );
  let sum = 0;
  const sold = /** @type {[number, number][]} */ (sales.map((s) => [Date.parse(s.day), (sum += s.asked)]));
  if (offered.length === 0 && sold.length === 0) return <p class="quiet">{t('sales.none')}</p>;
  const times = [...offered, ...sold].map((p) => p[0]);
  const first = Math.min(...times);
  const end = Math.max(...times, nursery.today ? Date.parse(nursery.today) : 0, first + DAY_MS);
  const most = Math.max(...offered.map((p) => p[1]), ...sold.map((p) => p[1]), 1);
  /** @param {[number, number][]} points @returns {[number, number][]} */
  const toEnd = (points) => {
    const last = points[points.length - 1];
    return last ? [...points, [end, last[1]]] : [];
  };
  const iso = (/** @type {number} */ v) => new Date(v).toISOString().slice(0, 10);
  return (
    <Chart
      label={t('sales.text', { offered: offered[offered.length - 1]?.[1] ?? 0, sold: sold[sold.length - 1]?.[1] ?? 0 })}
      xs={[first, end]}
      ys={[0, most * 1.08]}
      xMarks={[0.08, 0.5, 0.92].map((f) => first + f * (end - first))}
      xText={(v) => format.dayShort(iso(v))}
      draw={({ x, y, width }) => (
        <>
          <path class="line-offered" d={stepPath(toEnd(offered), x, y)} />
          {offered.map(([px, py]) => (
            <path key={px} class="release-mark" transform={`translate(${x(px)} ${y(py)})`} d="M-5 -10h10L0 0Z" />
          ))}
          <path class="line-sold" d={stepPath(toEnd(sold), x, y)} />
          {offered.length > 0 && (
            <text class="axis-text" x={width - 14} y={y(offered[offered.length - 1]?.[1] ?? 0) - 8} text-anchor="end">
              {t('col.offered')}
            </text>
          )}
          {sold.length > 0 && (
            <text class="axis-text" x={width - 14} y={y(sold[sold.length - 1]?.[1] ?? 0) + 18} text-anchor="end">
              {t('col.sold')}
            </text>
          )}
        </>
      )}
      table={{
        heads: [t('sales.when'), t('col.offered'), t('sales.why')],
        rows: releases.map((r) => [format.instant(r.at), format.whole(r.offered), String(r.why ?? '')]),
      }}
    />
  );
}
