// SPDX-License-Identifier: MIT
// The board at the packing bench: a tile a slot; a scan of its slip opens it, its content is counted, or its labels are scanned, before it
// is closed.

import { useCallback, useState } from 'preact/hooks';
import { withQuery } from '../shared/net/api.js';
import { Field, Loaded, say } from '../shared/dialog.jsx';
import { hashOf } from '../shared/route.js';
import { Code } from '../shared/tag.jsx';
import { sentence } from '../shared/strings/prose.js';
import { t, word } from '../shared/strings/text.js';
import { post } from './box.js';
import { Keypad } from './keypad.jsx';
import { PutBacks } from './putback.jsx';
import { soundNo, soundYes } from './sound.js';
import { lotsOf, scanLabel, slotOf, slotsOf, takenOf } from './slots.js';
import { useAnswers, useOffline, useScanner } from './use.js';

/** The server takes no more for one parcel. */
const MOST_BOXES = 20;

/** @param {{which: string}} props */
export function ParcelsPage({ which }) {
  const waves = useOffline('/api/waves');
  return (
    <Loaded of={waves}>
      {(list) => {
        const wave = which || String(list[list.length - 1]?.wave ?? list[list.length - 1]?.id ?? '');
        return wave === '' ? (
          <p class="large-note">{t('walk.no_waves')}</p>
        ) : (
          <Parcels key={wave} wave={wave} waves={list} />
        );
      }}
    </Loaded>
  );
}

/** @param {{wave: string, waves: import('../contract').Answers['GET /api/waves']}} props */
function Parcels({ wave, waves }) {
  const detail = useOffline(`/api/waves/${encodeURIComponent(wave)}`);
  const parcels = useOffline(withQuery('/api/parcels', { wave }));
  const [answers] = useAnswers(wave);
  const [open, setOpen] = useState(/** @type {number | null} */ (null));
  const [packed, setPacked] = useState(/** @type {Record<string, boolean>} */ ({}));
  const slots = slotsOf(parcels.data ?? [], detail.data, answers ?? {}, packed);
  const slot = slots.find((s) => s.slot === open);
  if (slot)
    return (
      <Pack
        slot={slot}
        answers={answers ?? {}}
        onDone={() => {
          setPacked({ ...packed, ...Object.fromEntries(slot.parcels.map((p) => [p.id, true])) });
          setOpen(null);
        }}
        onCancel={() => setOpen(null)}
      />
    );
  return (
    <section>
      <h1>{t('parcels.title', { wave })}</h1>
      {waves.length > 1 && (
        <p class="thumbs-row">
          {waves.map((w) => (
            <a
              key={w.wave}
              class="thumb"
              aria-current={String(w.wave) === wave ? 'true' : undefined}
              href={hashOf(['cellar', 'parcels', String(w.wave)])}
            >
              {t('walk.wave', { wave: String(w.wave) })}
            </a>
          ))}
        </p>
      )}
      <PutBacks list={detail.data?.put_back} />
      <Loaded of={parcels}>{() => <Board slots={slots} onOpen={setOpen} />}</Loaded>
    </section>
  );
}

/** May it be opened and counted? @param {import('./slots.js').Slot} s */
const opens = (s) => s.state === 'complete' || s.state === 'waits';

/** @param {{slots: import('./slots.js').Slot[], onOpen: (slot: number) => void}} props */
function Board({ slots, onOpen }) {
  const scanned = useCallback(
    (/** @type {string} */ text) => {
      const found = slotOf(slots, text);
      if (found && opens(found)) return onOpen(found.slot);
      soundNo();
      say(
        found
          ? `${t('walk.slot', { slot: found.slots.join(', ') })}: ${wordsOf(found)}`
          : t('parcels.scan.none', { text }),
      );
    },
    [slots, onOpen],
  );
  useScanner(scanned);
  return (
    <ul class="parcel-list">
      {slots.map((s) => {
        const late = Math.max(...s.parcels.map((p) => p.late_weeks));
        return (
          <li key={s.slot}>
            <button
              type="button"
              class={`thumb parcel parcel-${s.state}`}
              disabled={!opens(s)}
              onClick={() => onOpen(s.slot)}
            >
              <b class="slot-number">{s.slots.join(', ')}</b>
              <span>{s.orders.map((o, i) => [i > 0 && ' + ', <span class="whole">{o}</span>])}</span>
              <span>{wordsOf(s)}</span>
              {late > 0 && <b>{t('parcels.late', { n: late })}</b>}
            </button>
          </li>
        );
      })}
    </ul>
  );
}

