// SPDX-License-Identifier: MIT
// The table of many rows: a native table with the grid role, of which only the rows in sight exist. Arrow keys move
// from cell to cell, Enter edits or opens, Enter on a heading sorts, Escape gives an edit up.

import { useEffect, useLayoutEffect, useMemo, useRef, useState } from 'preact/hooks';
import { keep, kept, useKeptHere } from '../back.js';
import { sayError } from '../dialog.jsx';
import { groupRows, inSight } from './grid.js';
import { t } from '../strings/text.js';
import { useThrottled } from '../net/use.js';

/** @typedef {import('./grid.js').Sorting} Sorting */
/** @typedef {import('preact').ComponentChildren} Children */

/**
 * @template R
 * @typedef {object} Column
 * @property {string} key
 * @property {string} head
 * @property {number} [width] in rem; the column without one takes what is left
 * @property {boolean} [right] figures stand to the right
 * @property {boolean} [sorts]
 * @property {string} [hint]
 * @property {(row: R) => Children} cell
 * @property {{text: (row: R) => string, save: (row: R, text: string) => Promise<void>}} [edit] save throws an Error whose
 *     message is a sentence; the edit then stays open with what was typed
 */

/** Height of a row, in rem: the same for all, so that rows out of sight need no measuring. */
const ROW_REM = 2.125;

/** When the rows out of sight are drawn after a change. */
const SPARE_MS = 60;

/** No cell has been gone to yet. */
const NOWHERE = { row: -1, col: 0 };

/** @returns {number} */
function remPx() {
  return parseFloat(getComputedStyle(document.documentElement).fontSize) || 16;
}

/**
 * @template R
 * @param {object} props
 * @param {string} props.label name for a screen reader
 * @param {R[]} props.rows
 * @param {Column<R>[]} props.columns
 * @param {(row: R) => string} props.rowKey
 * @param {Sorting | null} [props.sorting]
 * @param {(key: string) => void} [props.onSort]
 * @param {((row: R) => string) | null} [props.group]
 * @param {(row: R) => void} [props.onOpen] Enter or click on a cell that is not edited
 * @param {(row: R) => string} [props.rowClass]
 * @param {string} [props.empty]
 */
