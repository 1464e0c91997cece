// SPDX-License-Identifier: MIT
// Packing: a parcel's content is counted against its list before it is closed.

import { useState } from 'preact/hooks';
import { withQuery } from '../shared/net/api.js';
import { Field, Loaded } from '../shared/dialog.jsx';
import { hashOf } from '../shared/route.js';
import { Code } from '../shared/tag.jsx';
import { t, word } from '../shared/strings/text.js';
import { post } from './box.js';
import { Keypad } from './keypad.jsx';
import { PutBacks } from './putback.jsx';
import { soundNo, soundYes } from './sound.js';
import { useAnswers, useOffline } from './use.js';
import { answerOf } from './walk.js';

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
  const [open, setOpen] = useState(/** @type {import('../contract').Row<'GET /api/parcels'> | null} */ (null));
  const [packed, setPacked] = useState(/** @type {Record<string, boolean>} */ ({}));
  if (open)
    return (
      <Pack
        parcel={open}
        answers={answers ?? {}}
        picks={(detail.data?.stops ?? [])
          .flatMap((/** @type {any} */ s) => s.picks)
          .filter((/** @type {any} */ p) => p.slot === open.slot)}
        onDone={() => {
          setPacked({ ...packed, [open.id]: true });
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
      <Loaded of={parcels}>
        {(list) => (
          <ul class="parcel-list">
            {list.map((/** @type {any} */ p) => (
              <li key={p.id}>
                <button
                  type="button"
                  class="thumb parcel"
                  disabled={p.state !== 'open' || packed[p.id] || p.frost || p.unpaid}
                  onClick={() => setOpen(p)}
                >
                  <b class="slot-number">{p.slot}</b>
                  <span>{p.order}</span>
                  <span>
                    {p.frost
                      ? t('parcels.frost', { why: p.frost })
                      : p.unpaid
                        ? t('parcels.unpaid')
                        : word('state', packed[p.id] ? 'packed' : p.state)}
                  </span>
                  {p.late_weeks > 0 && <b>{t('parcels.late', { n: p.late_weeks })}</b>}
                </button>
              </li>
            ))}
          </ul>
        )}
      </Loaded>
    </section>
  );
}

/** @param {{parcel: import('../contract').Row<'GET /api/parcels'>, answers: import('./walk.js').Answers, picks: import('../contract').Answers['GET /api/waves/{wave}']['stops'][number]['picks'], onDone: () => void, onCancel: () => void}} props */
function Pack({ parcel, answers, picks, onDone, onCancel }) {
  const [count, setCount] = useState('0');
  const [weight, setWeight] = useState('');
  const takenOf = (
    /** @type {import('../contract').Answers['GET /api/waves/{wave}']['stops'][number]['picks'][number]} */ p,
  ) => answerOf(p, answers)?.taken ?? null;
  const open = picks.filter((p) => takenOf(p) === null).length;
  const taken = picks.reduce((sum, p) => sum + (takenOf(p) ?? 0), 0);
  const [wrong, setWrong] = useState('');
  const save = async () => {
    if (Number(count) !== taken) {
      soundNo();
      setWrong(t('parcels.wrong', { counted: Number(count), n: taken }));
      return;
    }
    await post(
      `/api/parcels/${parcel.id}/pack`,
      { count: Number(count), weight_g: weight ? Number(weight) : undefined },
      t('parcels.label', { slot: parcel.slot, order: parcel.order }),
    );
    soundYes();
    onDone();
  };
  return (
    <section class="entry">
      <h1>{t('parcels.slot', { slot: parcel.slot, order: parcel.order })}</h1>
      <ul class="rows">
        {picks.map((p) => (
          <li key={p.id}>
            <b>{takenOf(p) ?? '–'}</b> × <Code code={p.variety} /> {p.name} <span class="quiet">{p.lot}</span>
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
      <Field label={t('parcels.weight')}>
        <input
          class="large-field"
          inputMode="numeric"
          value={weight}
          onInput={(e) => setWeight(e.currentTarget.value.replace(/\D/g, ''))}
        />
      </Field>
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
