// SPDX-License-Identifier: MIT
// What packers found short on their walks and nobody has settled: another lot, back to the desk, or a word to the buyer.

import { useState } from 'preact/hooks';
import { newKey, send } from '../shared/net/api.js';
import { say, sayError } from '../shared/dialog.jsx';
import { hashOf } from '../shared/route.js';
import { rights, useSeason } from '../shared/season.jsx';
import { Code } from '../shared/tag.jsx';
import { t, word } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';
import { SettleDialog } from './settle.jsx';

/**
 * @typedef {object} FoundShort
 * @property {number} wave
 * @property {string} order
 * @property {number} line
 * @property {string} customer
 * @property {string} variety
 * @property {number} short
 * @property {string} reason
 * @property {string} lot
 * @property {number} parcel
 * @property {string} parcel_state
 * @property {string | null} other_lot
 * @property {string | null} other_place
 * @property {number | null} other_free
 * @property {string} refund
 * @property {string} place
 * @property {string} sentence
 */

export function FoundShorts() {
  const { session } = useSeason();
  const list = /** @type {FoundShort[]} */ (useResource('/api/shorts').data ?? []);
  const [settling, setSettling] = useState(/** @type {FoundShort[] | null} */ (null));
  if (list.length === 0) return null;
  const crates = cratesOf(list).filter((c) => c.list.length > 1);
  /** @param {FoundShort} f */
  const fill = async (f) => {
    try {
      const done = await send(
        'POST',
        `/api/parcels/${f.parcel}/fill`,
        { lot: f.other_lot, place: f.other_place ?? undefined },
        { key: newKey() },
      );
      say(t('found.filled', { n: done?.added ?? 0, lot: f.other_lot ?? '' }));
      touch();
    } catch (e) {
      sayError(e);
    }
  };
  return (
    <section class="sheet note" aria-label={t('found.title')}>
      <h2>{t('found.title')}</h2>
      {rights(session).office && (
        <div class="form-actions">
          {crates.length > 1 &&
            crates.map((c) => (
              <button key={c.name} type="button" onClick={() => setSettling(c.list)}>
                {t('settle.crate', { lot: c.lot, place: c.place, n: c.list.length })}
              </button>
            ))}
          <button type="button" class="main-button" onClick={() => setSettling(list)}>
            {t('settle.all', { n: list.length })}
          </button>
        </div>
      )}
      {settling && <SettleDialog list={settling} onClose={() => setSettling(null)} />}
      <ul class="rows">
        {list.map((f) => (
          <li key={`${f.order} ${f.line} ${f.lot}`} class="found-row">
            <p>
              <a class="figure" href={hashOf(['orders', 'order', f.order])}>
                {f.order}
              </a>{' '}
              {f.customer} · <b>{f.short}</b> × <Code code={f.variety} /> {word('reason', f.reason)}
            </p>
            <p>{f.sentence}</p>
            {rights(session).office && (
              <div class="form-actions">
                {f.other_lot && f.parcel_state === 'open' && (
                  <button type="button" onClick={() => fill(f)}>
                    {t('found.other', { lot: f.other_lot, place: f.other_place ?? '', n: f.other_free ?? 0 })}
                  </button>
                )}
                <a class="button" href={hashOf(['orders', 'order', f.order])}>
                  {t('found.order')}
                </a>
                <a class="button" href={hashOf(['orders', 'substitutes'])}>
                  {t('found.substitute')}
                </a>
              </div>
            )}
          </li>
        ))}
      </ul>
    </section>
  );
}

/** Which orders does each crate leave short? @param {FoundShort[]} list */
function cratesOf(list) {
  /** @type {Map<string, {name: string, lot: string, place: string, list: FoundShort[]}>} */
  const crates = new Map();
  for (const f of list) {
    const name = `${f.lot} ${f.place}`;
    const crate = crates.get(name) ?? { name, lot: f.lot, place: f.place ?? '', list: [] };
    crate.list.push(f);
    crates.set(name, crate);
  }
  return [...crates.values()];
}
