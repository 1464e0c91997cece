// SPDX-License-Identifier: MIT
// Today's walk: place, lot, how many into which slots; confirm, or say what is missing and why.

import { useCallback, useEffect, useMemo, useRef, useState } from 'preact/hooks';
import { newKey, send } from '../shared/net/api.js';
import { Loaded } from '../shared/dialog.jsx';
import { go, hashOf } from '../shared/route.js';
import { readTag } from '../shared/scanner.js';
import { useSeason } from '../shared/season.jsx';
import { CrateTag } from '../shared/tag.jsx';
import { sentence } from '../shared/strings/prose.js';
import { t, word } from '../shared/strings/text.js';
import { readKept, touch, useKept } from '../shared/net/use.js';
import { post } from './box.js';
import { NextCrate } from './nextcrate.jsx';
import { PutBacks } from './putback.jsx';
import { OtherSlot, Short } from './short.jsx';
import { soundNo, soundYes } from './sound.js';
import { shake, speak } from './speech.js';
import { StopList } from './stops.jsx';
import { useAnswers, useOffline, useScanner } from './use.js';
import { TakeBack, takeBack } from './takeback.jsx';
import { answerOf, giveOut, givenBy, keptByFrost, meaning, nextOpen, sharesOf, stepsOf } from './walk.js';

/** @typedef {import('./walk.js').Step} Step */
/** @typedef {import('./walk.js').Answers} Answers */

/** @param {{which: string}} props */
export function WalkPage({ which }) {
  const { format } = useSeason();
  const waves = useOffline(which ? null : '/api/waves');
  if (which) return <Wave key={which} id={which} />;
  return (
    <section>
      <h1>{t('walk.choose')}</h1>
      <Loaded of={waves}>
        {(list) => {
          const open = list.filter((/** @type {any} */ w) => w.state === 'open' || w.state === undefined);
          if (open.length === 0) return <p class="large-note">{t('walk.no_waves')}</p>;
          return (
            <ul class="door-list">
              {open.map((/** @type {any} */ w) => (
                <li key={w.wave ?? w.id}>
                  <a class="door" href={hashOf(['cellar', 'walk', String(w.wave ?? w.id)])}>
                    <b>{t('walk.wave', { wave: String(w.wave ?? w.id) })}</b>
                    <span>{t('walk.week', { week: format.week(w.week) })}</span>
                  </a>
                </li>
              ))}
            </ul>
          );
        }}
      </Loaded>
    </section>
  );
}

/** @param {{id: string}} props */
function Wave({ id }) {
  const wave = useOffline(`/api/waves/${encodeURIComponent(id)}`);
  const [answers, setAnswers] = useAnswers(id);
  return (
    <Loaded of={wave}>
      {(data) =>
        answers === null ? null : (
          <>
            <PutBacks list={data.put_back} />
            {data.stops.length === 0 ? (
              <p class="large-note">{t('walk.empty')}</p>
            ) : (
              <Walk id={id} stops={data.stops} answers={answers} setAnswers={setAnswers} old={wave.old} />
            )}
          </>
        )
      }
    </Loaded>
  );
}

/**
 * @param {object} props
 * @param {string} props.id
 * @param {import('./walk.js').Stop[]} props.stops
 * @param {Answers} props.answers
 * @param {(answers: Answers) => Promise<void>} props.setAnswers
 * @param {boolean} props.old
 */
