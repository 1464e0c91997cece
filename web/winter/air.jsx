// SPDX-License-Identifier: MIT
// The cellar's air: warmth, humidity and the drying power (VPD) shaded, and the weight of the marked crates.

import { useState } from 'preact/hooks';
import { withQuery } from '../shared/net/api.js';
import { Chart } from '../shared/chart/charts.jsx';
import { Loaded } from '../shared/dialog.jsx';
import { bandPath, linePath } from '../shared/chart/scale.js';
import { useSeason } from '../shared/season.jsx';
import { t } from '../shared/strings/text.js';
import { useResource } from '../shared/net/use.js';

/** @typedef {{at: string, temp_c: number, rh: number, vpd_pa: number}} Reading */

/** More points than a screen has columns show nothing more. */
const MOST_POINTS = 700;

export function AirPage() {
  const [room, setRoom] = useState('');
  const air = useResource(withQuery('/api/air', { room }), { keep: true });
  return (
    <>
      <h1 class="page-title">{t('air.title')}</h1>
      <Loaded of={air}>
        {(data) => (
          <>
            <div class="tools">
              <label>
                {t('air.room')}{' '}
                <select value={room || data.rooms[0] || ''} onChange={(e) => setRoom(e.currentTarget.value)}>
                  {data.rooms.map((/** @type {string} */ r) => (
                    <option key={r}>{r}</option>
                  ))}
                </select>
              </label>
            </div>
            {data.points.length === 0 ? (
              <p class="sheet quiet">{t('air.none')}</p>
            ) : (
              <Curves points={thin(data.points)} weighings={data.weighings ?? []} />
            )}
          </>
        )}
      </Loaded>
    </>
  );
}

/** @param {Reading[]} points @returns {Reading[]} */
function thin(points) {
  const step = Math.ceil(points.length / MOST_POINTS);
  if (step <= 1) return points;
  const out = [];
  for (let i = 0; i < points.length; i += step) {
    const part = points.slice(i, i + step);
    const mean = (/** @type {(p: Reading) => number} */ of) => part.reduce((sum, p) => sum + of(p), 0) / part.length;
    out.push({
      at: part[0]?.at ?? '',
      temp_c: mean((p) => p.temp_c),
      rh: mean((p) => p.rh),
      vpd_pa: mean((p) => p.vpd_pa),
    });
  }
  return out;
}

/** @param {{points: Reading[], weighings: import('../contract').Answers['GET /api/air']['weighings']}} props */
function Curves({ points, weighings }) {
  const { format } = useSeason();
  const time = (/** @type {Reading} */ p) => Date.parse(p.at);
  const first = Math.min(...points.map(time));
  const last = Math.max(...points.map(time));
  const xs = /** @type {[number, number]} */ ([first, last]);
  const iso = (/** @type {number} */ v) => new Date(v).toISOString().slice(0, 10);
  const xMarks = [0.05, 0.275, 0.5, 0.725, 0.95].map((f) => first + f * (last - first));
  /** @param {(p: Reading) => number} of @param {number} pad @returns {[number, number]} */
  const range = (of, pad) => {
    const values = points.map(of);
    return [Math.min(...values) - pad, Math.max(...values) + pad];
  };
  const warm = (/** @type {Reading} */ p) => format.temperature(p.temp_c);
  const table = {
    heads: [t('air.when'), `${t('air.temperature')} ${format.degree}`, t('air.rh'), t('air.vpd')],
    rows: points
      .filter((_, i) => i % Math.max(1, Math.floor(points.length / 60)) === 0)
      .map((p) => [format.instant(p.at), format.decimal(warm(p)), format.decimal(p.rh), format.whole(p.vpd_pa)]),
  };
  const common = { xs, xMarks, xText: (/** @type {number} */ v) => format.dayShort(iso(v)) };
  return (
    <div class="two">
      <section class="sheet">
        <h2>
          {t('air.temperature')} <span class="quiet">{format.degree}</span>
        </h2>
        <Chart
          {...common}
          label={t('air.temperature.text')}
          ys={range(warm, 0.5)}
          draw={({ x, y }) => (
            <path
              class="line-sold"
              d={linePath(
                points.map((p) => [time(p), warm(p)]),
                x,
                y,
              )}
            />
          )}
          table={table}
        />
      </section>
      <section class="sheet">
        <h2>
          {t('air.rh')} <span class="quiet">%</span>
        </h2>
        <Chart
          {...common}
          label={t('air.rh.text')}
          ys={range((p) => p.rh, 1)}
          draw={({ x, y }) => (
            <path
              class="line-sold"
              d={linePath(
                points.map((p) => [time(p), p.rh]),
                x,
                y,
              )}
            />
          )}
        />
      </section>
      <section class="sheet">
        <h2>
          {t('air.vpd')} <span class="quiet">Pa</span>
        </h2>
        <Chart
          {...common}
          label={t('air.vpd.text')}
          ys={[0, range((p) => p.vpd_pa, 5)[1]]}
          draw={({ x, y }) => (
            <>
              <path
                class="shade"
                d={bandPath(
                  points.map((p) => [time(p), 0, p.vpd_pa]),
                  x,
                  y,
                )}
              />
              <path
                class="line-sold"
                d={linePath(
                  points.map((p) => [time(p), p.vpd_pa]),
                  x,
                  y,
                )}
              />
            </>
          )}
        />
        <p class="quiet">{t('air.vpd.hint')}</p>
      </section>
      <Weights weighings={weighings} />
    </div>
  );
}

/**
 * Each marked crate's weight as a share of its first.
 * @param {{weighings: {sample: string, lot: string, day: string, kg: number}[]}} props
 */
function Weights({ weighings }) {
  const { format } = useSeason();
  if (weighings.length === 0) return null;
  /** @type {Map<string, [number, number][]>} */
  const samples = new Map();
  for (const w of weighings) samples.set(w.sample, [...(samples.get(w.sample) ?? []), [Date.parse(w.day), w.kg]]);
  const lines = [...samples].map(([sample, points]) => {
    const sorted = points.sort((a, b) => a[0] - b[0]);
    const start = sorted[0]?.[1] ?? 1;
    return { sample, points: /** @type {[number, number][]} */ (sorted.map(([d, kg]) => [d, kg / start])) };
  });
  const all = lines.flatMap((l) => l.points);
  const days = all.map((p) => p[0]);
  const low = Math.min(...all.map((p) => p[1]));
  const iso = (/** @type {number} */ v) => new Date(v).toISOString().slice(0, 10);
  const first = Math.min(...days);
  const last = Math.max(...days, first + 1);
  return (
    <section class="sheet">
      <h2>{t('air.weights')}</h2>
      <Chart
        label={t('air.weights.text')}
        xs={[first, last]}
        ys={[Math.min(0.95, low - 0.01), 1.005]}
        xMarks={[0.05, 0.5, 0.95].map((f) => first + f * (last - first))}
        xText={(v) => format.dayShort(iso(v))}
        yText={(v) => format.percent(v)}
        draw={({ x, y }) => lines.map((l) => <path key={l.sample} class="line-thin" d={linePath(l.points, x, y)} />)}
        table={{
          heads: [t('air.sample'), t('lot.lot'), t('air.when'), 'kg'],
          rows: weighings.map((w) => [w.sample, w.lot, format.day(w.day), format.decimal(w.kg, 2)]),
        }}
      />
    </section>
  );
}
