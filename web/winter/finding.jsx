// SPDX-License-Identifier: MIT
// Which rows stand in a table of varieties, in which order, and the tools above it that say so.

import { useCallback, useMemo } from 'preact/hooks';
import { useKeptHere } from '../shared/back.js';
import { filterRows, sortRows } from '../shared/grid/grid.js';
import { useKept } from '../shared/net/use.js';
import { t } from '../shared/strings/text.js';

/** @typedef {import('../shared/strings/text.js').Key} Key */

const collator = new Intl.Collator(undefined, { numeric: true });

/**
 * What is searched for comes back with Back, the order is kept in this browser.
 * @template {{variety: string}} R
 * @param {object} o
 * @param {string} o.name what is kept goes by it
 * @param {R[]} o.rows
 * @param {Map<string, string>} o.texts what is searched in, by variety
 * @param {Record<string, (row: R) => boolean>} o.shows
 * @param {string} o.show one of them
 * @param {Record<string, (row: R) => import('../shared/grid/grid.js').Value>} o.sorts
 */
export function useFinding({ name, rows, texts, shows, show, sorts }) {
  const [query, setQuery] = useKeptHere(`${name}.query`, '');
  const [sorting, setSorting] = useKept(`${name}.sort`, { key: 'variety', down: false });
  const shown = useMemo(() => {
    const found = filterRows(rows.filter(shows[show] ?? (() => true)), (r) => texts.get(r.variety) ?? '', query);
    return sortRows(found, sorts[sorting.key] ?? ((r) => r.variety), sorting.down, collator);
  }, [rows, texts, query, show, sorting]);
  const onSort = useCallback(
    (/** @type {string} */ key) => setSorting({ key, down: sorting.key === key ? !sorting.down : false }),
    [sorting],
  );
  return { query, setQuery, shown, sorting, onSort };
}

/**
 * @param {object} props
 * @param {{query: string, setQuery: (query: string) => void, shown: unknown[]}} props.finding
 * @param {Record<string, Key>} props.choices what may be shown, and its words
 * @param {string} props.show
 * @param {(show: string) => void} props.onShow
 * @param {import('preact').ComponentChildren} [props.more] other tools, before the count
 * @param {import('preact').ComponentChildren} props.legend
 */
export function FindingTools({ finding, choices, show, onShow, more, legend }) {
  return (
    <div class="tools">
      <label class="find">
        <span class="hidden">{t('plan.find')}</span>
        <input
          type="search"
          placeholder={t('plan.find')}
          value={finding.query}
          onInput={(e) => finding.setQuery(e.currentTarget.value)}
        />
      </label>
      <label>
        {t('plan.show')}{' '}
        <select value={show} onChange={(e) => onShow(e.currentTarget.value)}>
          {Object.entries(choices).map(([of, words]) => (
            <option key={of} value={of}>
              {t(words)}
            </option>
          ))}
        </select>
      </label>
      {more}
      <span class="quiet" role="status">
        {t('grid.count', { n: finding.shown.length })}
      </span>
      {legend}
    </div>
  );
}
