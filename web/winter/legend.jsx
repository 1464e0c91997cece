// SPDX-License-Identifier: MIT
// What the parts of a picture mean, in the picture's own signs.

import { t } from '../shared/strings/text.js';

/**
 * @param {object} props
 * @param {string} [props.label]
 * @param {{width: number, sign: import('preact').JSX.Element, text: string}[]} props.signs each drawn 12 high
 */
export function Legend({ label, signs }) {
  return (
    <ul class="legend" aria-label={label}>
      {signs.map(({ width, sign, text }) => (
        <li key={text}>
          <svg viewBox={`0 0 ${width} 12`} aria-hidden="true">
            {sign}
          </svg>
          {text}
        </li>
      ))}
    </ul>
  );
}

/** Of a tuber plot with its knife. */
export function TuberLegend() {
  return (
    <Legend
      label={t('tuber.legend')}
      signs={[
        {
          text: t('tuber.legend.sure'),
          width: 22,
          sign: <path class="tuber-sure" d="M0 6C4 0 12 0 22 5.4 12 12 4 12 0 6Z" />,
        },
        {
          text: t('tuber.legend.risk'),
          width: 22,
          sign: <path class="tuber-risk" d="M0 6C4 0 12 0 22 5.4 12 12 4 12 0 6Z" />,
        },
        { text: t('tuber.legend.knife'), width: 8, sign: <rect class="tuber-knife" x="3" width="2" height="12" /> },
        { text: t('tuber.legend.sold'), width: 22, sign: <rect class="tuber-sold" y="4.5" width="22" height="3" /> },
      ]}
    />
  );
}

/** Of a tuber that is kept, and of what stands in its place next spring. */
export function PlantingLegend() {
  return (
    <Legend
      label={t('tuber.legend')}
      signs={[
        {
          text: t('planting.legend.kept'),
          width: 22,
          sign: <path class="tuber-kept" d="M0.5 6C4 1 12 1 21.5 5.4 12 11 4 11 0.5 6Z" />,
        },
        { text: t('planting.legend.knife'), width: 8, sign: <rect class="tuber-knife" x="3" width="2" height="12" /> },
        {
          text: t('planting.legend.next'),
          width: 22,
          sign: <path class="tuber-next" d="M0.5 6C4 0 12 0 21.5 5.4 12 12 4 12 0.5 6Z" />,
        },
      ]}
    />
  );
}
