// SPDX-License-Identifier: MIT
// One question a screen: each is asked as its kind wants, the day beside them, and at the end what is kept is said once more.

import { useCallback, useMemo, useState } from 'preact/hooks';
import { hashOf } from '../shared/route.js';
import { readTag } from '../shared/scanner.js';
import { useSeason } from '../shared/season.jsx';
import { CrateTag } from '../shared/tag.jsx';
import { t, word } from '../shared/strings/text.js';
import { placesOf } from './beside.js';
import { post } from './box.js';
import { Choose } from './choose.jsx';
import { Keypad } from './keypad.jsx';
import { soundNo, soundYes } from './sound.js';
import { useOffline, useScanner } from './use.js';

/** @typedef {import('../shared/strings/text.js').Key} Key */
/** @typedef {import('./questions.js').Given} Given */
/** @typedef {import('./questions.js').Done} Done */
/** @typedef {import('./questions.js').Planting} Planting */
/** @typedef {import('./questions.js').Question} Question */

const REASONS = /** @satisfies {import('../contract').Some<'entry_reasons'>} */ ([
  'found',
  'missing',
  'rotten',
  'shrivelled',
  'discarded',
  'planted',
]);

/** The nursery's own today when the server is set to one, else this device's. @param {{today: string}} nursery */
export function todayOf(nursery) {
  return nursery.today || new Date().toISOString().slice(0, 10);
}

const YESTERDAY = 'yesterday';

/** @param {string} day @param {number} by */
function shifted(day, by) {
  return new Date(Date.parse(`${day}T00:00:00Z`) + by * 86400000).toISOString().slice(0, 10);
}

/**
 * The day that the entries are of. Any but today is said loudly, since it stays for the next ones.
 * @param {{today: string, day: string, late: boolean, onDay: (day: string) => void}} props
 */
function DayChoice({ today, day, late, onDay }) {
  const { format } = useSeason();
  const yesterday = shifted(today, -1);
  const [asking, setAsking] = useState(false);
  const open = asking || (day !== today && day !== yesterday);
  const one = (/** @type {string} */ d, /** @type {Key} */ key) => (
    <button
      type="button"
      class={`thumb ${!open && day === d ? 'thumb-chosen' : ''}`}
      aria-pressed={!open && day === d}
      onClick={() => (setAsking(false), onDay(d))}
    >
      {t(key)}
    </button>
  );
  return (
    <fieldset class="day-choice">
      <legend>{t('entry.day')}</legend>
      {one(today, 'entry.day.today')}
      {one(yesterday, 'entry.day.yesterday')}
      <button
        type="button"
        class={`thumb ${open ? 'thumb-chosen' : ''}`}
        aria-pressed={open}
        onClick={() => setAsking(true)}
      >
        {t('entry.day.other')}
      </button>
      {open && (
        <input
          type="date"
          class="large-field"
          aria-label={t('entry.day.other')}
          max={today}
          value={day}
          onInput={(e) => e.currentTarget.value && onDay(e.currentTarget.value)}
        />
      )}
      {late && (
        <p class="wrong" role="alert">
          {t('entry.day.wrong')}
        </p>
      )}
      {day !== today && !late && <p class="note">{t('entry.day.of', { day: format.day(day) })}</p>}
    </fieldset>
  );
}

/**
 * @param {object} props
 * @param {string} props.title
 * @param {Question[]} props.questions
 * @param {Given} props.first
 * @param {string} props.path
 * @param {(given: Given, day: string) => Record<string, unknown>} props.body
 * @param {(given: Given) => string} props.said
 * @param {(done: Done) => import('preact').ComponentChildren} [props.after] what is shown beside what was kept
 * @param {{href: string, text: string}} [props.then] where to go on after it; without, to the lot
 */
