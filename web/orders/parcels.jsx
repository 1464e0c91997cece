// SPDX-License-Identifier: MIT
// Parcels on their way out: which are packed, which have left and with what tracking number; each can be opened again.

import { useEffect, useState } from 'preact/hooks';
import { Problem, newKey, send, withQuery } from '../shared/net/api.js';
import { Dialog, Field, Form, Loaded, ReasonDialog, say, sayError } from '../shared/dialog.jsx';
import { hashOf } from '../shared/route.js';
import { sentence } from '../shared/strings/prose.js';
import { listen } from '../shared/scanner.js';
import { useSearch } from '../shared/search.jsx';
import { rights, useSeason } from '../shared/season.jsx';
import { t, word } from '../shared/strings/text.js';
import { touch, useKept, useResource } from '../shared/net/use.js';
import { ParcelClaimDialog } from './claims.jsx';

/**
 * @typedef {object} Parcel
 * @property {number} id
 * @property {number} [wave]
 * @property {string} [order]
 * @property {number} slot
 * @property {string} state
 * @property {string | null} [customer]
 * @property {number} [quantity]
 * @property {number} [taken]
 * @property {number} [open]
 * @property {string | null} [carrier]
 * @property {string | null} [tracking]
 * @property {string | null} [more_tracking]
 * @property {number} [boxes]
 * @property {string | null} [shipped_on]
 * @property {boolean} [unpaid]
 * @property {boolean} [corrected]
 */

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
          {
            /** @satisfies {import('../contract').Some<'parcel_states'>} */ (['open', 'packed', 'shipped']).map((s) => (
              <button key={s} type="button" aria-pressed={state === s} onClick={() => setState(s)}>
                {word('state', s)}
              </button>
            ))
          }
        </div>
        {state === 'packed' && rights(session).office && (
          <label>
            {t('out.carrier')} <input value={carrier} onInput={(e) => setCarrier(e.currentTarget.value)} />
          </label>
        )}
      </div>
      {state === 'packed' && <p class="quiet">{t('out.hint')}</p>}
      {state === 'packed' && rights(session).office && (
        <p class="spaced">
          <a href={hashOf(['orders', 'load'])}>{t('out.by_file')}</a>
        </p>
      )}
      <Loaded of={parcels}>{(list) => <Rows list={list} carrier={carrier} />}</Loaded>
    </>
  );
}

/** @param {{list: Parcel[], carrier: string}} props */
function Rows({ list, carrier }) {
  const { format, session } = useSeason();
  const may = rights(session).office;
  const { found, field } = useSearch(
    list,
    (p) => [p.order, p.customer, p.tracking, p.more_tracking, p.carrier, p.wave],
    t('out.find'),
  );
  useParcelScan(list, may);
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
                {t('out.of', { wave: String(p.wave), slot: p.slot })} ·{' '}
                {t('out.divisions', { n: p.taken ?? 0, all: p.quantity ?? 0 })}
              </span>
            </span>
            {p.state === 'shipped' ? (
              <span>
                {[p.shipped_on ? format.day(p.shipped_on) : '', p.carrier, p.tracking, p.more_tracking]
                  .filter(Boolean)
                  .join(' · ')}
              </span>
            ) : null}
            {p.unpaid && <b class="late">{t('out.unpaid')}</b>}
            {p.corrected && <b class="late">{t('out.corrected_since')}</b>}
            {may && p.state === 'packed' && !p.unpaid && <QuickShip parcel={p} carrier={carrier} />}
            {may && <ParcelActions parcel={p} ship={false} />}
          </li>
        ))}
      </ul>
      {found.length > MOST_SHOWN && <p class="quiet">{t('weeks.more', { n: found.length - MOST_SHOWN })}</p>}
    </section>
  );
}

/**
 * A scanner: first the parcel (its slip), then the number, whatever has the focus. A number without a parcel before it is refused.
 * @param {Parcel[]} list
 * @param {boolean} may
 */
