// SPDX-License-Identifier: MIT
// What moved since a day, and why: largest first. What is no more than the noise of learning is folded.

import { Field, Loaded } from '../shared/dialog.jsx';
import { useKeptHere } from '../shared/back.js';
import { hashOf } from '../shared/route.js';
import { useSearch } from '../shared/search.jsx';
import { useSeason } from '../shared/season.jsx';
import { Code } from '../shared/tag.jsx';
import { sentence } from '../shared/strings/prose.js';
import { t } from '../shared/strings/text.js';
import { withQuery } from '../shared/net/api.js';
import { useResource } from '../shared/net/use.js';

/** @typedef {import('../contract').Answers['GET /api/changes']} Changes */

/** @param {string} day @param {number} by */
function dayBefore(day, by) {
  const at = new Date(`${day}T00:00:00Z`);
  return new Date(at.getTime() - by * 86400000).toISOString().slice(0, 10);
}

export function ChangesPage() {
  const { nursery } = useSeason();
  return (
    <>
      <h1 class="page-title">{t('changes.title')}</h1>
      {/* Until the season is known, no day can be chosen: it would be counted from nowhere. */}
      {nursery.today === '' ? (
        <p class="loading" role="status">
          {t('loading')}
        </p>
      ) : (
        <Since today={nursery.today} />
      )}
    </>
  );
}

/** @param {{today: string}} props */
function Since({ today }) {
  const yesterday = dayBefore(today, 1);
  const [since, setSince] = useKeptHere('changes.since', yesterday);
  const changes = useResource(withQuery('/api/changes', { since }), { keep: true });
  return (
    <>
      <div class="changes-since">
        <Field label={t('changes.since')}>
          <input
            type="date"
            required
            max={yesterday}
            value={since}
            onInput={(e) => e.currentTarget.value && setSince(e.currentTarget.value)}
          />
        </Field>
        {[1, 7, 28].map((days) => (
          <button
            key={days}
            type="button"
            aria-pressed={since === dayBefore(today, days)}
            onClick={() => setSince(dayBefore(today, days))}
          >
            {t('changes.days', { n: days })}
          </button>
        ))}
      </div>
      <Loaded of={changes}>
        {(list) => (list.length === 0 ? <p class="sheet quiet">{t('changes.none')}</p> : <Slips list={list} />)}
      </Loaded>
    </>
  );
}

/** @param {{list: Changes}} props */
function Slips({ list }) {
  const news = list.filter((c) => !c.noise);
  const noise = list.filter((c) => c.noise);
  const { found, field } = useSearch(news, (c) => [c.variety, sentence(c.why)], t('changes.find'));
  return (
    <>
      {news.length > 8 && field}
      {news.length === 0 && <p class="sheet quiet">{t('changes.no_news')}</p>}
      <List list={found} />
      {noise.length > 0 && (
        <details class="changes-noise">
          <summary>{t('changes.noise', { n: noise.length })}</summary>
          <List list={noise} />
        </details>
      )}
    </>
  );
}

/** @param {{list: Changes}} props */
function List({ list }) {
  const { format } = useSeason();
  return (
    <ul class="slips">
      {list.map((c) => (
        <li key={c.variety} class="slip">
          <a href={hashOf(['winter', 'variety', c.variety])}>
            <Code code={c.variety} />
          </a>
          <span class="slip-figures">
            {format.whole(c.before_p50)} → <b>{format.whole(c.now_p50)}</b>
          </span>
          <span>{sentence(c.why)}</span>
        </li>
      ))}
    </ul>
  );
}
