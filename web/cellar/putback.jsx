// SPDX-License-Identifier: MIT
// What lies in a slot and is no longer meant for it: which slot to empty, and where it goes. Said by one tap, also without a network.

import { useState } from 'preact/hooks';
import { useSeason } from '../shared/season.jsx';
import { Code } from '../shared/tag.jsx';
import { t, word } from '../shared/strings/text.js';
import { readKept } from '../shared/net/use.js';
import { post } from './box.js';
import { soundYes } from './sound.js';

/** @typedef {import('../contract').Answers['GET /api/waves/{wave}']['put_back'][number]} PutBack */

/** @param {{list: PutBack[] | undefined}} props */
export function PutBacks({ list }) {
  const { session } = useSeason();
  const [done, setDone] = useState(/** @type {Set<number>} */ (new Set()));
  const left = (list ?? []).filter((p) => !done.has(p.id));
  if (left.length === 0) return null;
  /** @param {PutBack} p */
  const put = async (p) => {
    setDone(new Set([...done, p.id]));
    const packer = readKept('packer', session.name) || session.name || undefined;
    await post(`/api/put-backs/${p.id}/done`, { packer }, t('putback.label', { slot: p.slot, n: p.quantity }));
    soundYes();
  };
  return (
    <section class="refusal" aria-label={t('putback.title')}>
      <b>{t('putback.title')}</b>
      <ul class="rows">
        {left.map((p) => (
          <li key={p.id}>
            <p>
              <b class="slot-number">{t('walk.slot', { slot: p.slot })}</b> <b>{p.quantity}</b> ×{' '}
              <Code code={p.variety} /> → {p.place || t('walk.no_place')} <span class="quiet">{p.lot}</span>
              <br />
              {t('putback.because', { order: p.order, what: word('putback', p.because) })}
            </p>
            <button type="button" class="thumb" onClick={() => put(p)}>
              {t('putback.done', { slot: p.slot })}
            </button>
          </li>
        ))}
      </ul>
    </section>
  );
}
