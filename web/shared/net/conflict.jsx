// SPDX-License-Identifier: MIT
// Two people changed the same thing: both values are shown, and whoever came later says which stands. Every edit that carries
// what it was based on (send with `base`) comes here when that has changed meanwhile.

import { PERCENT, toShow } from '../percent.js';
import { watchClash } from './api.js';
import { Dialog } from '../dialog.jsx';
import { t, word } from '../strings/text.js';
import { saidOf } from './own.js';
import { makeStore, touch, useStore } from './use.js';

/** @typedef {{clash: import('./api.js').Clash, answer: (mine: boolean) => void}} Asked */
const asked = makeStore(/** @type {Asked | null} */ (null));

watchClash(
  (clash) =>
    new Promise((resolve) => {
      asked.get()?.answer(false); // one at a time: the one before is left as it is
      asked.set({
        clash,
        answer: (mine) => {
          asked.set(null);
          if (!mine) touch(); // what stands is to be seen
          resolve(mine);
        },
      });
    }),
);

/** A share is shown as it was typed, in percent. @param {string} name @param {unknown} value */
function shown(name, value) {
  if (value === null || value === undefined || value === '') return t('conflict.none');
  if (typeof value === 'boolean') return t(value ? 'choice.yes' : 'choice.no');
  const text = toShow(name, String(value));
  return PERCENT[name] ? `${text} %` : text;
}

/** The dialog, wherever on the page it was typed. */
export function Conflict() {
  const now = useStore(asked);
  if (!now) return null;
  const { clash, answer } = now;
  const names = Object.keys(clash.theirs);
  return (
    <Dialog title={t('conflict.title', { code: clash.of || t('conflict.this') })} onClose={() => answer(false)}>
      <p>{t('conflict.about')}</p>
      <dl class="facts">
        {names.map((name) => (
          <Value
            key={name}
            name={name}
            says={names.length > 1 ? word('setting', word('edit', name)) : ''}
            theirs={clash.theirs[name]}
            yours={saidOf(clash.yours, name)}
          />
        ))}
      </dl>
      <div class="form-actions">
        <button type="button" class="main-button" onClick={() => answer(true)}>
          {t('conflict.keep_mine')}
        </button>
        <button type="button" onClick={() => answer(false)}>
          {t('conflict.take_theirs')}
        </button>
      </div>
    </Dialog>
  );
}

/** @param {{name: string, says: string, theirs: unknown, yours: unknown}} props */
function Value({ name, says, theirs, yours }) {
  return (
    <>
      <dt>{says ? t('conflict.theirs.of', { name: says }) : t('conflict.theirs')}</dt>
      <dd class="conflict-value">{shown(name, theirs)}</dd>
      {yours !== undefined && (
        <>
          <dt>{says ? t('conflict.yours.of', { name: says }) : t('conflict.yours')}</dt>
          <dd class="conflict-value">{shown(name, yours)}</dd>
        </>
      )}
    </>
  );
}
