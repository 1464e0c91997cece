// SPDX-License-Identifier: MIT
// What moved since yesterday, and why.

import { Loaded } from '../shared/dialog.jsx';
import { hashOf } from '../shared/route.js';
import { useSearch } from '../shared/search.jsx';
import { useSeason } from '../shared/season.jsx';
import { Code } from '../shared/tag.jsx';
import { t } from '../shared/strings/text.js';
import { useResource } from '../shared/net/use.js';

export function ChangesPage() {
  const changes = useResource('/api/changes');
  return (
    <>
      <h1 class="page-title">{t('changes.title')}</h1>
      <Loaded of={changes}>
        {(list) => (list.length === 0 ? <p class="sheet quiet">{t('changes.none')}</p> : <Slips list={list} />)}
      </Loaded>
    </>
  );
}

/** @param {{list: import('../contract').Answers['GET /api/changes']}} props */
function Slips({ list }) {
  const { format } = useSeason();
  const { found, field } = useSearch(list, (c) => [c.variety, c.why], t('changes.find'));
  return (
    <>
      {field}
      <ul class="slips">
        {found.map((c) => (
          <li key={c.variety} class="slip">
            <a href={hashOf(['winter', 'variety', c.variety])}>
              <Code code={c.variety} />
            </a>
            <span class="slip-figures">
              {format.whole(c.before_p50)} → <b>{format.whole(c.now_p50)}</b>
            </span>
            <span>{c.why}</span>
          </li>
        ))}
      </ul>
    </>
  );
}
