// SPDX-License-Identifier: MIT
// Everything that a file can bring can be typed, pasted and mended here: one grid for each kind of file, made of the kind's columns. What
// is saved is saved whole or not at all, and what is wrong is told at its cell.

import { useEffect, useLayoutEffect, useMemo, useRef, useState } from 'preact/hooks';
import { Problem, get, newKey, send } from '../shared/net/api.js';
import { Field, Loaded, Wrong, say } from '../shared/dialog.jsx';
import { plain } from '../shared/grid/grid.js';
import { useKeptHere } from '../shared/back.js';
import { go, hashOf } from '../shared/route.js';
import { sentence } from '../shared/strings/prose.js';
import { t, word } from '../shared/strings/text.js';
import { told } from '../shared/strings/told.js';
import { touch, useResource, useWidthRem } from '../shared/net/use.js';
import {
  byWalk,
  faultsAt,
  isChanged,
  rangeOf,
  readPasted,
  readRows,
  toSend,
  withBlock,
  withCells,
  withGone,
  withMoved,
  withNew,
} from './records.js';

/** @typedef {import('./records.js').Row} Row */
/** @typedef {import('./records.js').Column} Column */

/** In the order in which a nursery needs them. What is entered day by day has screens of its own. */
const KINDS = [
  'varieties',
  'places',
  'lots',
  'plantings',
  'field_rounds',
  'history',
  'past_checks',
  'past_sales',
  'past_orders',
  'past_plantings',
  'zones',
  'zone_ranges',
  'destinations',
  'weighings',
  'air',
];
/** Changed, not deleted: a variety is retired, stock hangs on a lot. */
const KEPT = ['varieties', 'lots'];
/** So many rows at once: a browser draws no more without a pause. */
const MOST_ROWS = 150;

/** @param {{kind: string}} props */
export function RecordsPage({ kind }) {
  const wide = useWidthRem();
  const known = KINDS.includes(kind) ? kind : 'varieties';
  return (
    <>
      <h1 class="page-title">{t('records.title')}</h1>
      {wide < 48 ? (
        <Field label={t('records.kinds')}>
          <select value={known} onChange={(e) => go(['winter', 'records', e.currentTarget.value])}>
            {KINDS.map((k) => (
              <option key={k} value={k}>
                {word('records.kind', k)}
              </option>
            ))}
          </select>
        </Field>
      ) : (
        <nav class="pages records-kinds" aria-label={t('records.kinds')}>
          {KINDS.map((k) => (
            <a key={k} href={hashOf(['winter', 'records', k])} aria-current={k === known ? 'page' : undefined}>
              {word('records.kind', k)}
            </a>
          ))}
        </nav>
      )}
      <KindGrid key={known} kind={known} />
    </>
  );
}

/** @param {{kind: string}} props */
function KindGrid({ kind }) {
  const columns = useResource('/api/kinds');
  const [rows, setRows] = useState(/** @type {Row[] | null} */ (null));
  const [error, setError] = useState(/** @type {Error | null} */ (null));
  const fetchRows = async () => {
    try {
      setRows(readRows(/** @type {any} */ (await get(`/api/export/${kind}.csv`, { text: true }))));
    } catch (e) {
      setError(e instanceof Error ? e : new Error(String(e)));
    }
  };
  useEffect(() => void fetchRows(), [kind]);
  return (
    <Loaded of={columns}>
      {(all) =>
        error ? (
          <Wrong error={error} />
        ) : rows === null ? (
          <p class="loading">{t('loading')}</p>
        ) : (
          <Sheet
            kind={kind}
            columns={all.filter((c) => c.kind === kind && c.column !== 'temp_f')}
            rows={rows}
            setRows={(change) => setRows((now) => change(now ?? []))}
            again={fetchRows}
          />
        )
      }
    </Loaded>
  );
}

/**
 * @param {object} props
 * @param {string} props.kind
 * @param {Column[]} props.columns
 * @param {Row[]} props.rows
 * @param {(change: (rows: Row[]) => Row[]) => void} props.setRows
 * @param {() => Promise<void>} props.again
 */