function useParcelScan(list, may) {
  useEffect(() => {
    if (!may || !list.some((p) => p.state === 'packed')) return undefined;
    return listen(window, (text) => {
      const scanned = text.trim();
      // Of several boxes, the first that has no number yet.
      const field = (/** @type {Parcel} */ p) => {
        const all = /** @type {HTMLInputElement[]} */ ([...document.querySelectorAll(`input[data-parcel="${p.id}"]`)]);
        return all.find((i) => i.value === '') ?? all[0] ?? null;
      };
      const parcel = list.find(
        (p) =>
          p.state === 'packed' &&
          [`P${p.id}`, p.order ?? ''].some((code) => code.toUpperCase() === scanned.toUpperCase()),
      );
      if (parcel) {
        const its = field(parcel);
        its?.focus();
        its?.scrollIntoView({ block: 'center' });
        if (its === null) say(t('out.scan.hidden', { order: parcel.order ?? '' }));
        return;
      }
      const at = document.activeElement;
      if (!(at instanceof HTMLInputElement) || !at.dataset.parcel) {
        say(t('out.scan.first', { text: scanned }));
        return;
      }
      at.value += scanned; // what came too slowly to count as scanned stands there already
      at.dispatchEvent(new Event('input', { bubbles: true }));
      // After the field has been read.
      setTimeout(() => at.form?.requestSubmit(), 0);
    });
  }, [list, may]);
}

/** Why the server does not take it: another order's parcel left under the number; '' for any other error. @param {unknown} e */
const twiceOf = (e) =>
  sentence((e instanceof Problem && e.status === 409 && e.errors.find((f) => f.column === 'tracking')?.detail) || '');

/** The server takes no more boxes for one parcel. */
const MOST_BOXES = 20;

/**
 * The tracking number of each box is typed or scanned, Enter goes on to the next one, and the last says that the parcel has left. Without
 * a number, or under one that another order has, it is asked first.
 * @param {{parcel: Parcel, carrier: string}} props
 */
function QuickShip({ parcel, carrier }) {
  const boxes = parcel.boxes ?? 1;
  const [numbers, setNumbers] = useState(/** @type {string[]} */ (Array(boxes).fill('')));
  useEffect(() => {
    if (numbers.length < boxes) setNumbers([...numbers, ...Array(boxes - numbers.length).fill('')]);
  }, [boxes]);
  const [key] = useState(newKey);
  const [busy, setBusy] = useState(false);
  const [asks, setAsks] = useState(/** @type {{text: string, yes: string, shared: boolean} | null} */ (null));
  /** @param {HTMLElement} from @param {boolean} shared */
  const save = async (from, shared) => {
    if (busy) return;
    setBusy(true);
    const next = from.closest('li')?.nextElementSibling?.querySelector('input');
    const [tracking = '', ...more] = numbers.filter((n) => n.trim() !== '');
    try {
      await shipped(parcel, { carrier, tracking, more: more.join(', '), shared }, key);
      // Whoever went on to another parcel meanwhile stays there.
      if (next instanceof HTMLInputElement && from.contains(document.activeElement)) next.focus();
    } catch (e) {
      const twice = twiceOf(e);
      if (twice) setAsks({ text: twice, yes: t('out.shared'), shared: true });
      else sayError(e);
    } finally {
      setBusy(false);
    }
  };
  /** @param {Event & {currentTarget: HTMLFormElement}} event */
  const submit = (event) => {
    event.preventDefault();
    const fields = [...event.currentTarget.querySelectorAll('input')];
    const lacks = fields.find((f) => f.value.trim() === '');
    if (!lacks) void save(event.currentTarget, false);
    else if (document.activeElement !== lacks && fields.some((f) => f.value.trim() !== '')) lacks.focus();
    else
      setAsks({
        text: boxes > 1 ? t('out.no_number.box', { box: fields.indexOf(lacks) + 1 }) : t('out.no_number'),
        yes: t('out.without'),
        shared: false,
      });
  };
  return (
    <form class="parcel-ship" onSubmit={submit}>
      {numbers.map((number, i) => (
        <input
          key={i}
          data-parcel={parcel.id}
          aria-label={
            numbers.length > 1
              ? t('out.tracking.box', { order: parcel.order ?? '', box: i + 1 })
              : t('out.tracking.of', { order: parcel.order ?? '' })
          }
          placeholder={numbers.length > 1 ? t('out.box', { box: i + 1 }) : t('out.tracking')}
          autoComplete="off"
          value={number}
          onInput={(e) => (setNumbers(numbers.with(i, e.currentTarget.value)), setAsks(null))}
        />
      ))}
      <button
        type="button"
        class="link-button"
        disabled={numbers.length >= MOST_BOXES}
        aria-label={t('out.box_more.of', { order: parcel.order ?? '' })}
        onClick={() => setNumbers([...numbers, ''])}
      >
        {t('out.box_more')}
      </button>
      <button type="submit" disabled={busy} aria-label={t('out.ship.of', { order: parcel.order ?? '' })}>
        {t('out.ship')}
      </button>
      {asks && (
        <p class="wrong parcel-asks" role="alert">
          {asks.text}{' '}
          <button type="button" disabled={busy} onClick={(e) => save(e.currentTarget, asks.shared)}>
            {asks.yes}
          </button>
        </p>
      )}
    </form>
  );
}