export function Grid({ label, rows, columns, rowKey, sorting, onSort, group, onOpen, rowClass, empty }) {
  const items = useMemo(() => groupRows(rows, group ?? null), [rows, group]);
  const frame = useRef(/** @type {HTMLDivElement | null} */ (null));
  const table = useRef(/** @type {HTMLTableElement | null} */ (null));
  const rowPx = useMemo(() => Math.round(ROW_REM * remPx()), []);
  const [view, setView] = useState({ top: 0, height: 800 });
  const [at, setAt] = useKeptHere(`grid.${label}`, NOWHERE);
  const [editing, setEditing] = useState(
    /** @type {{key: string, col: number, wrong: string, busy?: boolean} | null} */ (null),
  );
  const now = useRef(editing); // when an answer comes
  now.current = editing;
  // Come back to, the cell that was gone to has the focus again.
  const wantFocus = useRef(at.row >= 0);
  const note = useThrottled((/** @type {number} */ top) => keep(`grid.top.${label}`, top), 250);
  const headPx = useRef(0);
  const [spared, setSpared] = useState(/** @type {unknown} */ (null));

  // Other rows, another order: first those in sight, so that it shows at once; the spare ones after that frame.
  useEffect(() => {
    const timer = setTimeout(() => setSpared(items), SPARE_MS);
    return () => clearTimeout(timer);
  }, [items]);

  useLayoutEffect(() => {
    const element = frame.current;
    if (!element) return undefined;
    const measure = () => {
      headPx.current = element.querySelector('thead')?.clientHeight ?? 0;
      setView({ top: element.scrollTop, height: element.clientHeight });
    };
    element.scrollTop = Number(kept(`grid.top.${label}`) ?? 0);
    measure();
    const watcher = new ResizeObserver(measure);
    watcher.observe(element);
    return () => watcher.disconnect();
  }, []);

  // The focused cell must exist before it can be focused: scroll first, focus when it is drawn; before the next key is heard.
  useLayoutEffect(() => {
    if (!wantFocus.current) return;
    const cell = table.current?.querySelector(`[data-at="${at.row}.${at.col}"]`);
    if (cell instanceof HTMLElement) {
      wantFocus.current = false;
      cell.focus({ preventScroll: at.row >= 0 });
    }
  });

  /** @param {number} row @param {number} col */
  const move = (row, col) => {
    const nextRow = Math.max(-1, Math.min(items.length - 1, row));
    const nextCol = Math.max(0, Math.min(columns.length - 1, col));
    setEditing(null);
    wantFocus.current = true;
    setAt({ row: nextRow, col: nextCol });
    reveal(frame.current, nextRow, rowPx);
  };

  /** Up or down over group headings. @param {number} from @param {number} by */
  const skip = (from, by) => {
    let row = from + by;
    while (row > 0 && row < items.length - 1 && items[row]?.kind === 'group') row += Math.sign(by);
    return row;
  };

  /** @param {KeyboardEvent} event */
  const pressed = (event) => {
    if (editing) return;
    const page = Math.max(1, Math.floor(view.height / rowPx) - 2);
    const end = event.ctrlKey || event.metaKey;
    /** @type {Record<string, () => void>} */
    const keys = {
      ArrowDown: () => move(skip(at.row, 1), at.col),
      ArrowUp: () => move(skip(at.row, -1), at.col),
      ArrowLeft: () => move(at.row, at.col - 1),
      ArrowRight: () => move(at.row, at.col + 1),
      PageDown: () => move(at.row + page, at.col),
      PageUp: () => move(Math.max(0, at.row - page), at.col),
      Home: () => move(end ? 0 : at.row, 0),
      End: () => move(end ? items.length - 1 : at.row, columns.length - 1),
      Enter: () => act(at.row, at.col),
      F2: () => startEdit(at.row, at.col),
    };
    const key = keys[event.key];
    if (!key) return;
    event.preventDefault();
    key();
  };

  /** @param {number} row @param {number} col */
  const act = (row, col) => {
    const column = columns[col];
    if (!column) return;
    if (row < 0) {
      if (column.sorts && onSort) onSort(column.key);
      return;
    }
    if (column.edit) startEdit(row, col);
    else openRow(row);
  };

  /** @param {number} row */
  const openRow = (row) => {
    const item = items[row];
    if (item?.kind === 'row' && onOpen) onOpen(item.row);
  };

  /** @param {number} row @param {number} col */
  const startEdit = (row, col) => {
    const item = items[row];
    if (item?.kind !== 'row' || !columns[col]?.edit) return;
    setAt({ row, col });
    setEditing({ key: rowKey(item.row), col, wrong: '' });
  };

  /** @param {R} row @param {number} col @param {string} text @param {number} next rows to go on by */
  const save = async (row, col, text, next) => {
    const edit = columns[col]?.edit;
    if (!edit) return;
    if (text.trim() === edit.text(row).trim()) {
      if (next !== 0) move(skip(at.row, next), col);
      else setEditing(null);
      return;
    }
    const key = rowKey(row);
    // Whoever went on to another cell while the server was asked stays there.
    const isHere = () => now.current?.key === key && now.current.col === col;
    setEditing({ key, col, wrong: '', busy: true });
    try {
      await edit.save(row, text);
      if (!isHere()) return;
      const focus = document.activeElement;
      const held = focus === document.body || focus?.closest('.grid-edit');
      setEditing(null);
      if (next !== 0 && held) move(skip(at.row, next), col);
      else wantFocus.current = focus === document.body;
    } catch (error) {
      if (now.current && !isHere()) sayError(error);
      else setEditing({ key, col, wrong: error instanceof Error ? error.message : String(error) });
    }
  };

  const { first, last } = inSight(
    view.top,
    view.height - headPx.current,
    rowPx,
    items.length,
    spared === items ? undefined : 0,
  );
  const shown = items.slice(first, last);
  const wide = columns.reduce((sum, c) => sum + (c.width ?? 9), 0);
  return (
    <div
      class="grid-frame"
      ref={frame}
      onScroll={(e) => {
        setView({ top: e.currentTarget.scrollTop, height: e.currentTarget.clientHeight });
        note(e.currentTarget.scrollTop);
      }}
    >
      <table
        role="grid"
        class="grid"
        aria-label={label}
        aria-rowcount={items.length + 1}
        aria-colcount={columns.length}
        ref={table}
        onKeyDown={pressed}
        style={{ minWidth: `${wide}rem` }}
      >
        <colgroup>
          {columns.map((c) => (
            <col key={c.key} style={c.width ? { width: `${c.width}rem` } : {}} />
          ))}
        </colgroup>
        <thead>
          <tr aria-rowindex={1}>
            {columns.map((c, col) => (
              <Head
                key={c.key}
                column={c}
                sorting={sorting ?? null}
                active={at.row === -1 && at.col === col}
                place={`-1.${col}`}
                onPick={() => (setAt({ row: -1, col }), c.sorts && onSort?.(c.key))}
              />
            ))}
          </tr>
        </thead>
        <tbody>
          {first > 0 && <Spacer height={first * rowPx} columns={columns.length} />}
          {shown.map((item, i) => {
            const index = first + i;
            if (item.kind === 'group') {
              return (
                <tr
                  key={`group ${item.name}`}
                  class="grid-group"
                  aria-rowindex={index + 2}
                  style={{ height: `${rowPx}px` }}
                >
                  <td colSpan={columns.length} tabIndex={-1} data-at={`${index}.${at.col}`}>
                    {item.name || t('grid.no_group')} <span class="quiet">{t('grid.count', { n: item.count })}</span>
                  </td>
                </tr>
              );
            }
            const row = item.row;
            const key = rowKey(row);
            return (
              // Keyed by place, not by row: sorting then changes texts instead of making all cells anew.
              <tr key={index} aria-rowindex={index + 2} class={rowClass?.(row)} style={{ height: `${rowPx}px` }}>
                {columns.map((c, col) => {
                  const edits = editing !== null && editing.key === key && editing.col === col;
                  const active = at.row === index && at.col === col;
                  return (
                    <td
                      key={c.key}
                      class={`${c.right ? 'right' : ''} ${c.edit ? (edits ? 'editing' : 'edits') : ''}`}
                      data-at={`${index}.${col}`}
                      tabIndex={active && !edits ? 0 : -1}
                      onFocus={() => !active && !edits && setAt({ row: index, col })}
                      onClick={() => (c.edit ? !edits && startEdit(index, col) : onOpen?.(row))}
                    >
                      {edits && c.edit ? (
                        <Editor
                          label={`${c.head}, ${key}`}
                          text={c.edit.text(row)}
                          wrong={editing.wrong}
                          busy={editing.busy ?? false}
                          onSave={(text, next) => save(row, col, text, next)}
                          onLeave={() => move(index, col)}
                        />
                      ) : (
                        c.cell(row)
                      )}
                    </td>
                  );
                })}
              </tr>
            );
          })}
          {last < items.length && <Spacer height={(items.length - last) * rowPx} columns={columns.length} />}
        </tbody>
      </table>
      {items.length === 0 && <p class="grid-empty">{empty ?? t('grid.empty')}</p>}
    </div>
  );
}