function Sheet({ kind, columns, rows, setRows, again }) {
  const [query, setQuery] = useKeptHere(`records.${kind}`, '');
  const [error, setError] = useState(/** @type {Error | null} */ (null));
  const [faults, setFaults] = useState(/** @type {Map<string, string>} */ (new Map()));
  const [busy, setBusy] = useState(false);
  const body = useRef(/** @type {HTMLTableSectionElement | null} */ (null));
  const focus = useRef(/** @type {{id: number, column: string} | null} */ (null));
  const names = columns.map((c) => c.column);
  const walked = kind === 'places';
  const shown = useMemo(() => {
    const words = plain(query).split(/\s+/).filter(Boolean);
    const found = rows.filter(
      (r) => r.was === null || words.every((w) => plain(Object.values(r.now).join(' ')).includes(w)),
    );
    return walked ? byWalk(found) : found;
  }, [rows, query, walked]);
  const typed = (/** @type {import('./records.js').Row} */ r) => isChanged(r) || r.gone || r.was === null;
  const drawn =
    shown.length > MOST_ROWS ? [...shown.filter(typed), ...shown.filter((r) => !typed(r)).slice(0, MOST_ROWS)] : shown;
  const waiting = rows.filter((r) => r.gone || isChanged(r)).length;
  useLeaving(waiting > 0);
  // Before anything is painted: whoever types on at once types into the new row.
  useLayoutEffect(() => {
    const to = focus.current;
    if (!to) return;
    focus.current = null;
    cellAt(body.current, to.id, to.column)?.focus();
  });

  const add = (/** @type {Record<string, string>[]} */ more) => {
    if (busy) return;
    const all = withNew(rows, more);
    setRows(() => all);
    focus.current = { id: all[all.length - more.length]?.id ?? 0, column: names[0] ?? '' };
  };
  const save = async () => {
    setBusy(true);
    setError(null);
    setFaults(new Map());
    const { sent, rows: changed } = toSend(columns, rows);
    try {
      const [answer] = await send(
        'POST',
        `/api/records/${/** @type {'zones'} */ (kind)}`,
        { rows: changed },
        { key: newKey() },
      );
      const note = answer?.note && sentence(answer.note);
      say(note ?? t('records.saved', { n: waiting }), { loud: Boolean(note) });
      await again();
      touch();
    } catch (e) {
      const found = e instanceof Problem ? faultsAt(e.errors, sent) : new Map();
      setFaults(found);
      const first = [...found.keys()][0]?.split(' ');
      if (first) focus.current = { id: Number(first[0]), column: first[1] || (names[0] ?? '') };
      setError(e instanceof Error ? e : new Error(String(e)));
    } finally {
      setBusy(false);
    }
  };
  return (
    <section class="sheet records">
      <p>{word('records.about', kind)}</p>
      <div class="tools">
        {rows.length > 8 && (
          <label class="find">
            <span class="hidden">{t('records.find')}</span>
            <input
              type="search"
              placeholder={t('records.find')}
              value={query}
              onInput={(e) => setQuery(e.currentTarget.value)}
            />
          </label>
        )}
        <button type="button" aria-disabled={busy} onClick={() => add([{}])}>
          {t('records.add')}
        </button>
        <a class="button" href={hashOf(['orders', 'load'])}>
          {t('records.file')}
        </a>
        <a class="button" href={`/api/samples/${kind}.csv`} download={`${kind}.csv`}>
          {t('start.sample')}
        </a>
        <span class="quiet">{t('records.paste')}</span>
      </div>
      {walked && <PlaceRange rows={rows} add={add} busy={busy} />}
      <Lists columns={columns} />
      <div class="scroll-x records-frame" tabIndex={0} role="region" aria-label={word('kind', kind)}>
        <table class="records-grid">
          <thead>
            <tr>
              {walked && <th scope="col">{t('records.turn')}</th>}
              {columns.map((c) => (
                <th key={c.column} scope="col" title={told(c.holds)} class={`records-${c.type}`}>
                  {word('field', c.column)}
                  {c.required && <span aria-hidden="true"> *</span>}
                </th>
              ))}
              <th scope="col">
                <span class="hidden">{t('records.delete')}</span>
              </th>
            </tr>
          </thead>
          <tbody ref={body}>
            {drawn.map((r, i) => (
              <GridRow
                key={r.id}
                row={r}
                busy={busy}
                at={i}
                kind={kind}
                columns={columns}
                faults={faults}
                onCell={(column, text) => setRows((all) => withCells(all, r.id, { [column]: text }))}
                onBlock={(column, block) => setRows((all) => withBlock(all, drawn, names, r.id, column, block))}
                onGone={() => setRows((all) => withGone(all, r.id))}
                onNext={(column, by) => {
                  const next = drawn[i + by];
                  if (next) cellAt(body.current, next.id, column)?.focus();
                  else if (by > 0) add([{}]);
                }}
                onTurn={
                  walked
                    ? (to, id = r.id) => {
                        if (busy) return;
                        focus.current = { id, column: 'turn' };
                        setRows((all) => withMoved(all, id, to));
                      }
                    : undefined
                }
              />
            ))}
          </tbody>
        </table>
      </div>
      {rows.length === 0 && <p class="quiet">{t('records.none')}</p>}
      {drawn.length < shown.length && <p class="quiet">{t('records.more', { n: shown.length - drawn.length })}</p>}
      <Wrong error={error} />
      <div class="form-actions records-save">
        <button type="button" class="main-button" disabled={busy || waiting === 0} onClick={() => void save()}>
          {busy ? t('action.working') : waiting === 0 ? t('action.save') : t('records.save', { n: waiting })}
        </button>
        {waiting > 0 && !busy && (
          <button type="button" onClick={() => (setFaults(new Map()), setError(null), void again())}>
            {t('records.drop')}
          </button>
        )}
      </div>
    </section>
  );
}