function Walk({ id, stops, answers, setAnswers, old }) {
  const steps = useMemo(() => stepsOf(stops, answers), [stops, answers]);
  const { session } = useSeason();
  const packer = readKept('packer', session.name) || session.name || undefined;
  const [at, setAt] = useState(() => Math.max(0, nextOpen(steps, -1, packer)));
  const [short, setShort] = useState(false);
  // Slots of this step that are filled, and whether its crate was scanned; both are of this step alone.
  const [ticked, setTicked] = useState(/** @type {Record<number, boolean>} */ ({}));
  const [right, setRight] = useState(false);
  const [refusal, setRefusal] = useState(/** @type {{text: string, lot: string, to: number | null} | null} */ (null));
  // Until an answer is safe on this device no other is taken: the ref for taps, the state for eyes.
  const busy = useRef(false);
  const [saving, setSaving] = useState(false);
  const hold = (/** @type {boolean} */ on) => {
    busy.current = on;
    setSaving(on);
  };
  const step = steps[Math.min(at, steps.length - 1)];
  const left = steps.filter((s) => s.open).length;

  const move = useCallback((/** @type {number} */ to) => {
    setAt(to);
    setShort(false);
    setRefusal(null);
    setTicked({});
    setRight(false);
    window.scrollTo(0, 0);
  }, []);

  const answer = useCallback(
    async (
      /** @type {Step} */ of,
      /** @type {Record<string, number>} */ given,
      /** @type {string} */ reason,
      /** @type {boolean} */ empty,
    ) => {
      const { back, shares } = sharesOf(of.picks, answers, given, reason, empty);
      if (shares.length === 0 || busy.current) return; // a second tap of a wet glove
      hold(true);
      const now = new Date().toISOString();
      const next = { ...answers };
      try {
        for (const pick of back) {
          await takeBack(pick, t('back.other_slot'), t('back.label', { lot: of.lot, place: of.stop.place ?? '' }));
          next[pick] = 'taken back';
        }
        for (const share of shares) {
          const key = newKey();
          const { pick, ...said } = share;
          next[pick] = said;
          await post(
            '/api/picks',
            { confirmations: [{ key, ...share, at: now, packer }] },
            t('walk.label.slot', {
              lot: of.lot,
              place: of.stop.place ?? '',
              n: share.taken,
              slot: of.picks.find((p) => p.id === pick)?.slot ?? '',
            }),
            key,
          );
        }
      } catch (e) {
        soundNo();
        setRefusal({ text: e instanceof Error ? e.message : String(e), lot: '', to: null });
        await setAnswers(next);
        hold(false);
        return;
      }
      soundYes();
      const to = nextOpen(stepsOf(stops, next), steps.indexOf(of), packer);
      // Both at once, so that the answered step never shows in between.
      const kept = setAnswers(next);
      move(to >= 0 ? to : steps.indexOf(of));
      await kept;
      if (back.length > 0) touch();
      hold(false);
    },
    [answers, stops, steps],
  );
  /** All there. @param {Step} of */
  const took = (of) => answer(of, giveOut(of.picks, answers, openQuantity(of, answers)), '', false);

  const scanned = useCallback(
    (/** @type {string} */ text) => {
      if (!step) return;
      const tag = readTag(text);
      const means = meaning(steps, steps.indexOf(step), tag, refusal?.lot ?? null);
      if (means.kind === 'right') {
        soundYes();
        setRefusal(null);
        setRight(true);
      } else if (means.kind === 'move') {
        soundYes();
        move(means.to);
      } else {
        soundNo();
        const other = 'to' in means ? steps[means.to] : undefined;
        setRefusal({
          text: refusalText(means.kind, tag.lot, step, other),
          lot: tag.lot,
          to: 'to' in means ? means.to : null,
        });
      }
    },
    [step, steps, refusal, answer],
  );
  useScanner(scanned);
  useTaken(step);
  useSpoken(step, answers);
  /** The last tick confirms. @param {number} pick */
  const tick = (pick) => {
    if (!step || busy.current) return;
    const next = { ...ticked, [pick]: !ticked[pick] };
    shake();
    if (step.picks.every((p) => answerOf(p, answers) !== null || next[p.id])) void took(step);
    else setTicked(next);
  };

  const frost = keptByFrost(stops, answers);
  if (!step) return <Frost frost={frost} />;
  const place = steps.indexOf(step);
  return (
    <section class="walk">
      <h1 class="hidden">{t('cellar.walk')}</h1>
      <p class="walk-progress">
        {t('walk.progress', { stop: step.stop.stop, stops: stops.length })} · {t('walk.left', { n: left })}{' '}
        {old ? t('walk.old') : ''}
      </p>
      <progress max={steps.length} value={steps.length - left} aria-label={t('walk.left', { n: left })} />
      <StopList id={id} steps={steps} at={place} me={packer} onGo={move} />
      <Frost frost={frost} />
      <NextCrate wave={id} />
      {refusal && (
        <div class="refusal" role="alert">
          <b>{t('walk.refused')}</b>
          <p>{refusal.text}</p>
          <div class="form-actions">
            {refusal.to !== null && (
              <button type="button" onClick={() => move(refusal.to ?? place)}>
                {t('walk.go_there')}
              </button>
            )}
            <button type="button" onClick={() => setRefusal(null)}>
              {t('action.close')}
            </button>
          </div>
        </div>
      )}
      <StepCard step={step} answers={answers} ticked={ticked} right={right} onTick={tick} />
      {step.open ? (
        short ? (
          <Short
            step={step}
            answers={answers}
            most={openQuantity(step, answers)}
            ticked={givenBy(step, answers, ticked)}
            onAnswer={(given, reason, empty) => answer(step, given, reason, empty)}
            onCancel={() => setShort(false)}
          />
        ) : (
          <div class="thumbs walk-act">
            <button type="button" class="thumb thumb-main" aria-disabled={saving} onClick={() => took(step)}>
              {t('walk.took', { n: openQuantity(step, answers) })}
            </button>
            <div class="thumbs-row">
              <button type="button" class="thumb" onClick={() => setShort(true)}>
                {t('walk.not_all')}
              </button>
              <button
                type="button"
                class="thumb"
                aria-disabled={saving}
                onClick={() => answer(step, givenBy(step, answers, ticked), 'missing', true)}
              >
                {t('walk.crate_empty')}
              </button>
            </div>
          </div>
        )
      ) : (
        <p class="large-note" role="status">
          {left === 0 ? t('walk.all_done') : t('walk.done')}
        </p>
      )}
      {!short && (
        <OtherSlot
          key={`${step.stop.id} ${step.lot}`}
          step={step}
          answers={answers}
          onAnswer={(given, reason, empty) => answer(step, given, reason, empty)}
        />
      )}
      {!short && <TakeBack step={step} answers={answers} setAnswers={setAnswers} />}
      <Then steps={steps} at={place} packer={packer} />
      <div class="thumbs thumbs-row">
        <button type="button" class="thumb" disabled={place === 0} onClick={() => move(place - 1)}>
          ← {t('walk.before')}
        </button>
        <button type="button" class="thumb" disabled={place === steps.length - 1} onClick={() => move(place + 1)}>
          {t('walk.after')} →
        </button>
      </div>
      <Voice />
      {left === 0 && (
        <button type="button" class="thumb thumb-main" onClick={() => go(['cellar', 'parcels', id])}>
          {t('walk.to_parcels')}
        </button>
      )}
    </section>
  );
}

