// SPDX-License-Identifier: MIT
// What changed since this preview was first looked at: another desk took an order, a count moved, something was taken back.

import { useEffect, useState } from 'preact/hooks';
import { send } from '../shared/net/api.js';
import { sayError } from '../shared/dialog.jsx';
import { hashOf } from '../shared/route.js';
import { sentence } from '../shared/strings/prose.js';
import { t, word } from '../shared/strings/text.js';
import { field } from './rules.js';

/** @typedef {{order: string, line: number, before: number | null, now: number, change: number, reason: string}} Change */

/**
 * @param {object} props
 * @param {any} props.data the preview as it is now
 * @param {import('./rules.js').Rule} props.rule
 * @param {{supply?: unknown, tiers_first?: unknown, variety?: unknown}} props.basis
 */
export function Since({ data, rule, basis }) {
  const name = JSON.stringify(basis);
  const [seen, setSeen] = useState({ name, digest: data.digest, lines: data.lines });
  const [list, setList] = useState(/** @type {Change[]} */ ([]));
  const look = () => setSeen({ name, digest: data.digest, lines: data.lines });
  useEffect(() => {
    if (seen.name !== name) look();
  }, [name]);
  useEffect(() => {
    if (seen.digest === data.digest || seen.name !== name) {
      setList([]);
      return undefined;
    }
    const stop = new AbortController();
    const before = seen.lines.map((/** @type {any} */ l) => ({
      variety: data.variety,
      order: l.order,
      line: l.line,
      rule,
      allocated: l.firm + l[field(rule)],
    }));
    send('POST', '/api/allocation/changes', { ...basis, before }, { signal: stop.signal })
      .then((all) => setList(all ?? []))
      .catch((e) => stop.signal.aborted || sayError(e));
    return () => stop.abort();
  }, [data.digest, rule, seen, name]);
  if (list.length === 0) return null;
  return (
    <section class="sheet note" aria-label={t('since.title')}>
      <h2>{t('since.title')}</h2>
      <ul class="rows">
        {list.map((c) => (
          <li key={`${c.order} ${c.line}`}>
            <a class="figure" href={hashOf(['orders', 'order', c.order])}>
              {c.order}
            </a>{' '}
            {c.before === null ? t('since.new') : c.before} → <b>{c.now}</b>{' '}
            <span class="quiet">{word('rule', rule)}:</span> {sentence(c.reason)}
          </li>
        ))}
      </ul>
      <button type="button" onClick={look}>
        {t('since.seen')}
      </button>
    </section>
  );
}
