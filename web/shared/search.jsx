// SPDX-License-Identifier: MIT
// A field above a list that leaves only the rows which hold every word typed.

import { useMemo } from 'preact/hooks';
import { useKeptHere } from './back.js';
import { filterRows, plain } from './grid/grid.js';
import { t } from './strings/text.js';

/**
 * @template R
 * @param {R[]} rows
 * @param {(row: R) => (string | number | null | undefined)[]} words what a row is found by
 * @param {string} label says what can be typed
 * @returns {{found: R[], field: import('preact').VNode}}
 */
export function useSearch(rows, words, label) {
  const [query, setQuery] = useKeptHere(`search.${label}`, '');
  const texts = useMemo(
    () =>
      new Map(
        rows.map((r) => [
          r,
          plain(
            words(r)
              .filter((w) => w !== null && w !== undefined)
              .join(' '),
          ),
        ]),
      ),
    [rows],
  );
  const found = useMemo(() => filterRows(rows, (r) => texts.get(r) ?? '', query), [rows, texts, query]);
  const field = (
    <div class="tools search">
      <label class="find">
        <span class="hidden">{label}</span>
        <input type="search" placeholder={label} value={query} onInput={(e) => setQuery(e.currentTarget.value)} />
      </label>
      <span class="quiet" role="status">
        {query.trim() === '' ? '' : t('search.found', { n: found.length, all: rows.length })}
      </span>
    </div>
  );
  return { found, field };
}
