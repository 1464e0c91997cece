// SPDX-License-Identifier: MIT
// What stands on record: every release with the projection it rests on, and who did what.

import { useEffect, useState } from 'preact/hooks';
import { get } from '../shared/net/api.js';
import { Loaded, sayError } from '../shared/dialog.jsx';
import { PlainTable } from '../shared/grid/plain.jsx';
import { hashOf } from '../shared/route.js';
import { useSearch } from '../shared/search.jsx';
import { rights, useSeason } from '../shared/season.jsx';
import { Code } from '../shared/tag.jsx';
import { sentence } from '../shared/strings/prose.js';
import { t } from '../shared/strings/text.js';
import { useResource } from '../shared/net/use.js';

/**
 * @typedef {object} Release
 * @property {string} variety
 * @property {string} at
 * @property {string} actor
 * @property {number} before
 * @property {number} offered
 * @property {number | null} confidence
 * @property {number | null} p_short
 * @property {string} basis
 * @property {string | null} why
 */
/** @typedef {{id: number, at: string, actor: string, action: string, subject: string, before: string | null, after: string | null}} Act */

/** More rows than this are found by the search above them. */
const MOST_SHOWN = 200;
/** The server gives so many acts at a time. */
const PAGE = 200;

export function RecordPage() {
  const { session } = useSeason();
  const releases = useResource('/api/releases');
  return (
    <>
      <h1 class="page-title">{t('record.title')}</h1>
      <section class="sheet">
        <h2>{t('record.releases')}</h2>
        <Loaded of={releases}>{(list) => <Releases list={list} />}</Loaded>
      </section>
      {rights(session).owner && (
        <section class="sheet">
          <h2>{t('settings.audit')}</h2>
          <Audit />
        </section>
      )}
    </>
  );
}

/** @param {{list: Release[]}} props */
function Releases({ list }) {
  const { format } = useSeason();
  const { found, field } = useSearch(
    list,
    (r) => [r.variety, r.actor, r.why, r.basis, format.instant(r.at)],
    t('record.find_release'),
  );
  if (list.length === 0) return <p class="quiet">{t('record.no_release')}</p>;
  return (
    <>
      {field}
      <PlainTable label={t('record.releases')} frame="scroll-y">
        <thead>
          <tr>
            <th scope="col">{t('sales.when')}</th>
            <th scope="col">{t('col.code')}</th>
            <th scope="col" class="right">
              {t('record.from')}
            </th>
            <th scope="col" class="right">
              {t('record.to')}
            </th>
            <th scope="col" class="right">
              {t('col.p_short')}
            </th>
            <th scope="col">{t('record.who')}</th>
            <th scope="col">{t('sales.why')}</th>
          </tr>
        </thead>
        <tbody>
          {found.slice(0, MOST_SHOWN).map((r, i) => (
            <tr key={i}>
              <td class="still">{format.instant(r.at)}</td>
              <td>
                <a href={hashOf(['winter', 'variety', r.variety])}>
                  <Code code={r.variety} />
                </a>
              </td>
              <td class="right">{format.whole(r.before)}</td>
              <td class="right">
                <b>{format.whole(r.offered)}</b>
              </td>
              <td class="right">{r.p_short === null ? '–' : format.percent(r.p_short, 1)}</td>
              <td>{r.actor}</td>
              <td>
                {r.why} <span class="quiet">{basisText(r.basis, format)}</span>
              </td>
            </tr>
          ))}
        </tbody>
      </PlainTable>
      {found.length > MOST_SHOWN && <p class="quiet">{t('record.more', { n: found.length - MOST_SHOWN })}</p>}
    </>
  );
}

/**
 * The projection that a release rests on, in words.
 * @param {string} text JSON as the record keeps it
 * @param {import('../shared/strings/format.js').Format} format
 */
function basisText(text, format) {
  try {
    const b = JSON.parse(text);
    return t('record.basis', {
      day: format.day(b.as_of),
      expected: format.whole(Math.round(b.expected)),
      p10: format.whole(b.p10),
      p90: format.whole(b.p90),
      hold: b.hold_back,
      reserve: b.reserve,
    });
  } catch {
    return text;
  }
}

function Audit() {
  const newest = /** @type {Act[] | undefined} */ (useResource('/api/audit').data);
  const [older, setOlder] = useState(/** @type {Act[]} */ ([]));
  const [end, setEnd] = useState(false);
  const list = [...(newest ?? []), ...older.filter((o) => !(newest ?? []).some((a) => a.id === o.id))];
  useEffect(() => setEnd((newest ?? []).length < PAGE), [newest]);
  const more = async () => {
    try {
      const next = /** @type {Act[]} */ (await get(`/api/audit?before=${list[list.length - 1]?.id}`));
      setOlder([...older, ...next]);
      setEnd(next.length < PAGE);
    } catch (e) {
      sayError(e);
    }
  };
  return (
    <>
      <Acts list={list} />
      {!end && list.length > 0 && (
        <button type="button" onClick={more}>
          {t('record.older')}
        </button>
      )}
    </>
  );
}

/** @param {{list: Act[]}} props */
function Acts({ list }) {
  const { format } = useSeason();
  const { found, field } = useSearch(
    list,
    (a) => [a.actor, a.action, a.subject, a.before, a.after, format.instant(a.at)],
    t('record.find_act'),
  );
  return (
    <>
      {field}
      <ul class="rows audit scroll-y" tabIndex={0} aria-label={t('settings.audit')}>
        {found.map((a) => (
          <li key={a.id}>
            <span class="quiet">{format.instant(a.at)}</span> <b>{a.actor}</b> {a.action} {a.subject}{' '}
            <span class="quiet">{sentence([a.before, a.after].filter(Boolean).join(' → '))}</span>
          </li>
        ))}
      </ul>
    </>
  );
}