export function Entry({ title, questions, first, path, body, said, after, then }) {
  const { nursery } = useSeason();
  const today = todayOf(nursery);
  // Yesterday's sheet is typed in one go: the day stays until it is changed. It is kept by its word: tapped before the nursery's own
  // today is known, it is the day before that one all the same.
  const [other, setOther] = useState('');
  const day = other === YESTERDAY ? shifted(today, -1) : other || today;
  const late = day > today;
  const lots = useOffline('/api/lots');
  const places = useOffline('/api/places');
  const [given, setGiven] = useState(first);
  const [at, setAt] = useState(
    Math.max(
      0,
      questions.findIndex((q) => q.kind === 'number' || !first[q.name]),
    ),
  );
  const [done, setDone] = useState(/** @type {Done | null} */ (null));
  const [refusal, setRefusal] = useState('');
  const lot = useMemo(
    () => (lots.data ?? []).find((/** @type {any} */ l) => l.lot === given.lot),
    [lots.data, given.lot],
  );
  const rows = useOffline(questions.some((q) => q.kind === 'row') ? '/api/field' : null);
  const varieties = useOffline(questions.some((q) => q.kind === 'variety') ? '/api/varieties' : null);
  /** @type {Planting | null} */
  const planting =
    (rows.data ?? []).find(
      (/** @type {Planting} */ p) => p.row === given.row && (!given.variety || p.variety === given.variety),
    ) ?? null;
  const lies = placesOf(lot);
  // What has only one answer is not asked.
  const asked = questions.filter(
    (q) =>
      !(q.name === 'shrivelled' && given.stage === 'clump') &&
      !(q.kind === 'from' && given.lot && lies.length <= 1) &&
      !q.needless?.(given, lot, planting),
  );
  const all = questions.some((q) => q.kind === 'from') && lies.length === 1 ? { ...given, from: lies[0] ?? '' } : given;
  const question = asked[at];
  const wrong = question?.wrong && given[question.name] !== undefined ? question.wrong(given, lot, planting) : '';

  const put = (/** @type {string} */ name, /** @type {string} */ value, /** @type {boolean} */ next) => {
    setGiven((g) => ({ ...g, [name]: value }));
    setRefusal('');
    if (next) setAt((i) => i + 1);
  };
  const scanned = useCallback(
    (/** @type {string} */ text) => {
      const tag = readTag(text);
      if (question?.kind === 'lot') {
        const known = (lots.data ?? []).find((/** @type {any} */ l) => l.lot.toUpperCase() === tag.lot.toUpperCase());
        if (known || lots.data === undefined) {
          soundYes();
          put('lot', known?.lot ?? tag.lot, true);
        } else {
          soundNo();
          setRefusal(t('entry.no_lot', { lot: tag.lot }));
        }
      } else if (question?.kind === 'place' || question?.kind === 'from') {
        soundYes();
        put(question.name, tag.place ?? tag.lot, false);
      } else if (tag.lot.toUpperCase() === given.lot?.toUpperCase()) soundYes();
      else {
        soundNo();
        setRefusal(t('entry.other_lot', { lot: tag.lot, wanted: given.lot ?? '' }));
      }
    },
    [question, lots.data, given.lot],
  );
  useScanner(scanned);

  const save = async () => {
    await post(path, body(all, day), said(given));
    soundYes();
    setDone({ text: said(given), lot: given.lot ?? '', day, given });
    setGiven({});
    setAt(0);
  };
  return (
    <section class="entry">
      <h1>{title}</h1>
      <DayChoice
        today={today}
        day={day}
        late={late}
        onDay={(d) => setOther(d === today ? '' : d === shifted(today, -1) ? YESTERDAY : d)}
      />
      {done && (
        <div class="note" role="status">
          {done.text}{' '}
          <a class="link-button" href={then?.href ?? hashOf(['cellar', 'lot', done.lot])}>
            {then?.text ?? t('entry.look')}
          </a>
          {after?.(done)}
        </div>
      )}
      {given.lot && at > 0 && (
        <CrateTag
          variety={{ code: lot?.variety ?? given.lot, name: lot?.name }}
          extra={t('walk.lot', { lot: given.lot })}
        />
      )}
      {planting && at > 0 && (
        <CrateTag
          variety={{ code: planting.variety, name: planting.name }}
          extra={t('ground.row_tag', { row: planting.row ?? '', n: planting.standing })}
        />
      )}
      {refusal && (
        <p class="refusal" role="alert">
          {refusal}
        </p>
      )}
      {question ? (
        <Ask
          key={question.name}
          question={question}
          given={given}
          wrong={wrong}
          lots={lots.data ?? []}
          places={places.data ?? []}
          rows={rows.data ?? []}
          varieties={varieties.data ?? []}
          planting={planting}
          onPut={put}
          onNext={() => setAt(at + 1)}
        />
      ) : (
        <Summary given={given} asked={asked} late={late} onSave={save} onBack={(i) => setAt(i)} />
      )}
      {at > 0 && question && (
        <button type="button" class="thumb" onClick={() => setAt(at - 1)}>
          ← {t('entry.before')}
        </button>
      )}
    </section>
  );
}

/**
 * @param {object} props
 * @param {Question} props.question
 * @param {Given} props.given
 * @param {string} props.wrong
 * @param {import('../contract').Answers['GET /api/lots']} props.lots
 * @param {import('../contract').Answers['GET /api/places']} props.places
 * @param {Planting[]} props.rows
 * @param {{code: string, name: string}[]} props.varieties
 * @param {Planting | null} props.planting
 * @param {(name: string, value: string, next: boolean) => void} props.onPut
 * @param {() => void} props.onNext
 */
