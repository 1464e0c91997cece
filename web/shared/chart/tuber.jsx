// SPDX-License-Identifier: MIT
import { useMemo, useRef, useState, useLayoutEffect } from 'preact/hooks';
import { bodyStart, outline, piecePath, reachOf, slabsOfPmf, slabsOfQuantiles } from './tuber.js';
import { niceStep } from './scale.js';
import { slide } from './slide.js';
import { t } from '../strings/text.js';

/** @typedef {import('./distribution.js').Quantiles} Quantiles */
/** @typedef {import('./distribution.js').Pmf} Pmf */

/** The hatching that all tuber plots share; drawn once on the page. */
export function Hatching() {
  return (
    <svg class="defs" width="0" height="0" aria-hidden="true" focusable="false">
      <defs>
        <pattern id="hatch" width="4" height="4" patternUnits="userSpaceOnUse" patternTransform="rotate(-55)">
          <rect width="4" height="4" class="hatch-ground" />
          <line x1="0" y1="0" x2="0" y2="4" class="hatch-line" />
        </pattern>
        <pattern id="hatch-large" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(-55)">
          <rect width="8" height="8" class="hatch-ground" />
          <line x1="0" y1="0" x2="0" y2="8" class="hatch-line hatch-line-large" />
        </pattern>
      </defs>
    </svg>
  );
}

/** Half thickness of the neck, in rows and large. */
const ROW_NECK = 0.7;
const LARGE_NECK = 2;

/**
 * Outlines of rows drawn before: sorting and scrolling bring the same ones back.
 * @type {Map<string, {points: import('./tuber.js').Point[], unit: number, body: number}>}
 */
const outlines = new Map();
const OUTLINES_MOST = 4000;

/** @param {Quantiles} q @param {number} kept @param {number} sold @param {number} width */
function rowOutline(q, kept, sold, width) {
  const key = `${q.p05} ${q.p10} ${q.p25} ${q.p50} ${q.p75} ${q.p90} ${q.p95} ${kept} ${sold} ${width}`;
  let drawn = outlines.get(key);
  if (!drawn) {
    const slabs = slabsOfQuantiles(q);
    const max = Math.max(reachOf(slabs), kept + sold, kept + 1, 1) * 1.03;
    const points = outline(slabs, { width, half: 7, max, neck: ROW_NECK, step: 2.5 });
    drawn = { points, unit: width / max, body: bodyStart(points, ROW_NECK) };
    if (outlines.size >= OUTLINES_MOST) outlines.clear();
    outlines.set(key, drawn);
  }
  return drawn;
}

/**
 * Tuber plot in a table row.
 * @param {object} props
 * @param {Quantiles} props.q sound divisions on the shipping day
 * @param {number} props.kept hold-back and reserve
 * @param {number} props.quantity where the knife is
 * @param {number} props.sold
 * @param {string} props.label
 * @param {number} [props.width] drawing units
 */
export function TuberRow({ q, kept, quantity, sold, label, width = 160 }) {
  const height = 18;
  const drawn = rowOutline(q, kept, sold, width);
  const cut = kept * drawn.unit;
  const knife = Math.min(width - 1, (kept + quantity) * drawn.unit);
  const start = cut + (kept > 0 ? 1.2 : 0);
  const middle = 7.5;
  return (
    <svg class="tuber" viewBox={`0 0 ${width} ${height}`} preserveAspectRatio="none" role="img" aria-label={label}>
      {kept > 0 && <path class="tuber-kept" d={piecePath(drawn.points, 0, Math.max(0, cut - 1.2), middle)} />}
      <path class="tuber-neck" d={piecePath(drawn.points, start, Math.min(knife, drawn.body), middle)} />
      <path class="tuber-risk" d={piecePath(drawn.points, Math.max(start, drawn.body), knife, middle)} />
      <path class="tuber-sure" d={piecePath(drawn.points, knife, width, middle)} />
      <rect class="tuber-sold" x={cut} y={15} width={Math.max(0, sold * drawn.unit)} height={2.4} />
      <rect class="tuber-knife" x={knife - 0.9} y={0} width={1.8} height={15} />
    </svg>
  );
}

/**
 * Tuber plot on a variety's own sheet: the knife is a slider.
 * @param {object} props
 * @param {Pmf} props.pmf
 * @param {number} props.hold
 * @param {number} props.reserve
 * @param {number} props.quantity
 * @param {number} props.sold
 * @param {number} props.offered
 * @param {(quantity: number) => void} props.onQuantity
 * @param {string} props.valueText
 */