/**
 * @param {object} props
 * @param {Column<any>} props.column
 * @param {Sorting | null} props.sorting
 * @param {boolean} props.active
 * @param {string} props.place
 * @param {() => void} props.onPick
 */
function Head({ column, sorting, active, place, onPick }) {
  const sorted = sorting?.key === column.key ? (sorting.down ? 'descending' : 'ascending') : undefined;
  return (
    <th
      scope="col"
      class={`${column.right ? 'right' : ''} ${column.sorts ? 'sorts' : ''}`}
      aria-sort={sorted ?? (column.sorts ? 'none' : undefined)}
      tabIndex={active ? 0 : -1}
      data-at={place}
      title={column.hint}
      onClick={onPick}
    >
      {column.head}
      {sorted && <span aria-hidden="true">{sorted === 'ascending' ? ' ↑' : ' ↓'}</span>}
    </th>
  );
}

/** Stands for the rows out of sight. @param {{height: number, columns: number}} props */
function Spacer({ height, columns }) {
  return (
    <tr aria-hidden="true">
      <td colSpan={columns} class="grid-spacer" style={{ height: `${height}px` }} />
    </tr>
  );
}

/**
 * @param {object} props
 * @param {string} props.label
 * @param {string} props.text
 * @param {string} props.wrong
 * @param {boolean} props.busy the server is asked: it shows what was typed, and takes nothing more
 * @param {(text: string, next: number) => void} props.onSave
 * @param {() => void} props.onLeave
 */
function Editor({ label, text, wrong, busy, onSave, onLeave }) {
  const input = useRef(/** @type {HTMLInputElement | null} */ (null));
  const left = useRef(false);
  useLayoutEffect(() => {
    input.current?.focus();
    input.current?.select();
  }, []);
  useEffect(() => {
    if (wrong) left.current = false;
  }, [wrong]);
  /** @param {KeyboardEvent & {currentTarget: HTMLInputElement}} event */
  const pressed = (event) => {
    event.stopPropagation();
    if (event.key === 'Escape') {
      left.current = true;
      onLeave();
    } else if (event.key === 'Enter') {
      event.preventDefault();
      if (busy) return;
      left.current = true;
      onSave(event.currentTarget.value, event.shiftKey ? -1 : 1);
    }
  };
  return (
    <span class="grid-edit">
      <input
        ref={input}
        aria-label={label}
        aria-invalid={wrong ? 'true' : undefined}
        readOnly={busy}
        inputMode="decimal"
        autoComplete="off"
        defaultValue={text}
        onKeyDown={pressed}
        onClick={(e) => e.stopPropagation()}
        onBlur={(e) => !left.current && !busy && onSave(e.currentTarget.value, 0)}
      />
      {wrong && (
        <span class="grid-wrong" role="alert">
          {wrong}
        </span>
      )}
    </span>
  );
}

/** @param {HTMLElement | null} frame @param {number} row @param {number} rowPx */
function reveal(frame, row, rowPx) {
  if (!frame || row < 0) return;
  const head = frame.querySelector('thead')?.clientHeight ?? rowPx;
  const top = row * rowPx;
  if (top < frame.scrollTop) frame.scrollTop = top;
  else if (top + rowPx > frame.scrollTop + frame.clientHeight - head)
    frame.scrollTop = top + rowPx - frame.clientHeight + head;
}
