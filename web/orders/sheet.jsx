// SPDX-License-Identifier: MIT
// A spreadsheet of another make: what was understood, what is asked, what is wrong, the owner's own rows with our
// columns over them, and what it would do. Nothing is taken before all of that is clear.

import { useEffect, useLayoutEffect, useRef, useState } from 'preact/hooks';
import { newKey, send } from '../shared/net/api.js';
import { wasGivenUp } from '../shared/net/task.js';
import { touch } from '../shared/net/use.js';
import { Work } from '../shared/net/work.jsx';
import { Field, Form, Wrong, say } from '../shared/dialog.jsx';
import { useSeason } from '../shared/season.jsx';
import { t, word } from '../shared/strings/text.js';
import { told } from '../shared/strings/told.js';
import { answered, asksForName, withCode, withColumn } from './fit.js';
import { AskSameName } from './samename.jsx';
import { Taken } from './taken.jsx';

/** @typedef {import('./fit.js').Look} Look */
/** @typedef {import('./fit.js').Fit} Fit */
/** @typedef {import('./samename.jsx').SameName} SameName */
/** @typedef {{name: string, base64?: string, text?: string}} Upload */
/** @typedef {import('../contract').Answers['POST /api/sheets/take']} Took */

const KINDS = [
  'varieties',
  'places',
  'zones',
  'destinations',
  'zone_ranges',
  'history',
  'past_checks',
  'past_sales',
  'past_orders',
  'past_plantings',
  'plantings',
  'lots',
  'field_rounds',
  'weighings',
  'air',
  'divisions',
  'checks',
  'counts',
  'orders',
  'holds',
  'tracking',
];

/** @param {{upload: Upload, onEnd: () => void}} props */
export function SheetFit({ upload, onEnd }) {
  const [look, setLook] = useState(/** @type {Look | null} */ (null));
  const [fit, setFit] = useState(/** @type {Fit} */ ({}));
  const [plan, setPlan] = useState(/** @type {Took | null} */ (null));
  const [took, setTook] = useState(/** @type {Took | null} */ (null));
  const [error, setError] = useState(/** @type {Error | null} */ (null));
  const [busy, setBusy] = useState(false);
  const [same, setSame] = useState(/** @type {SameName | null} */ (null));
  const [asks, setAsks] = useState(false);
  const under = useRef(/** @type {AbortController | null} */ (null));
  const heading = useRef(/** @type {HTMLHeadingElement | null} */ (null));

  /** One question at a time: the one before is given up. @param {(signal: AbortSignal) => Promise<void>} work */
  const ask = async (work) => {
    under.current?.abort();
    const mine = new AbortController();
    under.current = mine;
    setBusy(true);
    setError(null);
    setAsks(false);
    try {
      await work(mine.signal);
    } catch (e) {
      if (mine.signal.aborted) return;
      const shown = /** @type {any} */ (e).body?.look;
      if (wasGivenUp(e)) say(t('work.given_up'));
      else if (shown) {
        setLook(shown);
        setAsks(asksForName(shown, /** @type {any} */ (e).status));
      } else setError(e instanceof Error ? e : new Error(String(e)));
    } finally {
      if (under.current === mine) setBusy(false);
    }
  };
  const body = (/** @type {Fit} */ told, /** @type {SameName | null} */ name) => ({
    ...upload,
    fit: told,
    ...(name && { same_name: name }),
  });
  const lookAgain = (/** @type {Fit} */ told, /** @type {SameName | null} */ name) =>
    ask(async (signal) => {
      setPlan(null);
      const seen = await send('POST', '/api/sheets/look', { ...upload, fit: told }, { signal });
      if (signal.aborted) return;
      setLook(seen);
      if (!seen.ready) return;
      const dry = { ...body(told, name), dry_run: true };
      const would = await send('POST', '/api/sheets/take', dry, { signal, key: newKey() });
      if (!signal.aborted) setPlan(would);
    });
  useEffect(() => {
    setFit({});
    setLook(null);
    setTook(null);
    setSame(null);
    void lookAgain({}, null);
    return () => under.current?.abort();
  }, [upload]);
  useLayoutEffect(() => heading.current?.focus(), [upload, Boolean(took)]);

  const tell = (/** @type {Fit} */ told) => {
    setFit(told);
    void lookAgain(told, same);
  };
  const nameIs = (/** @type {SameName} */ name) => {
    setSame(name);
    void lookAgain(fit, name);
  };
  const take = () =>
    ask(async () => {
      const done = await send('POST', '/api/sheets/take', body(fit, same), { key: newKey() });
      touch();
      setTook(done);
      say(t('load.done'));
    });
  if (took)
    return (
      <section class="sheet" role="status">
        <h2 tabIndex={-1} ref={heading}>
          {t('load.taken')}
        </h2>
        <Taken answer={took} />
        <div class="form-actions">
          <button type="button" class="main-button" onClick={onEnd}>
            {t('fit.next')}
          </button>
        </div>
      </section>
    );
  return (
    <section class="sheet fit">
      <h2 tabIndex={-1} ref={heading}>
        {upload.name}
      </h2>
      {busy && (
        <>
          <p class="loading">{t('load.busy')}</p>
          <Work />
        </>
      )}
      <Wrong error={error} />
      {look && (
        <>
          <Understood look={look} fit={fit} tell={tell} />
          <Doubts look={look} fit={fit} tell={tell} />
          <Problems look={look} />
          {asks && <AskSameName busy={busy} onAnswer={nameIs} />}
          <Grid look={look} fit={fit} tell={tell} />
          <Aside look={look} fit={fit} tell={tell} />
          {plan && (
            <div role="status">
              <h3>{t('load.preview')}</h3>
              <Taken answer={plan} />
            </div>
          )}
          {!busy && !look.ready && (
            <p class="note">{t('fit.not_ready', { doubts: look.doubt_count, problems: look.problem_count })}</p>
          )}
        </>
      )}
      <div class="form-actions">
        <button type="button" class="main-button" disabled={busy || !plan} onClick={() => void take()}>
          {t('fit.take')}
        </button>
        <button type="button" onClick={onEnd}>
          {t('action.cancel')}
        </button>
      </div>
    </section>
  );
}