/**
 * @param {Parcel} parcel
 * @param {{carrier?: string, tracking?: string, more?: string, on?: string, shared?: boolean}} with_
 * @param {string} key
 */
async function shipped(parcel, with_, key) {
  const done = await send(
    'POST',
    `/api/parcels/${parcel.id}/ship`,
    {
      carrier: with_.carrier?.trim() || undefined,
      tracking: with_.tracking?.trim() || undefined,
      more_tracking: with_.more?.trim() || undefined,
      shared: with_.shared || undefined,
      shipped_on: with_.on || undefined,
    },
    { key },
  );
  say(done?.rest > 0 ? t('out.left.rest', { n: done.rest }) : t('out.left'));
  touch();
}

/** How a parcel left, as the server says it. @param {Parcel} parcel */
const sentAs = (parcel) => ({
  carrier: parcel.carrier ?? null,
  tracking: parcel.tracking ?? null,
  more_tracking: parcel.more_tracking ?? null,
  shipped_on: parcel.shipped_on ?? null,
});

/**
 * What may be done about one parcel, by its state.
 * @param {{parcel: Parcel, ship?: boolean}} props
 */
export function ParcelActions({ parcel, ship = true }) {
  const [doing, setDoing] = useState(
    /** @type {'' | 'ship' | 'unpack' | 'off' | 'correct' | 'unship' | 'claim'} */ (''),
  );
  const [key, setKey] = useState(newKey);
  const [began, setBegan] = useState(parcel);
  const close = () => {
    setDoing('');
    setKey(newKey());
  };
  /** @param {string} step @param {string} done */
  const reasoned = (step, done) => async (/** @type {string} */ why) => {
    const base = step === 'unship' ? sentAs(began) : undefined;
    await send(
      'POST',
      `/api/parcels/${parcel.id}/${step}`,
      { why },
      { key, base, of: t('out.parcel_of', { slot: parcel.slot }) },
    );
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
      {parcel.state === 'shipped' && (
        <>
          <button type="button" class="link-button" onClick={() => setDoing('correct')}>
            {t('out.correct')}
          </button>
          <button type="button" class="link-button" onClick={() => (setBegan(parcel), setDoing('unship'))}>
            {t('out.unship')}
          </button>
          <button type="button" class="link-button" onClick={() => setDoing('claim')}>
            {t('claims.parcel')}
          </button>
        </>
      )}
      {(doing === 'ship' || doing === 'correct') && (
        <SentDialog parcel={parcel} left={doing === 'correct'} idempotency={key} onClose={close} />
      )}
      {doing === 'claim' && <ParcelClaimDialog parcel={parcel.id} slot={parcel.slot} onClose={close} />}
      {doing === 'unship' && (
        <ReasonDialog
          title={t('out.unship.title', { slot: parcel.slot })}
          about={t('out.unship.about')}
          save={t('out.unship')}
          onSave={reasoned('unship', t('out.unshipped'))}
          onClose={close}
        />
      )}
      {doing === 'unpack' && (
        <ReasonDialog
          title={t('out.unpack.title', { slot: parcel.slot })}
          about={t('out.unpack.about')}
          save={t('out.unpack')}
          onSave={reasoned('unpack', t('out.unpacked'))}
          onClose={close}
        />
      )}
      {doing === 'off' && (
        <ReasonDialog
          title={t('out.off.title', { slot: parcel.slot })}
          about={t('out.off.about')}
          save={t('out.off')}
          onSave={reasoned('take-off', t('out.taken_off'))}
          onClose={close}
        />
      )}
    </span>
  );
}

