// SPDX-License-Identifier: MIT
// What this device has not handed over yet, whose it is, and what the server said no to.

import { useState } from 'preact/hooks';
import { signedIn } from '../shared/net/api.js';
import { Dialog, Form } from '../shared/dialog.jsx';
import { ownerOf } from '../shared/net/outbox.js';
import { hashOf } from '../shared/route.js';
import { useSeason } from '../shared/season.jsx';
import { t } from '../shared/strings/text.js';
import { contact, useStore } from '../shared/net/use.js';
import { box, entries, handOver, wantsSignIn } from './box.js';

/** @typedef {import('./box.js').Entry} Entry */

/** Whoever entered something before there were sign-ins. */
const UNNAMED = ['', 'local'];

/** @param {string} owner */
const nameOf = (owner) => (UNNAMED.includes(owner) ? t('waiting.unnamed') : owner);

/** Whose entries, in the order of their first ones. @param {Entry[]} list @returns {[string, Entry[]][]} */
function byOwner(list) {
  /** @type {Map<string, Entry[]>} */
  const owners = new Map();
  for (const e of list) owners.set(ownerOf(e), [...(owners.get(ownerOf(e)) ?? []), e]);
  return [...owners];
}

/** On every screen of the cellar: something that was entered did not go through, and its author has not read it yet. */
export function Told() {
  const told = useStore(entries).filter((e) => e.state !== 'waiting' && ownerOf(e) === signedIn());
  const last = told[told.length - 1];
  if (!last) return null;
  // Several at once, as after a stop that two worked at, are one message: the list tells each.
  if (told.length > 1)
    return (
      <p class="refusal" role="alert">
        <b>{t('waiting.told_many', { n: told.length })}</b> {last.label}{' '}
        <a class="link-button" href={hashOf(['cellar', 'waiting'])}>
          {t('waiting.to')}
        </a>
      </p>
    );
  return (
    <p class="refusal" role="alert">
      <b>{last.state === 'clash' ? t('waiting.clash') : t('waiting.refused')}</b> {last.label} {last.detail}{' '}
      <a class="link-button" href={hashOf(['cellar', 'waiting'])}>
        {t('waiting.to')}
      </a>
    </p>
  );
}

/** Before anybody has signed in: whose entries this device still keeps. */
export function WhoseWait() {
  const owners = byOwner(useStore(entries));
  if (owners.length === 0) return null;
  return (
    <section class="note whose-wait" aria-label={t('waiting.whose')}>
      {owners.map(([owner, list]) => (
        <p key={owner}>
          <b>{t('waiting.of', { n: list.length, name: nameOf(owner) })}</b>
        </p>
      ))}
      <p>{t('waiting.whose.how')}</p>
    </section>
  );
}

/** What waits for somebody who is not signed in here. @param {{owner: string, list: Entry[]}} props */
function Others({ owner, list }) {
  const { format, session } = useSeason();
  const [asking, setAsking] = useState(false);
  const me = session.name ?? '';
  return (
    <section class="others" aria-label={t('waiting.of', { n: list.length, name: nameOf(owner) })}>
      <h2>{t('waiting.of', { n: list.length, name: nameOf(owner) })}</h2>
      <p>{UNNAMED.includes(owner) ? t('waiting.unnamed.how') : t('waiting.of.how', { name: owner })}</p>
      <ul class="rows">
        {list.map((e) => (
          <li key={e.key}>
            <span class="quiet">{format.instant(e.at)}</span> {e.label}
          </li>
        ))}
      </ul>
      <button type="button" class="thumb" onClick={() => setAsking(true)}>
        {t('waiting.take', { n: list.length })}
      </button>
      {asking && (
        <Dialog
          title={t('waiting.take.title', { n: list.length, name: nameOf(owner) })}
          onClose={() => setAsking(false)}
        >
          <Form
            save={t('waiting.take.save', { me })}
            onCancel={() => setAsking(false)}
            onSave={async () => {
              await (await box()).takeOver(owner);
              setAsking(false);
              void handOver();
            }}
          >
            <p>{t('waiting.take.about', { name: nameOf(owner), me })}</p>
          </Form>
        </Dialog>
      )}
    </section>
  );
}

export function WaitingPage() {
  const { format } = useSeason();
  const list = useStore(entries);
  const up = useStore(contact);
  const signIn = useStore(wantsSignIn);
  const me = signedIn();
  const waiting = list.filter((e) => e.state === 'waiting' && ownerOf(e) === me);
  const told = list.filter((e) => e.state !== 'waiting' && ownerOf(e) === me);
  const others = byOwner(list.filter((e) => ownerOf(e) !== me));
  return (
    <section class="entry">
      <h1>{t('cellar.waiting')}</h1>
      <p class="large-note" role="status">
        {signIn ? t('waiting.sign_in') : up ? t('cellar.up') : t('cellar.down')}{' '}
        {waiting.length === 0
          ? t(others.length > 0 ? 'waiting.none_own' : 'cellar.waiting.none')
          : t('waiting.count', { n: waiting.length })}
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
      {others.map(([owner, rows]) => (
        <Others key={owner} owner={owner} list={rows} />
      ))}
    </section>
  );
}