/**
 * @param {object} props
 * @param {Row} props.row
 * @param {boolean} props.busy it is being saved: what is typed now would be lost
 * @param {number} props.at
 * @param {string} props.kind
 * @param {Column[]} props.columns
 * @param {Map<string, string>} props.faults
 * @param {(column: string, text: string) => void} props.onCell
 * @param {(column: string, block: string[][]) => void} props.onBlock
 * @param {() => void} props.onGone
 * @param {(column: string, by: number) => void} props.onNext
 * @param {(to: number, id?: number) => void} [props.onTurn] the row, or another that was dragged here, is walked to at that turn
 */
function GridRow({ row, busy, at, kind, columns, faults, onCell, onBlock, onGone, onNext, onTurn }) {
  const name = columns.find((c) => c.key)?.column ?? columns[0]?.column ?? '';
  const called = row.now[name] || t('records.new', { n: at + 1 });
  const wrong = faults.get(`${row.id} `);
  return (
    <tr
      class={`${row.gone ? 'records-gone' : row.was === null ? 'records-new' : isChanged(row) ? 'records-changed' : ''}`}
      onDragOver={(e) => onTurn && e.dataTransfer?.types.includes('text/walk') && e.preventDefault()}
      onDrop={(e) => {
        const dragged = e.dataTransfer?.getData('text/walk');
        if (onTurn && dragged) (e.preventDefault(), onTurn(at, Number(dragged)));
      }}
    >
      {onTurn && (
        <td class="records-turn">
          <button
            type="button"
            class="quiet-button records-grip"
            draggable
            data-cell={`${row.id} turn`}
            aria-label={t('records.turn_of', { place: called, n: at + 1 })}
            title={t('records.turn_how')}
            onDragStart={(e) => e.dataTransfer?.setData('text/walk', String(row.id))}
            onKeyDown={(e) => {
              const by = e.key === 'ArrowUp' ? -1 : e.key === 'ArrowDown' ? 1 : 0;
              if (by !== 0) (e.preventDefault(), onTurn(at + by));
            }}
          >
            ⇅ {at + 1}
          </button>
        </td>
      )}
      {columns.map((c) => (
        <td key={c.column} data-head={word('field', c.column)}>
          <Cell
            column={c}
            id={row.id}
            value={row.now[c.column] ?? ''}
            label={`${word('field', c.column)}, ${called}`}
            fixed={row.gone}
            busy={busy}
            wrong={faults.get(`${row.id} ${c.column}`)}
            onText={(text) => onCell(c.column, text)}
            onBlock={(block) => onBlock(c.column, block)}
            onNext={(by) => onNext(c.column, by)}
          />
        </td>
      ))}
      <td>
        {wrong && <span class="records-wrong">{wrong}</span>}
        {!(KEPT.includes(kind) && row.was !== null) && (
          <button
            type="button"
            class="quiet-button"
            aria-label={t(row.gone ? 'records.keep_it' : 'records.delete_it', { what: called })}
            aria-disabled={busy}
            onClick={() => busy || onGone()}
          >
            {row.gone ? t('records.keep') : '×'}
          </button>
        )}
      </td>
    </tr>
  );
}

/**
 * @param {object} props
 * @param {Column} props.column
 * @param {number} props.id
 * @param {string} props.value
 * @param {string} props.label
 * @param {boolean} props.fixed
 * @param {boolean} props.busy
 * @param {string} [props.wrong]
 * @param {(text: string) => void} props.onText
 * @param {(block: string[][]) => void} props.onBlock
 * @param {(by: number) => void} props.onNext
 */