/** @param {{frost: ReturnType<typeof keptByFrost>}} props */
function Frost({ frost }) {
  if (frost.picks === 0) return null;
  return (
    <p class="refusal" role="status">
      {t('walk.frost', { n: frost.slots.length, slots: frost.slots.join(', '), why: sentence(frost.why) })}
    </p>
  );
}

/** @param {Step} step @param {Answers} answers */
function openQuantity(step, answers) {
  return step.picks.filter((p) => answerOf(p, answers) === null).reduce((sum, p) => sum + p.quantity, 0);
}

/** @param {string} kind @param {string} lot @param {Step} here @param {Step | undefined} other */
function refusalText(kind, lot, here, other) {
  if (kind === 'done') return t('walk.already', { lot });
  if (other)
    return t('walk.elsewhere', {
      lot,
      variety: other.variety,
      stop: other.stop.stop,
      place: other.stop.place ?? '',
      wanted: here.lot,
      here: here.variety,
    });
  return t('walk.unknown', { lot, wanted: here.lot, here: here.variety });
}

/** Where the walk goes from here. @param {{steps: Step[], at: number, packer: string | undefined}} props */
function Then({ steps, at, packer }) {
  const to = nextOpen(steps, at, packer);
  const next = steps[to];
  if (!next || to === at) return null;
  return (
    <p class="walk-then">
      {next.stop.id === steps[at]?.stop.id
        ? t('walk.then_here', { variety: next.variety })
        : t('walk.then', { place: next.stop.place || t('walk.no_place'), room: next.stop.room ?? '' })}
    </p>
  );
}