export function TuberLarge({ pmf, hold, reserve, quantity, sold, offered, onQuantity, valueText }) {
  const frame = useRef(/** @type {HTMLDivElement | null} */ (null));
  const [width, setWidth] = useState(720);
  useLayoutEffect(() => {
    const element = frame.current;
    if (!element) return undefined;
    const measure = () => setWidth(Math.max(240, element.clientWidth));
    measure();
    const watcher = new ResizeObserver(measure);
    watcher.observe(element);
    return () => watcher.disconnect();
  }, []);
  const kept = hold + reserve;
  const height = 236;
  const middle = 92;
  const drawn = useMemo(() => {
    const slabs = slabsOfPmf(pmf);
    const max = Math.max(reachOf(slabs), kept + sold, kept + offered, kept + 4) * 1.04;
    const points = outline(slabs, { width, half: 68, max, neck: LARGE_NECK, step: 4 });
    return { points, unit: width / max, max, body: bodyStart(points, LARGE_NECK) };
  }, [pmf, kept, sold, offered, width]);
  // What stays while the knife moves is the same node, which is then not looked at again.
  const axis = useMemo(() => <Axis unit={drawn.unit} max={drawn.max} kept={kept} y={196} />, [drawn, kept]);
  const none = useMemo(() => drawn.points.every((p) => p.half === 0), [drawn]);
  const x = (/** @type {number} */ value) => value * drawn.unit;
  const most = Math.max(0, Math.floor(drawn.max - kept));
  const knife = x(kept + Math.min(quantity, most));
  const { drag, pressed } = slide({
    value: quantity,
    most,
    step: Math.max(1, Math.round(most / 20)),
    at: (left) => left / drawn.unit - kept,
    onValue: onQuantity,
  });
  const start = x(kept) + (kept > 0 ? 4 : 0);
  const label = x(kept + quantity) > width - 130 ? 'end' : 'start';
  return (
    <div
      ref={frame}
      class="tuber-large"
      role="slider"
      tabIndex={0}
      aria-label={t('tuber.knife')}
      aria-valuemin={0}
      aria-valuemax={most}
      aria-valuenow={quantity}
      aria-valuetext={valueText}
      onPointerDown={drag}
      onPointerMove={drag}
      onKeyDown={pressed}
    >
      <svg viewBox={`0 0 ${width} ${height}`} width={width} height={height} aria-hidden="true" focusable="false">
        {none && (
          <text class="tuber-text" x={x(kept) + 12} y={middle + 4}>
            {t('tuber.none')}
          </text>
        )}
        {kept > 0 && <path class="tuber-kept" d={piecePath(drawn.points, 0, Math.max(0, x(kept) - 4), middle)} />}
        <path class="tuber-neck" d={piecePath(drawn.points, start, Math.min(knife, drawn.body), middle)} />
        <path
          class="tuber-risk tuber-risk-large"
          d={piecePath(drawn.points, Math.max(start, drawn.body), knife, middle)}
        />
        <path class="tuber-sure" d={piecePath(drawn.points, knife, width, middle)} />
        {kept > 0 && <line class="tuber-cut" x1={x(kept)} x2={x(kept)} y1={middle - 26} y2={middle + 26} />}
        {kept > 0 && <KeptLabel x={x(kept)} y={middle - 34} hold={hold} reserve={reserve} />}
        <rect class="tuber-sold" x={x(kept)} y={206} width={Math.max(0, x(sold))} height={9} />
        <Blade x={knife} />
        <text class="tuber-text tuber-text-knife" x={knife + (label === 'start' ? 12 : -12)} y={16} text-anchor={label}>
          {t('tuber.offer', { n: quantity })}
        </text>
        <text class="tuber-text" x={x(kept)} y={231}>
          {t('tuber.sold', { n: sold })}
        </text>
        {axis}
      </svg>
    </div>
  );
}

/** @param {{x: number, y: number, hold: number, reserve: number}} props */
function KeptLabel({ x, y, hold, reserve }) {
  const anchor = x < 130 ? 'start' : 'end';
  return (
    <text class="tuber-text" x={anchor === 'start' ? 0 : x - 4} y={y} text-anchor={anchor}>
      {t('tuber.kept', { hold, reserve })}
    </text>
  );
}

/** The knife: a blade's line with a handle above. @param {{x: number}} props */
function Blade({ x }) {
  return (
    <g class="tuber-blade" transform={`translate(${Math.round(x * 10) / 10} 0)`}>
      <path d="M-4.5 0h9l0 20-4.5 6-4.5-6Z" />
      <line x1="0" y1="24" x2="0" y2="200" />
    </g>
  );
}

/** Saleable divisions, counted from the cut at the neck. @param {{unit: number, max: number, kept: number, y: number}} props */
function Axis({ unit, max, kept, y }) {
  const saleable = max - kept;
  const step = Math.max(1, niceStep(saleable / Math.max(2, Math.floor((saleable * unit) / 70)))); // divisions are whole
  const ticks = [];
  for (let v = 0; v <= saleable; v += step) ticks.push(v);
  return (
    <g class="axis">
      {ticks.map((v) => (
        <g key={v} transform={`translate(${(kept + v) * unit} ${y})`}>
          <line y1="-5" y2="0" />
        </g>
      ))}
      {ticks.map((v, i) => (
        <text
          key={v}
          x={(kept + v) * unit}
          y={y - 9}
          text-anchor={i === 0 && kept * unit < 8 ? 'start' : (max - kept - v) * unit < 14 ? 'end' : 'middle'}
        >
          {v}
        </text>
      ))}
    </g>
  );
}
