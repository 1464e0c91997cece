// SPDX-License-Identifier: MIT
// What short varieties are shared out from: as the nursery's setting says, until another supply is chosen on this page.

import { useState } from 'preact/hooks';
import { useSeason } from '../shared/season.jsx';
import { t, word } from '../shared/strings/text.js';

/** What was chosen while this page is open; a choice of last week decides nothing. */
let chosen = '';

/** @returns {[string, (supply: string) => void]} */
export function useSupply() {
  const { nursery } = useSeason();
  const [supply, setSupply] = useState(chosen);
  return [
    supply || String(nursery.settings.supply ?? 'projected'),
    (/** @type {string} */ next) => {
      chosen = next;
      setSupply(next);
    },
  ];
}

/** @param {{supply: string, onSupply: (supply: string) => void}} props */
export function SupplyChoice({ supply, onSupply }) {
  const { format, nursery } = useSeason();
  const odds = format.odds(Number(nursery.settings.confidence ?? 0.9));
  return (
    <div class="choice" role="group" aria-label={t('short.supply')}>
      {
        /** @satisfies {import('../contract').Some<'supplies'>} */ (['counted', 'projected']).map((s) => (
          <button key={s} type="button" aria-pressed={supply === s} onClick={() => onSupply(s)}>
            {s === 'projected' ? t('short.projected', { odds }) : word('supply', s)}
          </button>
        ))
      }
    </div>
  );
}
