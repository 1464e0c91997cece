// SPDX-License-Identifier: MIT
// Not all there: how many, why, and which slot goes without. Nothing of it is decided out of the packer's sight: the slots are
// shown before the walk moves on, and each can be given more or less, also one that was filled before.

import { useState } from 'preact/hooks';
import { t, word } from '../shared/strings/text.js';
import { Keypad } from './keypad.jsx';
import { answerOf, giveOut } from './walk.js';

/** @typedef {import('./walk.js').Step} Step */
/** @typedef {import('./walk.js').Answers} Answers */
/** @typedef {(given: Record<string, number>, reason: string, empty: boolean) => void} OnAnswer */

const REASONS = /** @satisfies {import('../contract').Some<'short_reasons'>} */ ([
  'rotten',
  'shrivelled',
  'missing',
  'mislabelled',
]);

/** @param {Record<string, number>} given */
const sum = (given) => Object.values(given).reduce((all, n) => all + n, 0);

/**
 * Slots that were ticked have their part; whatever else was found is told by the keypad.
 * @param {{step: Step, answers: Answers, most: number, ticked: Record<string, number>, onAnswer: OnAnswer, onCancel: () => void}} props
 */
export function Short({ step, answers, most, ticked, onAnswer, onCancel }) {
  const open = step.picks.filter((p) => answerOf(p, answers) === null);
  const filled = open.reduce((all, p) => all + (ticked[p.id] ?? 0), 0);
  const [taken, setTaken] = useState(String(filled));
  const [reason, setReason] = useState('');
  const [empty, setEmpty] = useState(/** @type {boolean | null} */ (null));
  const n = Number(taken);
  const first = giveOut(step.picks, answers, Math.min(n, most));
  const [own, setOwn] = useState(/** @type {Record<string, number> | null} */ (filled > 0 ? ticked : null));
  const given = own ?? first;
  const left = sum(first) - sum(given);
  const wrong = n >= most ? t('walk.short_wrong', { n: most }) : '';
  const asks =
    reason === '' ? t('walk.say_why') : reason === 'missing' && empty === null ? t('give.say_empty') : missing(left);
  return (
    <div class="short">
      <Keypad
        label={t('walk.how_many', { n: most })}
        value={taken}
        onValue={(v) => (setTaken(v), setOwn(null))}
        wrong={wrong}
      />
      <div class="reasons" role="radiogroup" aria-label={t('walk.why')}>
        {REASONS.map((r) => (
          <label key={r} class={`thumb ${reason === r ? 'thumb-chosen' : ''}`}>
            <input type="radio" name={`reason ${step.lot}`} checked={reason === r} onChange={() => setReason(r)} />{' '}
            {word('reason', r)}
          </label>
        ))}
      </div>
      {reason === 'missing' && <Empty lot={step.lot} empty={empty} onEmpty={setEmpty} />}
      {wrong === '' && <Slots step={step} answers={answers} given={given} left={left} onGive={setOwn} />}
      <div class="thumbs">
        <button
          type="button"
          class="thumb thumb-main"
          disabled={wrong !== '' || asks !== ''}
          onClick={() => onAnswer(given, reason, reason === 'missing' && empty === true)}
        >
          {asks || t('walk.took_short', { n, reason: word('reason', reason) })}
        </button>
        <button type="button" class="thumb" onClick={onCancel}>
          {t('action.cancel')}
        </button>
      </div>
    </div>
  );
}

/**
 * After the walk has moved on: the slot that went short is another one.
 * @param {{step: Step, answers: Answers, onAnswer: OnAnswer}} props
 */
