// SPDX-License-Identifier: MIT
// Files of holds and of tracking numbers: what each brought, and taking one back whole.

import { useState } from 'preact/hooks';
import { newKey, send } from '../shared/net/api.js';
import { ReasonDialog, say } from '../shared/dialog.jsx';
import { useSearch } from '../shared/search.jsx';
import { useSeason } from '../shared/season.jsx';
import { t, word } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';

/** @typedef {import('../contract').Row<'GET /api/load/brought'>} Brought */

/** More files than this are found by the search above them. */
const MOST_SHOWN = 50;

export function BroughtFiles() {
  const { format } = useSeason();
  const list = useResource('/api/load/brought').data ?? [];
  const [asked, setAsked] = useState(/** @type {Brought | null} */ (null));
  const [key, setKey] = useState(newKey);
  const { found, field } = useSearch(list, (b) => [b.name, b.actor, b.undone_by], t('brought.find'));
  if (list.length === 0) return null;
  return (
    <details class="sheet">
      <summary>{t('brought.title', { n: list.length })}</summary>
      <p class="quiet">{t('brought.about')}</p>
      {list.length > 8 && field}
      <ul class="rows">
        {found.slice(0, MOST_SHOWN).map((b) => (
          <li key={b.brought}>
            <b>{b.name}</b> {word('kind', b.kind)}{' '}
            <span class="quiet">{t('fit.kept_by', { actor: b.actor, when: format.instant(b.at) })}</span>{' '}
            {b.undone_at ? (
              <span class="quiet">
                {t('brought.gone', { actor: b.undone_by ?? '', when: format.instant(b.undone_at), why: b.why ?? '' })}
              </span>
            ) : (
              <>
                {t('brought.stands', { n: b.stands })}{' '}
                <button
                  type="button"
                  aria-label={t('brought.back.of', { name: b.name })}
                  onClick={() => {
                    setKey(newKey());
                    setAsked(b);
                  }}
                >
                  {t('brought.back')}
                </button>
              </>
            )}
          </li>
        ))}
      </ul>
      {asked && (
        <ReasonDialog
          title={t('brought.back.of', { name: asked.name })}
          about={t('brought.about')}
          save={t('brought.back')}
          onClose={() => setAsked(null)}
          onSave={async (why) => {
            await send('POST', `/api/load/brought/${asked.brought}/undo`, { why }, { key });
            say(t('brought.done'));
            touch();
          }}
        />
      )}
    </details>
  );
}
