// SPDX-License-Identifier: MIT
// Parcels on their way out: which are packed, which have left and with what tracking number; each can be opened again.

import { useState } from 'preact/hooks';
import { newKey, send, withQuery } from '../shared/api.js';
import { Dialog, Field, Form, Loaded, ReasonDialog, say, sayError } from '../shared/dialog.jsx';
import { hashOf } from '../shared/route.js';
import { useSearch } from '../shared/search.jsx';
import { rights, useSeason } from '../shared/season.jsx';
import { t, word } from '../shared/text.js';
import { touch, useKept, useResource } from '../shared/use.js';

/** @typedef {{id: number, wave?: number, order?: string, slot: number, state: string, customer?: string | null, quantity?: number, taken?: number, open?: number, carrier?: string | null, tracking?: string | null, shipped_on?: string | null}} Parcel */

/** More rows than this are found by the search above them. */
const MOST_SHOWN = 200;

export function OutgoingPage() {
  const { session } = useSeason();
  const [state, setState] = useState('packed');
  const [carrier, setCarrier] = useKept('carrier', '');
  const parcels = useResource(withQuery('/api/parcels', { state }), { keep: true });
  return (
    <>
      <div class="page-head">
        <h1 class="page-title">{t('out.title')}</h1>
        <div class="choice" role="group" aria-label={t('out.which')}>
          {['open', 'packed', 'shipped'].map((s) => (
            <button key={s} type="button" aria-pressed={state === s} onClick={() => setState(s)}>
              {word('state', s)}
            </button>
          ))}
        </div>
        {state === 'packed' && rights(session).office && (
          <label>
            {t('out.carrier')} <input value={carrier} onInput={(e) => setCarrier(e.currentTarget.value)} />
          </label>
        )}
      </div>
      {state === 'packed' && <p class="quiet">{t('out.hint')}</p>}
      <Loaded of={parcels}>{(list) => <Rows list={list} carrier={carrier} />}</Loaded>
    </>
  );
}

/** @param {{list: Parcel[], carrier: string}} props */
function Rows({ list, carrier }) {
  const { format, session } = useSeason();
  const may = rights(session).office;
  const { found, field } = useSearch(list, (p) => [p.order, p.customer, p.tracking, p.carrier, p.wave], t('out.find'));
  return (
    <section class="sheet" aria-label={t('out.title')}>
      {list.length > 0 && field}
      {list.length === 0 && <p class="quiet">{t('out.none')}</p>}
      <ul class="rows">
        {found.slice(0, MOST_SHOWN).map((p) => (
          <li key={p.id} class="parcel-row">
            <a class="figure" href={hashOf(['orders', 'order', p.order ?? ''])}>
              {p.order}
            </a>
            <span class="parcel-words">
              {p.customer || '–'}{' '}
              <span class="quiet">
                {t('out.of', { wave: String(p.wave), slot: p.slot })} · {t('out.divisions', { n: p.taken ?? 0, all: p.quantity ?? 0 })}
              </span>
            </span>
            {p.state === 'shipped' ? <span>{[p.shipped_on ? format.day(p.shipped_on) : '', p.carrier, p.tracking].filter(Boolean).join(' · ')}</span> : null}
            {may && p.state === 'packed' && <QuickShip parcel={p} carrier={carrier} />}
            {may && <ParcelActions parcel={p} ship={false} />}
          </li>
        ))}
      </ul>
      {found.length > MOST_SHOWN && <p class="quiet">{t('weeks.more', { n: found.length - MOST_SHOWN })}</p>}
    </section>
  );
}