/** What a tile says of its slot. @param {import('./slots.js').Slot} s */
function wordsOf(s) {
  const frost = s.parcels.find((p) => p.frost)?.frost;
  if (s.state === 'held')
    return frost
      ? t('parcels.frost', { why: sentence(frost) })
      : t(s.parcels.some((p) => p.unpaid) ? 'parcels.unpaid' : 'parcels.lot_held');
  if (s.state === 'complete') return t('parcels.complete', { n: s.taken });
  if (s.state === 'waits') return t('parcels.waits', { stops: s.stops.join(', ') });
  if (s.state === 'cancelled') return t('parcels.cancelled');
  return s.state === 'empty' ? t('parcels.empty') : word('state', s.state);
}

/** @param {{slot: import('./slots.js').Slot, answers: import('./walk.js').Answers, onDone: () => void, onCancel: () => void}} props */
function Pack({ slot, answers, onDone, onCancel }) {
  const [count, setCount] = useState('0');
  // Grams of each box as typed; one that was not weighed is empty.
  const [boxes, setBoxes] = useState(['']);
  const [wrong, setWrong] = useState('');
  const [scanned, setScanned] = useState(/** @type {Record<string, number>} */ ({}));
  const lots = lotsOf(slot, answers);
  const open = slot.picks.filter((p) => takenOf(p, answers) === null).length;
  const taken = slot.taken;
  const order = slot.orders.join(' + ');
  const lies = slot.slots.join(', ');
  const first = slot.parcels.find((p) => p.state === 'open') ?? slot.parcels[0];
  /** @param {{count?: number, labels?: string[]}} by */
  const close = async (by) => {
    const [weight, ...more] = boxes.map((w) => (w ? Number(w) : undefined));
    const further = more.length > 0 ? more.map((weight_g) => ({ weight_g })) : undefined;
    await post(
      `/api/parcels/${first?.id}/pack`,
      { ...by, weight_g: weight, further },
      t('parcels.label', { slot: lies, order }),
    );
    soundYes();
    onDone();
  };
  const save = async () => {
    if (Number(count) !== taken) {
      soundNo();
      setWrong(t('parcels.wrong', { counted: Number(count), n: taken }));
      return;
    }
    await close({ count: Number(count) });
  };
  /** The last label that was missing closes the parcel. @param {string} text */
  const label = (text) => {
    if (open > 0) return soundNo();
    const now = scanLabel(lots, scanned, text);
    setScanned(now.scanned);
    setWrong(
      now.wrong ? t(now.wrong.why === 'not_in' ? 'parcels.not_in' : 'parcels.too_many', { lot: now.wrong.lot }) : '',
    );
    if (now.wrong) soundNo();
    else if (now.full) void close({ labels: lots.flatMap((l) => Array(l.taken).fill(l.lot)) });
    return undefined;
  };
  useScanner(label);
  return (
    <section class="entry">
      <h1>{t('parcels.slot', { slot: lies, order })}</h1>
      <ul class="rows">
        {lots.map((l) => (
          <li key={l.lot}>
            <b>{l.taken}</b> × <Code code={l.variety} /> {l.name} <span class="quiet">{l.lot}</span>{' '}
            {scanned[l.lot] ? <b>{t('parcels.scanned', { n: scanned[l.lot] ?? 0, all: l.taken })}</b> : null}
          </li>
        ))}
      </ul>
      {open > 0 && <p class="note">{t('parcels.open', { n: open })}</p>}
      <Keypad
        label={t('parcels.count')}
        value={count}
        wrong={wrong}
        onValue={(v) => (setCount(v), setWrong(''))}
        onEnter={save}
      />
      {boxes.map((weight, i) => (
        <Field key={i} label={boxes.length > 1 ? t('parcels.weight_of', { box: i + 1 }) : t('parcels.weight')}>
          <input
            class="large-field"
            inputMode="numeric"
            value={weight}
            onInput={(e) => setBoxes(boxes.with(i, e.currentTarget.value.replace(/\D/g, '')))}
          />
        </Field>
      ))}
      <div class="thumbs-row">
        <button
          type="button"
          class="thumb"
          disabled={boxes.length >= MOST_BOXES}
          onClick={() => setBoxes([...boxes, ''])}
        >
          {t('parcels.box_more')}
        </button>
        {boxes.length > 1 && (
          <button type="button" class="thumb" onClick={() => setBoxes(boxes.slice(0, -1))}>
            {t('parcels.box_fewer')}
          </button>
        )}
      </div>
      <div class="thumbs">
        <button type="button" class="thumb thumb-main" disabled={open > 0} onClick={save}>
          {t('parcels.close')}
        </button>
        <button type="button" class="thumb" onClick={onCancel}>
          {t('action.cancel')}
        </button>
      </div>
    </section>
  );
}
