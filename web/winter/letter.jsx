// SPDX-License-Identifier: MIT
// The season's letter: one page of sentences, to read and to print.

import { Loaded } from '../shared/dialog.jsx';
import { useSeason } from '../shared/season.jsx';
import { t } from '../shared/strings/text.js';
import { useResource } from '../shared/net/use.js';

/** @typedef {import('../contract').Answers['GET /api/letter'][number]} Row */

/** The parts in order, each with its sentences. @param {Row[]} rows */
function partsOf(rows) {
  /** @type {{part: Row['part'], sentences: string[]}[]} */
  const parts = [];
  for (const row of rows) {
    const last = parts.at(-1);
    if (last?.part === row.part) last.sentences.push(row.sentence);
    else parts.push({ part: row.part, sentences: [row.sentence] });
  }
  return parts;
}

export function LetterPage() {
  const { nursery } = useSeason();
  const letter = useResource('/api/letter');
  return (
    <>
      <h1 class="page-title">{t('letter.title', { season: String(nursery.season) })}</h1>
      <Loaded of={letter}>
        {(rows) => (
          <article class="sheet letter">
            {partsOf(rows).map(({ part, sentences }) => (
              <section key={part}>
                {part !== 'season' && <h2>{t(`letter.part.${part}`)}</h2>}
                {sentences.map((s) => (
                  <p key={s}>{s}</p>
                ))}
              </section>
            ))}
            <p class="form-actions">
              <button type="button" onClick={() => window.print()}>
                {t('letter.print')}
              </button>
            </p>
          </article>
        )}
      </Loaded>
    </>
  );
}
