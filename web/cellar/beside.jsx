// SPDX-License-Identifier: MIT
// After a bad check: what else shares the lot's row, its day of digging, its room, each a door to a check of its own.

import { hashOf } from '../shared/route.js';
import { useSeason } from '../shared/season.jsx';
import { t } from '../shared/strings/text.js';
import { besides } from './beside.js';
import { useOffline } from './use.js';

/** @typedef {import('./beside.js').Lot} Lot */

/** @param {{lot: string}} props */
export function Beside({ lot }) {
  const lots = useOffline('/api/lots');
  const places = useOffline('/api/places');
  if (!lots.data) return null;
  const found = besides(lots.data, places.data ?? [], lot);
  const groups = /** @type {const} */ ([
    ['beside.row', found.row],
    ['beside.day', found.day],
    ['beside.room', found.room],
  ]);
  return (
    <section class="beside">
      <h2>{t('beside.title', { lot })}</h2>
      {groups.every(([, list]) => list.length === 0) && <p>{t('beside.none')}</p>}
      {groups.map(
        ([key, list]) =>
          list.length > 0 && (
            <div key={key}>
              <h3>{t(key)}</h3>
              <ul>
                {list.map((l) => (
                  <li key={l.lot}>
                    <One lot={l} />
                  </li>
                ))}
              </ul>
            </div>
          ),
      )}
    </section>
  );
}

/** @param {{lot: Lot}} props */
function One({ lot }) {
  const { format } = useSeason();
  return (
    <a class="beside-lot" href={hashOf(['cellar', 'check'], { lot: lot.lot })}>
      <span class="code">{lot.variety}</span> <b>{lot.lot}</b>{' '}
      <span class="quiet">
        {lot.places ? `${lot.places}, ` : ''}
        {lot.last_checked ? t('beside.checked', { day: format.day(lot.last_checked) }) : t('beside.never')}
      </span>
    </a>
  );
}
