// SPDX-License-Identifier: MIT
// A crate was empty and another of that variety has some: one tap takes the rest from there. Asks the server, so it needs the network.

import { useState } from 'preact/hooks';
import { newKey, send, withQuery } from '../shared/net/api.js';
import { say, sayError } from '../shared/dialog.jsx';
import { Code } from '../shared/tag.jsx';
import { t } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';

/** @typedef {import('../contract').Answers['GET /api/shorts']} Shorts */

/** By the crate that would give: what is short and which parcels still wait for it. @param {Shorts} shorts */
export function cratesThatGive(shorts) {
  /** @type {Map<string, {lot: string, place: string, variety: string, short: number, parcels: number[]}>} */
  const crates = new Map();
  for (const s of shorts) {
    if (!s.other_lot || s.parcel_state !== 'open') continue;
    const name = `${s.other_lot} ${s.other_place ?? ''} ${s.variety}`;
    const crate = crates.get(name) ?? {
      lot: s.other_lot,
      place: s.other_place ?? '',
      variety: s.variety,
      short: 0,
      parcels: [],
    };
    crate.short += s.short;
    if (!crate.parcels.includes(s.parcel)) crate.parcels.push(s.parcel);
    crates.set(name, crate);
  }
  return [...crates.values()];
}

/** @param {{wave: string}} props */
export function NextCrate({ wave }) {
  const shorts = /** @type {Shorts} */ (useResource(withQuery('/api/shorts', { wave })).data ?? []);
  const [busy, setBusy] = useState(false);
  const crates = cratesThatGive(shorts);
  if (crates.length === 0) return null;
  /** @param {(typeof crates)[number]} crate */
  const take = async (crate) => {
    if (busy) return;
    setBusy(true);
    try {
      let added = 0;
      for (const parcel of crate.parcels) {
        const done = await send(
          'POST',
          `/api/parcels/${parcel}/fill`,
          { lot: crate.lot, place: crate.place || undefined },
          { key: newKey() },
        );
        added += done?.added ?? 0;
      }
      say(t('crate.added', { n: added, place: crate.place || t('walk.no_place') }));
    } catch (e) {
      sayError(e);
    } finally {
      touch();
      setBusy(false);
    }
  };
  return (
    <section class="note" aria-label={t('crate.title')}>
      {crates.map((c) => (
        <p key={`${c.lot} ${c.place}`}>
          {t('crate.short', { n: c.short })} <Code code={c.variety} />
          <button type="button" class="thumb" aria-disabled={busy} onClick={() => take(c)}>
            {t('crate.take', { lot: c.lot, place: c.place || t('walk.no_place') })}
          </button>
        </p>
      ))}
    </section>
  );
}
