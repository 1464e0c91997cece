// SPDX-License-Identifier: MIT
// What to measure next: the ten measurements that save most, in money, and what of it lies in other varieties.

import { PlainTable } from '../shared/grid/plain.jsx';
import { hashOf } from '../shared/route.js';
import { useSeason } from '../shared/season.jsx';
import { t } from '../shared/strings/text.js';
import { useResource } from '../shared/net/use.js';

/** @param {string} measure @param {number} n */
function said(measure, n) {
  if (measure === 'divide') return t('measure.divide', { n });
  return measure === 'clumps' ? t('measure.clumps', { n }) : t('measure.divisions', { n });
}

/** @param {{path: string}} props */
export function Measures({ path }) {
  const { format } = useSeason();
  const rows = /** @type {import('../contract').Answers['GET /api/plan/measures'] | undefined} */ (
    useResource(path, { keep: true }).data
  );
  if (!rows || rows.length === 0) return null;
  return (
    <details class="figures">
      <summary>{t('measure.title')}</summary>
      <p class="quiet">{t('measure.words')}</p>
      <PlainTable label={t('measure.title')}>
        <thead>
          <tr>
            {[t('measure.what'), t('measure.variety'), t('measure.saves'), t('measure.elsewhere')].map((head) => (
              <th key={head} scope="col">
                {head}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {rows.map((row) => (
            <tr key={`${row.variety} ${row.measure}`}>
              <td>{said(row.measure, row.count)}</td>
              <td>
                <a href={hashOf(['winter', 'variety', row.variety])}>{row.name}</a>
              </td>
              <td class="right">{format.money(row.saves)}</td>
              <td class="right">{format.money(row.elsewhere)}</td>
            </tr>
          ))}
        </tbody>
      </PlainTable>
    </details>
  );
}