function Ask({ question, given, wrong, lots, places, rows, varieties, planting, onPut, onNext }) {
  const label = t(question.label);
  if (question.kind === 'row')
    return (
      <Choose
        label={label}
        items={rows
          .filter((p) => p.row && p.standing > 0)
          .map((p) => ({ code: `${p.row} ${p.variety}`, words: p.name }))}
        onChoose={(code) => {
          const cut = code.lastIndexOf(' ');
          onPut('variety', code.slice(cut + 1), false);
          onPut('row', code.slice(0, cut), true);
        }}
      />
    );
  if (question.kind === 'variety')
    return (
      <Choose
        label={label}
        items={varieties.map((v) => ({ code: v.code, words: v.name }))}
        onChoose={(code) => onPut(question.name, code, true)}
      />
    );
  if (question.kind === 'lot')
    return (
      <Choose
        label={label}
        items={lots.map((l) => ({ code: l.lot, words: [l.variety, l.name].filter(Boolean).join(' ') }))}
        onChoose={(code) => onPut('lot', code, true)}
      />
    );
  if (question.kind === 'place')
    return (
      <>
        <Choose
          label={label}
          items={places.map((p) => ({ code: p.place, words: p.room }))}
          chosen={given[question.name]}
          onChoose={(code) => onPut(question.name, code, true)}
        />
        {question.optional && (
          <button type="button" class="thumb" onClick={() => onPut(question.name, given[question.name] ?? '', true)}>
            {given[question.name] ? t('entry.next') : t('entry.no_place')}
          </button>
        )}
      </>
    );
  if (question.kind === 'from')
    return (
      <div class="thumbs" role="group" aria-label={label}>
        <p class="question">{label}</p>
        {placesOf(lots.find((l) => l.lot === given.lot)).map((p) => (
          <button key={p} type="button" class="thumb" onClick={() => onPut('from', p, true)}>
            {p}
          </button>
        ))}
      </div>
    );
  if (question.kind === 'stage')
    return (
      <div class="thumbs" role="group" aria-label={label}>
        <p class="question">{label}</p>
        {['clump', 'division'].map((s) => (
          <button key={s} type="button" class="thumb thumb-main" onClick={() => onPut('stage', s, true)}>
            {word('stage', s)}
          </button>
        ))}
      </div>
    );
  if (question.kind === 'yes')
    return (
      <div class="thumbs" role="group" aria-label={label}>
        <p class="question">{label}</p>
        {['yes', 'no'].map((a) => (
          <button key={a} type="button" class="thumb thumb-main" onClick={() => onPut(question.name, a, true)}>
            {word('choice', a)}
          </button>
        ))}
      </div>
    );
  if (question.kind === 'reason')
    return (
      <div class="thumbs" role="group" aria-label={label}>
        <p class="question">{label}</p>
        {REASONS.map((r) => (
          <button key={r} type="button" class="thumb" onClick={() => onPut('reason', r, true)}>
            {word('reason', r)}
          </button>
        ))}
      </div>
    );
  if (question.kind === 'text')
    return (
      <>
        <label class="keypad-label">
          <span>{label}</span>
          <input
            class="large-field"
            autoComplete="off"
            value={given[question.name] ?? ''}
            onInput={(e) => onPut(question.name, e.currentTarget.value, false)}
            onKeyDown={(e) => e.key === 'Enter' && onNext()}
          />
        </label>
        <button type="button" class="thumb thumb-main" onClick={onNext}>
          {t('entry.next')}
        </button>
      </>
    );
  const value = given[question.name] ?? question.first ?? '0';
  return (
    <>
      <Keypad
        label={label}
        value={value}
        wrong={wrong}
        onValue={(v) => onPut(question.name, v, false)}
        onEnter={() => !wrong && onNext()}
      />
      <button
        type="button"
        class="thumb thumb-main"
        disabled={wrong !== ''}
        onClick={() => {
          onPut(question.name, value, false);
          if (!question.wrong || question.wrong({ ...given, [question.name]: value }, null, planting) === '') onNext();
        }}
      >
        {t('entry.next')}
      </button>
    </>
  );
}

/** @param {{given: Given, asked: Question[], late: boolean, onSave: () => void, onBack: (i: number) => void}} props */
function Summary({ given, asked, late, onSave, onBack }) {
  return (
    <div class="summary">
      <h2>{t('entry.right')}</h2>
      <ul>
        {asked.map((q, i) => (
          <li key={q.name}>
            <button type="button" class="thumb summary-row" onClick={() => onBack(i)}>
              <span>{t(q.label)}</span>{' '}
              <b>
                {q.kind === 'stage' || q.kind === 'reason'
                  ? word(q.kind, given[q.name])
                  : q.kind === 'yes'
                    ? word('choice', given[q.name])
                    : given[q.name] || '–'}
              </b>
            </button>
          </li>
        ))}
      </ul>
      <button type="button" class="thumb thumb-main" disabled={late} onClick={onSave}>
        {t('entry.save')}
      </button>
    </div>
  );
}
