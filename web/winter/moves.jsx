// SPDX-License-Identifier: MIT
// What is about to be written for each variety: what stands now, and what will stand in its place.

import { PlainTable } from '../shared/grid/plain.jsx';
import { useSeason } from '../shared/season.jsx';
import { t } from '../shared/strings/text.js';
import { Code } from '../shared/tag.jsx';

/**
 * @param {object} props
 * @param {string} props.label
 * @param {string} props.before head of what stands now
 * @param {string} props.after head of what will stand
 * @param {{variety: string, name: string, before: number, after: number}[]} props.items
 */
export function Moves({ label, before, after, items }) {
  const { format } = useSeason();
  return (
    <PlainTable label={label} frame="scroll-y">
      <thead>
        <tr>
          <th scope="col">{t('col.code')}</th>
          <th scope="col">{t('col.name')}</th>
          <th scope="col" class="right">
            {before}
          </th>
          <th scope="col" class="right">
            {after}
          </th>
        </tr>
      </thead>
      <tbody>
        {items.map((i) => (
          <tr key={i.variety}>
            <td>
              <Code code={i.variety} />
            </td>
            <td>{i.name}</td>
            <td class="right">{format.whole(i.before)}</td>
            <td class="right">
              <b>{format.whole(i.after)}</b>
            </td>
          </tr>
        ))}
      </tbody>
    </PlainTable>
  );
}