/** Says the step aloud when it comes up, if that was chosen. @param {Step | undefined} step @param {Answers} answers */
function useSpoken(step, answers) {
  const name = step ? `${step.stop.id} ${step.lot}` : '';
  useEffect(() => {
    if (!step?.open) return;
    speak(
      t('walk.spoken', {
        place: step.stop.place || t('walk.no_place'),
        n: openQuantity(step, answers),
        variety: step.name || step.variety,
      }),
    );
  }, [name]);
}

/** Speech and shaking, each by choice. */
function Voice() {
  const [speech, setSpeech] = useKept('walk.speech', false);
  const [shakes, setShakes] = useKept('walk.shake', false);
  return (
    <p class="walk-voice">
      <label class="check">
        <input type="checkbox" checked={speech} onChange={(e) => setSpeech(e.currentTarget.checked)} />{' '}
        {t('walk.speech')}
      </label>
      <label class="check">
        <input type="checkbox" checked={shakes} onChange={(e) => setShakes(e.currentTarget.checked)} />{' '}
        {t('walk.shake')}
      </label>
    </p>
  );
}

/** @param {{step: Step, answers: Answers, ticked: Record<number, boolean>, right: boolean, onTick: (pick: number) => void}} props */
function StepCard({ step, answers, ticked, right, onTick }) {
  const { session } = useSeason();
  const me = readKept('packer', session.name);
  const other = step.stop.taken_by && step.stop.taken_by !== me ? step.stop.taken_by : null;
  return (
    <div class={`step ${right ? 'step-right' : ''}`}>
      <p class="step-place">
        <span class="quiet">{step.stop.room}</span>
        <b>{step.stop.place || t('walk.no_place')}</b>
      </p>
      {step.picks.some((p) => p.held) && (
        <p class="refusal">{t('walk.held', { why: String(step.picks.find((p) => p.held)?.held) })}</p>
      )}
      {other && <p class="note">{t('walk.taken_by', { name: other })}</p>}
      {right && (
        <p class="right-crate" role="status">
          {t('walk.right')}
        </p>
      )}
      <CrateTag variety={{ ...step.picks[0], code: step.variety }} extra={t('walk.lot', { lot: step.lot })} huge />
      <p class="step-take">
        {t('walk.take')} <b>{step.open ? openQuantity(step, answers) : step.quantity}</b>
      </p>
      <ul class="slots" aria-label={t('walk.slots')}>
        {step.picks.map((p) => {
          const done = answerOf(p, answers);
          return (
            <li key={p.id} class={done ? 'slot-done' : ticked[p.id] ? 'slot-ticked' : ''}>
              {done ? (
                <>
                  <span class="slot-number">{t('walk.slot', { slot: p.slot })}</span>
                  <b>{`${done.taken} / ${p.quantity}`}</b>
                  <span>{done.reason ? word('reason', done.reason) : '✓'}</span>
                </>
              ) : (
                <button type="button" class="slot" aria-pressed={Boolean(ticked[p.id])} onClick={() => onTick(p.id)}>
                  <span class="slot-number">{t('walk.slot', { slot: p.slot })}</span>
                  <b>{p.quantity}</b>
                  {ticked[p.id] && <span>✓</span>}
                </button>
              )}
            </li>
          );
        })}
      </ul>
    </div>
  );
}

/**
 * Tells the others who works at this stop, so that nobody walks there in vain, and gives it back when it is left with
 * something open. Only help: it need not arrive.
 * @param {Step | undefined} step
 */
function useTaken(step) {
  const { session } = useSeason();
  const packer = readKept('packer', session.name) || session.name;
  const free = step?.open && (!step.stop.taken_by || step.stop.taken_by === packer);
  const id = step && free ? step.stop.id : null;
  useEffect(() => {
    if (id === null) return undefined;
    send('POST', `/api/stops/${id}/take`, { packer }).catch(() => {});
    return () => {
      send('POST', `/api/stops/${id}/release`, { packer }).catch(() => {});
    };
  }, [id]);
}