/** @typedef {{look: Look, fit: Fit, tell: (fit: Fit) => void}} Part */

/** What was understood, and the sheet, kind and heading that may be said otherwise. @param {Part} props */
function Understood({ look, fit, tell }) {
  return (
    <>
      <div role="status">
        <ul class="rows">
          {look.said.map((s) => (
            <li key={s}>{told(s)}</li>
          ))}
        </ul>
      </div>
      <div class="fit-choices">
        {look.sheets.length > 1 && (
          <label>
            {t('fit.sheet')}{' '}
            <select value={look.sheet} onChange={(e) => tell({ sheet: e.currentTarget.value })}>
              {look.sheets.map((s) => (
                <option key={s.name} value={s.name}>
                  {t('fit.sheet_of', { name: s.name, n: s.rows })}
                </option>
              ))}
            </select>
          </label>
        )}
        <label>
          {t('fit.kind')}{' '}
          <select
            value={look.kind ?? ''}
            onChange={(e) => tell({ ...fit, kind: e.currentTarget.value, columns: null })}
          >
            {!look.kind && <option value="">{t('fit.choose')}</option>}
            {KINDS.map((k) => (
              <option key={k} value={k}>
                {word('kind', k)}
              </option>
            ))}
          </select>
        </label>
        <label>
          {t('fit.header')}{' '}
          <input
            class="fit-number"
            type="number"
            min={0}
            value={look.header}
            onChange={(e) =>
              tell({
                ...fit,
                sheet: look.sheets.length > 1 ? look.sheet : null,
                header: Number(e.currentTarget.value),
                columns: null,
              })
            }
          />
        </label>
      </div>
    </>
  );
}

/** @param {Part} props */
function Doubts({ look, fit, tell }) {
  if (look.doubts.length === 0) return null;
  return (
    <div class="fit-doubts">
      <h3>{t('fit.doubts', { n: look.doubt_count })}</h3>
      <ul class="rows">
        {look.doubts.map((d, i) => (
          <li key={`${d.what} ${d.field} ${d.text} ${i}`}>
            <Question doubt={d} onAnswer={(value) => tell(answered(fit, d, value))} />
          </li>
        ))}
      </ul>
    </div>
  );
}

/**
 * A choice is only made by its button: a key that moves through the list answers nothing.
 * @param {{doubt: Look['doubts'][number], onAnswer: (value: string) => void}} props
 */
function Question({ doubt, onAnswer }) {
  const [chosen, setChosen] = useState('');
  const [typed, setTyped] = useState('');
  const where = [doubt.row && t('fit.row', { row: doubt.row }), doubt.header].filter(Boolean).join(', ');
  const says = `${where ? `${where}: ` : ''}${told(doubt.says)}${doubt.text ? ` (${doubt.text})` : ''}`;
  const some = doubt.choices.length > 0;
  const free = !some || doubt.what === 'name';
  return (
    <form
      class="fit-typed"
      onSubmit={(e) => {
        e.preventDefault();
        const choice = doubt.choices[Number(chosen)];
        if (typed.trim()) onAnswer(typed.trim());
        else if (chosen !== '' && choice) onAnswer(choice.value);
      }}
    >
      {some && (
        <label class="field">
          <span class="field-label">{says}</span>
          <select value={chosen} onChange={(e) => setChosen(e.currentTarget.value)}>
            <option value="">{t('fit.choose')}</option>
            {doubt.choices.map((c, i) => (
              <option key={c.value} value={String(i)}>
                {told(c.says)}
              </option>
            ))}
          </select>
        </label>
      )}
      {free && (
        <label class="field">
          <span class="field-label">{some ? t('fit.or_code') : says}</span>
          <input value={typed} onInput={(e) => setTyped(e.currentTarget.value)} />
        </label>
      )}
      <button type="submit">{t('fit.answer')}</button>
    </form>
  );
}

