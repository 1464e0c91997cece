// SPDX-License-Identifier: MIT
// The three desks, each fetched when it is first opened: who packs does not wait for the winter plan. The worker keeps them all.

import { useEffect, useState } from 'preact/hooks';
import { Wrong } from './dialog.jsx';
import { speakOf } from './language.js';
import { t } from './strings/text.js';

/** @typedef {{steps: string[], values: Record<string, string>}} Where */
/** @typedef {(where: Where) => import('preact').ComponentChild} Desk */

/** @type {Record<string, () => Promise<Desk>>} */
const DESKS = {
  winter: () => import('../winter/desk.jsx').then((m) => m.WinterDesk),
  orders: () => import('../orders/desk.jsx').then((m) => m.OrderDesk),
  cellar: () => import('../cellar/desk.jsx').then((m) => m.Cellar),
};

/** @type {Map<string, Desk>} */
const there = new Map();

/** Begins to fetch a desk. @param {string} name */
export async function fetchDesk(name) {
  const [desk] = await Promise.all([DESKS[name]?.(), speakOf(name)]);
  if (desk) there.set(name, desk);
}

/** @param {Where & {name: string}} props one of the three, else the winter desk */
export function AnyDesk({ name, ...where }) {
  const which = name in DESKS ? name : 'winter';
  const [, setShown] = useState('');
  const [error, setError] = useState(/** @type {Error | null} */ (null));
  useEffect(() => {
    setError(null);
    if (!there.has(which)) fetchDesk(which).then(() => setShown(which), setError);
  }, [which]);
  const Desk = there.get(which);
  if (Desk) return <Desk {...where} />;
  if (!error) return null;
  // The server has another version of the page by now, or there is no network and no worker.
  return (
    <main id="main">
      <h1 class="page-title">{t('frame.not_there')}</h1>
      <Wrong error={error} />
      <button type="button" onClick={() => location.reload()}>
        {t('action.again')}
      </button>
    </main>
  );
}
