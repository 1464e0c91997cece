// SPDX-License-Identifier: MIT
// What this device has not handed over yet, and what the server said no to.

import { hashOf } from '../shared/route.js';
import { useSeason } from '../shared/season.jsx';
import { t } from '../shared/text.js';
import { contact, useStore } from '../shared/use.js';
import { box, entries, handOver, wantsSignIn } from './box.js';

/** On every screen of the cellar: something that was entered did not go through, and nobody has read it yet. */
export function Told() {
  const told = useStore(entries).filter((e) => e.state !== 'waiting');
  const last = told[told.length - 1];
  if (!last) return null;
  return (
    <p class="refusal" role="alert">
      <b>{last.state === 'clash' ? t('waiting.clash') : t('waiting.refused')}</b> {last.label} {last.detail}{' '}
      <a class="link-button" href={hashOf(['cellar', 'waiting'])}>
        {t('waiting.to')}
      </a>
    </p>
  );
}

export function WaitingPage() {
  const { format } = useSeason();
  const list = useStore(entries);
  const up = useStore(contact);
  const signIn = useStore(wantsSignIn);
  const waiting = list.filter((e) => e.state === 'waiting');
  const told = list.filter((e) => e.state !== 'waiting');
  return (
    <section class="entry">
      <h1>{t('cellar.waiting')}</h1>
      <p class="large-note" role="status">
        {signIn ? t('waiting.sign_in') : up ? t('cellar.up') : t('cellar.down')} {waiting.length === 0 ? t('cellar.waiting.none') : t('waiting.count', { n: waiting.length })}
      </p>
      {told.length > 0 && (
        <>
          <h2>{t('waiting.told')}</h2>
          <ul class="rows">
            {told.map((e) => (
              <li key={e.key} class="refusal">
                <b>{e.state === 'clash' ? t('waiting.clash') : t('waiting.refused')}</b>
                <p>{e.label}</p>
                <p>{e.detail}</p>
                <button type="button" class="thumb" onClick={() => void box().then((b) => b.drop(e.key))}>
                  {t('waiting.read')}
                </button>
              </li>
            ))}
          </ul>
        </>
      )}
      <ul class="rows">
        {waiting.map((e) => (
          <li key={e.key}>
            <span class="quiet">{format.instant(e.at)}</span> {e.label}
          </li>
        ))}
      </ul>
      {waiting.length > 0 && (
        <button type="button" class="thumb thumb-main" onClick={() => void handOver()}>
          {t('waiting.now')}
        </button>
      )}
    </section>
  );
}