/** @param {number | null} row @param {number | null} at */
const cellName = (row, at) => `cell-${row}-${at}`;

/** @param {{look: Look}} props */
function Problems({ look }) {
  if (look.problems.length === 0) return null;
  return (
    <div class="wrong" role="alert">
      <p>{t('fit.problems', { n: look.problem_count })}</p>
      <ul>
        {look.problems.map((p, i) => (
          <li key={i}>
            <button
              type="button"
              class="quiet-button fit-jump"
              onClick={() => {
                const cell = document.getElementById(cellName(p.row, p.at));
                cell?.focus();
                cell?.scrollIntoView({ block: 'center', inline: 'center' });
              }}
            >
              {[look.sheets.length > 1 && p.sheet, p.row && t('fit.row', { row: p.row }), p.header]
                .filter(Boolean)
                .join(', ')}
            </button>{' '}
            {p.text ? <q>{p.text}</q> : null} {told(p.says)}
            {p.accepts ? <span class="quiet"> {t('fit.accepts', { what: told(p.accepts) })}</span> : null}
          </li>
        ))}
      </ul>
    </div>
  );
}

/** The owner's own rows, with our columns over them. @param {Part} props */
function Grid({ look, fit, tell }) {
  const wrongAt = new Set(look.problems.map((p) => cellName(p.row, p.at)));
  return (
    <div class="scroll-x fit-frame" tabIndex={0} role="region" aria-label={t('fit.rows')}>
      <table class="fit-grid">
        <thead>
          <tr>
            <th scope="col">{t('fit.row_head')}</th>
            {look.columns.map((c) => (
              <th key={c.column} scope="col">
                <span class="quiet">{c.column}</span> {c.header}
              </th>
            ))}
          </tr>
          <tr>
            <th scope="row">{t('fit.ours')}</th>
            {look.columns.map((c, at) => (
              <td key={c.column} class={c.field ? `fit-used fit-${c.how}` : 'fit-unused'}>
                <select
                  aria-label={t('fit.column_is', { column: c.column, header: c.header })}
                  value={fit.columns?.[at] ?? c.field}
                  onChange={(e) => tell(withColumn({ ...fit, kind: look.kind }, at, e.currentTarget.value))}
                >
                  <option value="">{t('fit.unused')}</option>
                  {look.fields.map((f) => (
                    <option key={f.field} value={f.field}>
                      {ours(f.field, look.kind ?? '')}
                      {f.required ? ' *' : ''}
                    </option>
                  ))}
                </select>
                <span class="fit-how">{c.field ? word('how', c.how) : t('fit.not_used')}</span>
              </td>
            ))}
          </tr>
        </thead>
        <tbody>
          {look.rows.map((r) => (
            <tr key={r.row}>
              <th scope="row" class="right">
                {r.row}
              </th>
              {look.columns.map((c, at) => {
                const cell = r.cells[at];
                const wrong = wrongAt.has(cellName(r.row, at));
                return (
                  <td key={c.column} id={cellName(r.row, at)} tabIndex={-1} class={wrong ? 'fit-bad' : ''}>
                    {cell?.text}
                    {wrong && <span class="fit-mark">{t('fit.wrong')}</span>}
                    {cell?.becomes !== null && cell?.becomes !== undefined && (
                      <span class="fit-becomes">→ {cell.becomes || t('fit.nothing')}</span>
                    )}
                  </td>
                );
              })}
            </tr>
          ))}
        </tbody>
      </table>
      {look.rows.length < look.row_count - look.passed_count && (
        <p class="quiet">{t('fit.more_rows', { shown: look.rows.length, n: look.row_count })}</p>
      )}
    </div>
  );
}

