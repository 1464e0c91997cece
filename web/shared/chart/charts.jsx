// SPDX-License-Identifier: MIT
// Small charts that share one frame: marks left and below, a name for a screen reader, the figures as a table behind it.

import { useLayoutEffect, useRef, useState } from 'preact/hooks';
import { PlainTable } from '../grid/plain.jsx';
import { marks, scale } from './scale.js';
import { t } from '../strings/text.js';

/**
 * @typedef {object} Area what a chart draws into
 * @property {(v: number) => number} x
 * @property {(v: number) => number} y
 * @property {number} width
 * @property {number} height
 * @property {number} left
 * @property {number} bottom
 */

/**
 * @param {object} props
 * @param {string} props.label
 * @param {[number, number]} props.xs
 * @param {[number, number]} props.ys
 * @param {number} [props.height]
 * @param {(v: number) => string} [props.xText]
 * @param {(v: number) => string} [props.yText]
 * @param {number[]} [props.xMarks]
 * @param {string} [props.xName]
 * @param {string} [props.yName]
 * @param {(area: Area) => import('preact').ComponentChildren} props.draw
 * @param {{heads: string[], rows: (string | number)[][]}} [props.table]
 */
export function Chart({
  label,
  xs,
  ys,
  height = 220,
  xText = String,
  yText = String,
  xMarks,
  xName,
  yName,
  draw,
  table,
}) {
  const [frame, width] = useMeasured(480);
  const left = 44;
  const right = 12;
  const top = yName ? 22 : 10;
  const bottom = height - (xName ? 40 : 24);
  const x = scale(xs[0], xs[1], left, width - right);
  const y = scale(ys[0], ys[1], bottom, top);
  const across = xMarks ?? marks(xs[0], xs[1], width / 90);
  const up = marks(ys[0], ys[1], height / 48);
  return (
    <figure class="chart" ref={frame}>
      <svg width={width} height={height} role="img" aria-label={label}>
        <g class="axis">
          {up.map((v) => (
            <g key={v}>
              <line class="rule" x1={left} x2={width - right} y1={y(v)} y2={y(v)} />
              <text x={left - 6} y={y(v) + 4} text-anchor="end">
                {yText(v)}
              </text>
            </g>
          ))}
          {across.map((v) => (
            <text key={v} x={x(v)} y={bottom + 17} text-anchor="middle">
              {xText(v)}
            </text>
          ))}
          {xName && (
            <text x={(left + width - right) / 2} y={height - 4} text-anchor="middle">
              {xName}
            </text>
          )}
          {yName && (
            <text x={4} y={12}>
              {yName}
            </text>
          )}
        </g>
        {draw({ x, y, width, height, left, bottom })}
      </svg>
      {table && <FigureTable heads={table.heads} rows={table.rows} />}
    </figure>
  );
}

/** @param {{heads: string[], rows: (string | number)[][]}} props */
export function FigureTable({ heads, rows }) {
  return (
    <details class="figures">
      <summary>{t('chart.as_table')}</summary>
      <PlainTable label={t('chart.as_table')}>
        <thead>
          <tr>
            {heads.map((h) => (
              <th key={h} scope="col">
                {h}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {rows.map((row, i) => (
            <tr key={i}>
              {row.map((cell, j) => (
                <td key={j} class={j ? 'right' : ''}>
                  {cell}
                </td>
              ))}
            </tr>
          ))}
        </tbody>
      </PlainTable>
    </details>
  );
}

/**
 * The element's width in px, followed as it changes.
 * @param {number} first
 * @returns {[import('preact').RefObject<any>, number]}
 */
export function useMeasured(first) {
  const frame = useRef(/** @type {HTMLElement | null} */ (null));
  const [width, setWidth] = useState(first);
  useLayoutEffect(() => {
    const element = frame.current;
    if (!element) return undefined;
    const measure = () => setWidth(Math.max(120, Math.floor(element.clientWidth)));
    measure();
    const watcher = new ResizeObserver(measure);
    watcher.observe(element);
    return () => watcher.disconnect();
  }, []);
  return [frame, width];
}
