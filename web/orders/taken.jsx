// SPDX-License-Identifier: MIT
// What a load took in, or would: for each file the rows that are new, changed and as they were.

import { PlainTable } from '../shared/grid/plain.jsx';
import { useSeason } from '../shared/season.jsx';
import { sentence } from '../shared/strings/prose.js';
import { t, word } from '../shared/strings/text.js';

/** @param {{answer: {files: import('../contract').Answers['POST /api/load']['files'], committed: boolean}}} props */
export function Taken({ answer }) {
  const { format } = useSeason();
  return (
    <PlainTable label={answer.committed ? t('load.taken') : t('load.preview')}>
      <thead>
        <tr>
          <th scope="col">{t('load.file')}</th>
          <th scope="col">{t('load.kind')}</th>
          {['rows', 'new', 'changed', 'unchanged'].map((c) => (
            <th key={c} scope="col" class="right">
              {word('load', c)}
            </th>
          ))}
        </tr>
      </thead>
      <tbody>
        {answer.files.map((/** @type {any} */ f) => (
          <tr key={f.file}>
            <td>
              {f.file} {f.note && <span class="quiet">{sentence(f.note)}</span>}
            </td>
            <td>{word('kind', f.kind)}</td>
            {['rows', 'new', 'changed', 'unchanged'].map((c) => (
              <td key={c} class="right">
                {format.whole(f[c])}
              </td>
            ))}
          </tr>
        ))}
      </tbody>
    </PlainTable>
  );
}