function Cell({ column, id, value, label, fixed, busy, wrong, onText, onBlock, onNext }) {
  const choices = column.words?.split('|') ?? (column.type === 'yes' ? ['yes', 'no'] : null);
  const shared = {
    'data-cell': `${id} ${column.column}`,
    'aria-label': label,
    'aria-invalid': wrong !== undefined,
    'aria-describedby': wrong === undefined ? undefined : `wrong-${id}-${column.column}`,
    disabled: fixed,
    onKeyDown: (/** @type {KeyboardEvent} */ e) => {
      if (e.key === 'Enter' && !e.isComposing) (e.preventDefault(), onNext(e.shiftKey ? -1 : 1));
    },
  };
  return (
    <>
      {choices ? (
        <select {...shared} disabled={fixed || busy} value={value} onChange={(e) => onText(e.currentTarget.value)}>
          <option value="" />
          {choices.map((c) => (
            <option key={c} value={c}>
              {column.type === 'yes' ? t(c === 'yes' ? 'choice.yes' : 'choice.no') : word(column.column, c)}
            </option>
          ))}
        </select>
      ) : (
        <input
          {...shared}
          readOnly={busy}
          type={/** @type {any} */ (column.type === 'day' ? 'date' : 'text')}
          class={`records-${column.type} ${['name', 'note', 'form'].includes(column.column) ? 'records-wide' : ''}`}
          inputMode={
            column.type === 'whole' ? 'numeric' : ['number', 'money'].includes(column.type) ? 'decimal' : undefined
          }
          list={['variety', 'lot', 'place'].includes(column.type) ? `records-${column.type}` : undefined}
          autoComplete="off"
          placeholder={
            column.type === 'week' ? '2032-W16' : column.type === 'instant' ? '2032-01-31T06:00:00Z' : undefined
          }
          value={value}
          onInput={(e) => onText(e.currentTarget.value)}
          onPaste={(e) => {
            const block = readPasted(e.clipboardData?.getData('text/plain') ?? '');
            if (block) (e.preventDefault(), busy || onBlock(block));
          }}
        />
      )}
      {wrong !== undefined && (
        <span class="records-wrong" id={`wrong-${id}-${column.column}`}>
          {wrong}
        </span>
      )}
    </>
  );
}

/** What a column of codes may hold, offered while typing. @param {{columns: Column[]}} props */
function Lists({ columns }) {
  const has = (/** @type {string} */ type) => columns.some((c) => c.type === type);
  const varieties = useResource(has('variety') ? '/api/varieties' : null).data ?? [];
  const lots = useResource(has('lot') ? '/api/lots' : null).data ?? [];
  const places = useResource(has('place') ? '/api/places' : null).data ?? [];
  return (
    <>
      <datalist id="records-variety">
        {varieties.map((v) => (
          <option key={v.code} value={v.code}>
            {v.name}
          </option>
        ))}
      </datalist>
      <datalist id="records-lot">
        {lots.map((l) => (
          <option key={l.lot} value={l.lot} />
        ))}
      </datalist>
      <datalist id="records-place">
        {places.map((p) => (
          <option key={p.place} value={p.place} />
        ))}
      </datalist>
    </>
  );
}

/** Shelves by the dozen. @param {{rows: Row[], add: (rows: Record<string, string>[]) => void, busy: boolean}} props */
function PlaceRange({ rows, add, busy }) {
  const [range, setRange] = useState('');
  const [room, setRoom] = useState('');
  const codes = rangeOf(range);
  const last = rows.reduce((most, r) => Math.max(most, Number(r.now['walk_order']) || 0), 0);
  return (
    <form
      class="records-range"
      onSubmit={(e) => {
        e.preventDefault();
        if (!codes || busy) return;
        add(codes.map((place, i) => ({ place, room, walk_order: String(Math.floor(last / 10) * 10 + (i + 1) * 10) })));
        setRange('');
      }}
    >
      <Field
        label={t('records.range')}
        hint={range.trim() && !codes ? t('records.range.wrong') : t('records.range.hint')}
      >
        <input
          required
          placeholder="S01-1…S01-12"
          value={range}
          aria-invalid={Boolean(range.trim()) && !codes}
          onInput={(e) => setRange(e.currentTarget.value)}
        />
      </Field>
      <Field label={word('field', 'room')}>
        <input required value={room} onInput={(e) => setRoom(e.currentTarget.value)} />
      </Field>
      <button type="submit" disabled={!codes} aria-disabled={busy}>
        {t('records.range.add', { n: codes?.length ?? 0 })}
      </button>
    </form>
  );
}

/** @param {Element | null} body @param {number} id @param {string} column @returns {HTMLElement | null | undefined} */
const cellAt = (body, id, column) => body?.querySelector(`[data-cell="${id} ${column}"]`);

/** Closing or reloading the tab asks first. @param {boolean} begun */
function useLeaving(begun) {
  useEffect(() => {
    if (!begun) return undefined;
    const ask = (/** @type {BeforeUnloadEvent} */ e) => e.preventDefault();
    window.addEventListener('beforeunload', ask);
    return () => window.removeEventListener('beforeunload', ask);
  }, [begun]);
}