/**
 * How it left: said the first time, or put right afterwards with the reason.
 * @param {{parcel: Parcel, left: boolean, idempotency: string, onClose: () => void}} props
 */
function SentDialog({ parcel, left, idempotency, onClose }) {
  const { nursery } = useSeason();
  const [usual, setUsual] = useKept('carrier', '');
  const [carrier, setCarrier] = useState(left ? (parcel.carrier ?? '') : usual);
  const [tracking, setTracking] = useState(parcel.tracking ?? '');
  const [more, setMore] = useState(parcel.more_tracking ?? '');
  const [began] = useState(parcel);
  const [on, setOn] = useState(left ? (parcel.shipped_on ?? '') : nursery.today);
  const [without, setWithout] = useState(left && !parcel.tracking);
  const [twice, setTwice] = useState(false);
  const [shared, setShared] = useState(false);
  const [why, setWhy] = useState('');
  const none = tracking.trim() === '';
  const save = async () => {
    try {
      if (left) {
        await send(
          'POST',
          `/api/parcels/${parcel.id}/correct`,
          {
            carrier: carrier.trim(),
            tracking: tracking.trim(),
            more_tracking: more.trim(),
            shared: shared || undefined,
            shipped_on: on,
            why: why.trim(),
          },
          { key: idempotency, of: t('out.parcel_of', { slot: parcel.slot }), base: sentAs(began) },
        );
        say(t('out.corrected'));
        touch();
      } else {
        setUsual(carrier);
        await shipped(parcel, { carrier, tracking, more, on, shared }, idempotency);
      }
    } catch (e) {
      const why = twiceOf(e);
      setTwice(why !== '');
      throw why ? new Error(why) : e;
    }
    onClose();
  };
  return (
    <Dialog title={t(left ? 'out.correct.title' : 'out.ship.title', { slot: parcel.slot })} onClose={onClose}>
      <Form save={t(left ? 'out.correct.save' : 'out.ship')} onCancel={onClose} onSave={save}>
        <Field label={t('out.carrier')}>
          <input value={carrier} onInput={(e) => setCarrier(e.currentTarget.value)} />
        </Field>
        <Field label={t('out.tracking')}>
          <input
            autoComplete="off"
            required={!without}
            value={tracking}
            onInput={(e) => (setTracking(e.currentTarget.value), setTwice(false), setShared(false))}
          />
        </Field>
        <Field label={t('out.more')}>
          <input
            autoComplete="off"
            value={more}
            onInput={(e) => (setMore(e.currentTarget.value), setTwice(false), setShared(false))}
          />
        </Field>
        {none && (
          <label class="check">
            <input type="checkbox" checked={without} onChange={(e) => setWithout(e.currentTarget.checked)} />{' '}
            {t('out.without')}
          </label>
        )}
        {twice && (
          <label class="check">
            <input type="checkbox" checked={shared} onChange={(e) => setShared(e.currentTarget.checked)} />{' '}
            {t('out.shared')}
          </label>
        )}
        <Field label={t('out.on')}>
          <input type="date" required value={on} onInput={(e) => setOn(e.currentTarget.value)} />
        </Field>
        {left && (
          <Field label={t('action.why')}>
            <textarea rows={2} required value={why} onInput={(e) => setWhy(e.currentTarget.value)} />
          </Field>
        )}
      </Form>
    </Dialog>
  );
}
