// SPDX-License-Identifier: MIT
// An answer of the walk is taken back: what was pulled goes back by a counter-entry, and the pick is open again.

import { useState } from 'preact/hooks';
import { Problem, newKey, send } from '../shared/net/api.js';
import { t } from '../shared/strings/text.js';
import { touch } from '../shared/net/use.js';
import { entries, post } from './box.js';
import { soundNo, soundYes } from './sound.js';
import { answerOf } from './walk.js';

/** @typedef {import('./walk.js').Answers} Answers */

const WHYS = /** @type {const} */ (['back.slip', 'back.miscounted', 'back.wrong_crate']);

/** @param {{step: import('./walk.js').Step, answers: Answers, setAnswers: (answers: Answers) => Promise<void>}} props */
export function TakeBack({ step, answers, setAnswers }) {
  const [asking, setAsking] = useState(false);
  const [refusal, setRefusal] = useState('');
  const [busy, setBusy] = useState(false);
  const done = step.picks.filter((p) => answerOf(p, answers) !== null);
  if (done.length === 0) return null;
  /** @param {string} why */
  const save = async (why) => {
    if (busy) return;
    setBusy(true);
    const next = { ...answers };
    try {
      for (const pick of done) {
        await takeBack(pick.id, why, t('back.label', { lot: step.lot, place: step.stop.place ?? '' }));
        next[pick.id] = 'taken back';
      }
      soundYes();
      setAsking(false);
      setRefusal('');
    } catch (e) {
      soundNo();
      setRefusal(e instanceof Error ? e.message : String(e));
    } finally {
      await setAnswers(next);
      setBusy(false);
      touch();
    }
  };
  if (!asking)
    return (
      <button type="button" class="thumb" onClick={() => setAsking(true)}>
        {t('back.open')}
      </button>
    );
  return (
    <div class="thumbs" role="group" aria-label={t('back.why')}>
      <p class="question">{t('back.why')}</p>
      {refusal && (
        <p class="refusal" role="alert">
          {refusal}
        </p>
      )}
      {WHYS.map((why) => (
        <button key={why} type="button" class="thumb thumb-main" disabled={busy} onClick={() => save(t(why))}>
          {t(why)}
        </button>
      ))}
      <button type="button" class="thumb" onClick={() => (setAsking(false), setRefusal(''))}>
        {t('action.cancel')}
      </button>
    </div>
  );
}

/**
 * At once when the server answers, so that its no is heard here; else it waits in the box behind the answer it takes back.
 * @param {number} pick
 * @param {string} why
 * @param {string} label
 */
export async function takeBack(pick, why, label) {
  const path = `/api/picks/${pick}/undo`;
  const key = newKey();
  if (entries.get().some((e) => e.state === 'waiting')) return post(path, { why }, label, key); // not before what it takes back
  try {
    await send('POST', path, { why }, { key });
  } catch (e) {
    if (!(e instanceof Problem) || e.status !== 0) throw e;
    await post(path, { why }, label, key);
  }
}
