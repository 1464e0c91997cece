// SPDX-License-Identifier: MIT
// Which crates to open this week, in walking order, each filled in for the check. Works on without a network.

import { hashOf } from '../shared/route.js';
import { useSeason } from '../shared/season.jsx';
import { CrateTag } from '../shared/tag.jsx';
import { t, word } from '../shared/strings/text.js';
import { useOffline } from './use.js';

/** @typedef {import('../contract').Row<'GET /api/rota'>} Look */

export function RotaList() {
  const rota = useOffline('/api/rota');
  if (!rota.data)
    return (
      <section class="lists">
        <h1>{t('cellar.rota')}</h1>
        <p class="large-note" role="status">
          {rota.error ? rota.error.message : t('lists.loading')}
        </p>
      </section>
    );
  const looks = /** @type {Look[]} */ (rota.data);
  const minutes = looks.reduce((sum, k) => sum + k.minutes, 0);
  return (
    <section class="lists">
      <h1>{t('cellar.rota')}</h1>
      {rota.old && <p class="note">{t('rota.old')}</p>}
      <p class="large-note">{looks.length === 0 ? t('rota.none') : t('rota.some', { n: looks.length, minutes })}</p>
      <ul class="list-tasks">
        {looks.map((k) => (
          <li key={`${k.lot} ${k.stage}`}>
            <a
              class="list-task"
              href={hashOf(['cellar', 'check'], { lot: k.lot, stage: k.stage, inspected: String(k.look) })}
            >
              <LookTag look={k} />
              <span class="list-do">{t('rota.enter')}</span>
            </a>
          </li>
        ))}
      </ul>
      <p>
        <a class="link-button" href="/print/rota" target="_blank" rel="noopener">
          {t('rota.print')}
        </a>
      </p>
      <p class="caution">{t('cellar.caution')}</p>
    </section>
  );
}

/** @param {{look: Look}} props */
function LookTag({ look }) {
  const { format } = useSeason();
  return (
    <CrateTag
      variety={{ code: look.variety, name: look.name }}
      extra={t('rota.look', {
        n: look.look,
        there: look.there,
        stage: word('stage', look.stage),
        lot: look.lot,
        place: look.place ? `${look.place}${look.room ? `, ${look.room}` : ''}` : t('cutting.no_place'),
        weeks: format.decimal(look.weeks, 1),
      })}
    />
  );
}
