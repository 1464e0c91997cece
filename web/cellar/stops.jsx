// SPDX-License-Identifier: MIT
// The stops of a walk with who is where: whoever joins in the middle taps where to begin, or takes the second half.

import { useState } from 'preact/hooks';
import { get } from '../shared/net/api.js';
import { sayError } from '../shared/dialog.jsx';
import { t } from '../shared/strings/text.js';
import { stopsOf } from './walk.js';

/** @param {{id: string, steps: import('./walk.js').Step[], at: number, me: string | undefined, onGo: (to: number) => void}} props */
export function StopList({ id, steps, at, me, onGo }) {
  const [shown, setShown] = useState(false);
  const stops = stopsOf(steps);
  const others = [...new Set(stops.map((s) => s.stop.taken_by).filter((who) => who && who !== me))];
  /** @param {number} to */
  const go = (to) => {
    setShown(false);
    onGo(to);
  };
  const half = async () => {
    try {
      const list = /** @type {import('../contract').Answers['GET /api/waves/{wave}/stretches']} */ (
        await get(`/api/waves/${encodeURIComponent(id)}/stretches?packers=2`)
      );
      const second = list[1];
      const row = stops.find((s) => s.stop.stop === second?.first_stop);
      if (row) go(row.at);
    } catch (e) {
      sayError(e);
    }
  };
  return (
    <div class="stop-list">
      <button type="button" class="thumb stop-open" aria-expanded={shown} onClick={() => setShown(!shown)}>
        {others.length > 0 ? t('stops.with', { who: others.join(', ') }) : t('stops.show')}
      </button>
      {shown && (
        <>
          <button type="button" class="thumb" onClick={() => void half()}>
            {t('stops.half')}
          </button>
          <ol class="stop-rows" aria-label={t('stops.show')}>
            {stops.map((s) => (
              <li key={s.stop.id}>
                <button
                  type="button"
                  class={`thumb ${s.open === 0 ? 'stop-done' : ''}`}
                  aria-current={steps[at]?.stop.id === s.stop.id ? 'true' : undefined}
                  onClick={() => go(s.at)}
                >
                  <b>{s.stop.place || t('walk.no_place')}</b>
                  <span>{s.open === 0 ? t('stops.done') : t('stops.open', { n: s.quantity })}</span>
                  {s.stop.taken_by && (
                    <span>{s.stop.taken_by === me ? t('stops.you') : t('stops.taken', { name: s.stop.taken_by })}</span>
                  )}
                </button>
              </li>
            ))}
          </ol>
        </>
      )}
    </div>
  );
}