/** What is new, with its code; and what was passed over. @param {Part} props */
function Aside({ look, fit, tell }) {
  return (
    <>
      {look.made.length > 0 && (
        <details class="fit-aside">
          <summary>{t('fit.made', { n: look.made_count })}</summary>
          <ul class="rows">
            {look.made.map((m) => (
              <li key={`${m.kind} ${m.text}`}>
                {m.kind === 'varieties' ? (
                  <label>
                    {m.text}{' '}
                    <input
                      class="fit-code"
                      maxLength={32}
                      aria-label={t('fit.code_of', { name: m.text })}
                      defaultValue={m.code}
                      onChange={(e) =>
                        tell(withCode({ ...fit, kind: look.kind }, m.text, e.currentTarget.value.trim()))
                      }
                    />
                  </label>
                ) : (
                  <>
                    {word('kind', m.kind)}: {m.text}
                  </>
                )}
              </li>
            ))}
          </ul>
        </details>
      )}
      {look.passed.length > 0 && (
        <details class="fit-aside">
          <summary>{t('fit.passed', { n: look.passed_count })}</summary>
          <ul class="rows">
            {look.passed.map((p) => (
              <li key={p.row}>
                {t('fit.row', { row: p.row })}: <q>{p.text}</q> <span class="quiet">{told(p.why)}</span>
              </li>
            ))}
          </ul>
        </details>
      )}
    </>
  );
}

/** Fits that are kept for the next sheet with the same headings. */
export function KeptFits() {
  const [list, setList] = useState(/** @type {import('../contract').Answers['GET /api/fits']} */ ([]));
  const [error, setError] = useState(/** @type {Error | null} */ (null));
  const fetchAll = () => send('GET', '/api/fits').then(setList, setError);
  useEffect(() => void fetchAll(), []);
  if (list.length === 0) return <Wrong error={error} />;
  return (
    <details class="sheet">
      <summary>{t('fit.kept', { n: list.length })}</summary>
      <ul class="rows">
        {list.map((f) => (
          <li key={f.name}>
            <KeptFit fit={f} again={fetchAll} onError={setError} />
          </li>
        ))}
      </ul>
      <Wrong error={error} />
    </details>
  );
}

/** @param {{fit: import('../contract').Answers['GET /api/fits'][number], again: () => Promise<void>, onError: (e: Error) => void}} props */
function KeptFit({ fit, again, onError }) {
  const { format } = useSeason();
  const [says, setSays] = useState(/** @type {import('../contract').Answers['GET /api/fits/{fit}'] | null} */ (null));
  const [name, setName] = useState(/** @type {string | null} */ (null));
  const path = /** @type {'/api/fits/x'} */ (`/api/fits/${encodeURIComponent(fit.name)}`);
  const open = () => (says ? setSays(null) : send('GET', path).then(setSays, onError));
  return (
    <>
      <p class="fit-kept">
        <b>{fit.name}</b> {word('kind', fit.kind)}{' '}
        <span class="quiet">{t('fit.kept_by', { actor: fit.actor, when: format.instant(fit.kept_at) })}</span>{' '}
        <button
          type="button"
          aria-expanded={says !== null}
          aria-label={t('fit.says_of', { name: fit.name })}
          onClick={() => void open()}
        >
          {t('fit.says')}
        </button>{' '}
        <button type="button" aria-label={t('fit.rename_of', { name: fit.name })} onClick={() => setName(fit.name)}>
          {t('fit.rename')}
        </button>{' '}
        <button
          type="button"
          aria-label={t('fit.forget_name', { name: fit.name })}
          onClick={() => send('DELETE', path).then(again, onError)}
        >
          {t('fit.forget')}
        </button>
      </p>
      {name !== null && (
        <Form
          class="fit-typed"
          save={t('fit.rename')}
          onCancel={() => setName(null)}
          onSave={async () => {
            if (name.trim() !== fit.name)
              await send('POST', `/api/fits/${encodeURIComponent(fit.name)}/rename`, { to: name.trim() });
            setName(null);
            await again();
          }}
        >
          <Field label={t('fit.new_name')}>
            <input required maxLength={200} value={name} onInput={(e) => setName(e.currentTarget.value)} />
          </Field>
        </Form>
      )}
      {says && (
        <ol class="fit-says" aria-label={t('fit.says_of', { name: fit.name })}>
          {(says.columns ?? []).map((c, i) => (
            <li key={i}>{c ? ours(String(c), fit.kind) : <span class="quiet">{t('fit.not_used')}</span>}</li>
          ))}
        </ol>
      )}
    </>
  );
}

/** "varieties.price" in words; of another kind than the rows' with that. @param {string} field @param {string} kind */
function ours(field, kind) {
  const [plain = '', heading] = field.split('@');
  const [of = '', column = ''] = plain.split('.');
  if (heading) return t('fit.of_heading', { field: word('field', column) });
  return of === kind ? word('field', column) : `${word('kind', of)}: ${word('field', column)}`;
}