/** The tracking number is typed or scanned, Enter says that the parcel has left. @param {{parcel: Parcel, carrier: string}} props */
function QuickShip({ parcel, carrier }) {
  const [tracking, setTracking] = useState('');
  const [key] = useState(newKey);
  const [busy, setBusy] = useState(false);
  /** @param {Event & {currentTarget: HTMLFormElement}} event */
  const save = async (event) => {
    event.preventDefault();
    if (busy) return;
    setBusy(true);
    const row = event.currentTarget.closest('li');
    const next = row?.nextElementSibling?.querySelector('input');
    try {
      await shipped(parcel, { carrier, tracking }, key);
      if (next instanceof HTMLInputElement) next.focus();
    } catch (e) {
      sayError(e);
    } finally {
      setBusy(false);
    }
  };
  return (
    <form class="parcel-ship" onSubmit={save}>
      <input aria-label={t('out.tracking.of', { order: parcel.order ?? '' })} placeholder={t('out.tracking')} autoComplete="off" value={tracking} onInput={(e) => setTracking(e.currentTarget.value)} />
      <button type="submit" disabled={busy} aria-label={t('out.ship.of', { order: parcel.order ?? '' })}>
        {t('out.ship')}
      </button>
    </form>
  );
}

/** @param {Parcel} parcel @param {{carrier?: string, tracking?: string, on?: string}} with_ @param {string} key */
async function shipped(parcel, with_, key) {
  const done = await send('POST', `/api/parcels/${parcel.id}/ship`, { carrier: with_.carrier?.trim() || undefined, tracking: with_.tracking?.trim() || undefined, shipped_on: with_.on || undefined }, { key });
  say(done?.rest > 0 ? t('out.left.rest', { n: done.rest }) : t('out.left'));
  touch();
}

/**
 * What may be done about one parcel, by its state.
 * @param {{parcel: Parcel, ship?: boolean}} props
 */
export function ParcelActions({ parcel, ship = true }) {
  const [doing, setDoing] = useState(/** @type {'' | 'ship' | 'unpack' | 'off'} */ (''));
  const [key, setKey] = useState(newKey);
  const close = () => {
    setDoing('');
    setKey(newKey());
  };
  /** @param {string} step @param {string} done */
  const reasoned = (step, done) => async (/** @type {string} */ why) => {
    await send('POST', `/api/parcels/${parcel.id}/${step}`, { why }, { key });
    say(done);
    touch();
  };
  return (
    <span class="parcel-acts">
      {parcel.state === 'packed' && ship && (
        <button type="button" onClick={() => setDoing('ship')}>
          {t('out.ship')}
        </button>
      )}
      {parcel.state === 'packed' && (
        <button type="button" class="link-button" onClick={() => setDoing('unpack')}>
          {t('out.unpack')}
        </button>
      )}
      {parcel.state === 'open' && (
        <button type="button" class="link-button" onClick={() => setDoing('off')}>
          {t('out.off')}
        </button>
      )}
      {doing === 'ship' && <ShipDialog parcel={parcel} idempotency={key} onClose={close} />}
      {doing === 'unpack' && <ReasonDialog title={t('out.unpack.title', { slot: parcel.slot })} about={t('out.unpack.about')} save={t('out.unpack')} onSave={reasoned('unpack', t('out.unpacked'))} onClose={close} />}
      {doing === 'off' && <ReasonDialog title={t('out.off.title', { slot: parcel.slot })} about={t('out.off.about')} save={t('out.off')} onSave={reasoned('take-off', t('out.taken_off'))} onClose={close} />}
    </span>
  );
}

/** @param {{parcel: Parcel, idempotency: string, onClose: () => void}} props */
function ShipDialog({ parcel, idempotency, onClose }) {
  const { nursery } = useSeason();
  const [carrier, setCarrier] = useKept('carrier', '');
  const [tracking, setTracking] = useState('');
  const [on, setOn] = useState(nursery.today);
  return (
    <Dialog title={t('out.ship.title', { slot: parcel.slot })} onClose={onClose}>
      <Form
        save={t('out.ship')}
        onCancel={onClose}
        onSave={async () => {
          await shipped(parcel, { carrier, tracking, on }, idempotency);
          onClose();
        }}
      >
        <Field label={t('out.carrier')}>
          <input value={carrier} onInput={(e) => setCarrier(e.currentTarget.value)} />
        </Field>
        <Field label={t('out.tracking')}>
          <input autoComplete="off" value={tracking} onInput={(e) => setTracking(e.currentTarget.value)} />
        </Field>
        <Field label={t('out.on')}>
          <input type="date" required value={on} onInput={(e) => setOn(e.currentTarget.value)} />
        </Field>
      </Form>
    </Dialog>
  );
}