export function OtherSlot({ step, answers, onAnswer }) {
  const [given, setGiven] = useState(/** @type {Record<string, number> | null} */ (null));
  const [empty, setEmpty] = useState(/** @type {boolean | null} */ (null));
  const told = step.picks.map((p) => answerOf(p, answers));
  const short = told.find((a) => a?.reason);
  if (step.open || !short?.reason || step.picks.length < 2) return null;
  const { reason } = short;
  const first = giveOut(step.picks, answers, 0);
  const now = given ?? first;
  const left = sum(first) - sum(now);
  const same = step.picks.every((p) => now[p.id] === first[p.id]);
  const asks = same ? t('give.same') : reason === 'missing' && empty === null ? t('give.say_empty') : missing(left);
  if (given === null)
    return (
      <button type="button" class="thumb" onClick={() => setGiven(first)}>
        {t('give.other')}
      </button>
    );
  return (
    <div class="short">
      <Slots step={step} answers={answers} given={now} left={left} onGive={setGiven} />
      {reason === 'missing' && <Empty lot={step.lot} empty={empty} onEmpty={setEmpty} />}
      <div class="thumbs">
        <button
          type="button"
          class="thumb thumb-main"
          disabled={asks !== ''}
          onClick={() => (onAnswer(now, reason, empty === true), setGiven(null))}
        >
          {asks || t('give.save')}
        </button>
        <button type="button" class="thumb" onClick={() => setGiven(null)}>
          {t('action.cancel')}
        </button>
      </div>
    </div>
  );
}

/** What is not in its slot yet, or too much is; '' when it fits. @param {number} left */
function missing(left) {
  if (left > 0) return t('give.left', { n: left });
  return left < 0 ? t('give.over', { n: -left }) : '';
}

/** @param {{lot: string, empty: boolean | null, onEmpty: (empty: boolean) => void}} props */
function Empty({ lot, empty, onEmpty }) {
  return (
    <div class="thumbs thumbs-row" role="radiogroup" aria-label={t('give.empty', { lot })}>
      <p class="question">{t('give.empty', { lot })}</p>
      {[true, false].map((yes) => (
        <label key={String(yes)} class={`thumb ${empty === yes ? 'thumb-chosen' : ''}`}>
          <input type="radio" name={`empty ${lot}`} checked={empty === yes} onChange={() => onEmpty(yes)} />{' '}
          {t(yes ? 'give.empty.yes' : 'give.empty.no')}
        </label>
      ))}
    </div>
  );
}

/**
 * Each slot of the step with what goes in; one more and one less by thumb.
 * @param {object} props
 * @param {Step} props.step
 * @param {Answers} props.answers
 * @param {Record<string, number>} props.given
 * @param {number} props.left to give yet
 * @param {(given: Record<string, number>) => void} props.onGive
 */
function Slots({ step, answers, given, left, onGive }) {
  if (step.picks.length < 2) return null;
  return (
    <section aria-label={t('give.slots')}>
      <p class="question">{t('give.slots')}</p>
      <ul class="give">
        {[...step.picks]
          .sort((a, b) => a.slot - b.slot)
          .map((p) => {
            const n = given[p.id] ?? 0;
            const gone = answerOf(p, answers) !== null;
            return (
              <li key={p.id} class={n < p.quantity ? 'give-short' : ''}>
                <span class="slot-number">{t('walk.slot', { slot: p.slot })}</span>
                <button
                  type="button"
                  class="key"
                  disabled={n === 0}
                  aria-label={t('give.less', { slot: p.slot })}
                  onClick={() => onGive({ ...given, [p.id]: n - 1 })}
                >
                  −
                </button>
                <b>
                  {n} / {p.quantity}
                </b>
                <button
                  type="button"
                  class="key"
                  disabled={n === p.quantity || left <= 0}
                  aria-label={t('give.more', { slot: p.slot })}
                  onClick={() => onGive({ ...given, [p.id]: n + 1 })}
                >
                  +
                </button>
                <span class="give-word">
                  {n < p.quantity ? t('give.by', { n: p.quantity - n }) : gone ? t('give.filled') : '✓'}
                </span>
              </li>
            );
          })}
      </ul>
    </section>
  );
}
