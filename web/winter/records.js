// SPDX-License-Identifier: MIT
// A grid of rows of one kind of file: as it is read, pasted into, changed, and sent back.

/** @typedef {{kind: string, column: string, required: boolean, holds: string, key: boolean, type: string, words: string | null}} Column */
/**
 * id: for the page's own use; was: as on record, null for a row that is new
 * @typedef {{id: number, was: Record<string, string> | null, now: Record<string, string>, gone: boolean}} Row
 */

/**
 * Cells of CSV (RFC 4180), or of what a spreadsheet puts on the clipboard (tabs).
 * @param {string} text
 * @param {string} [comma]
 * @returns {string[][]}
 */
export function readCells(text, comma = ',') {
  /** @type {string[][]} */
  const rows = [];
  let row = /** @type {string[]} */ ([]);
  let cell = '';
  let quoted = false;
  let begun = false;
  const endCell = () => (row.push(cell), (cell = ''), (begun = false));
  for (let i = 0; i < text.length; i++) {
    const c = text[i];
    if (quoted) {
      if (c !== '"') cell += c;
      else if (text[i + 1] === '"') ((cell += '"'), i++);
      else quoted = false;
    } else if (c === '"' && !begun) ((quoted = true), (begun = true));
    else if (c === comma) endCell();
    else if (c === '\n' || c === '\r') {
      if (c === '\r' && text[i + 1] === '\n') i++;
      endCell();
      rows.push(row);
      row = [];
    } else ((cell += c), (begun = true));
  }
  if (cell !== '' || row.length > 0) (endCell(), rows.push(row));
  return rows;
}

/** What was pasted is a block of cells only when it has more than one. @param {string} text @returns {string[][] | null} */
export function readPasted(text) {
  const rows = readCells(text.replace(/\r?\n$/, ''), '\t').map((r) => r.map((c) => c.trim()));
  return rows.length > 1 || (rows[0]?.length ?? 0) > 1 ? rows : null;
}

/** @param {string} text of an export @returns {Row[]} */
export function readRows(text) {
  const [head = [], ...rows] = readCells(text);
  return rows.map((cells, id) => {
    const was = Object.fromEntries(head.map((name, i) => [name, cells[i] ?? '']));
    return { id, was, now: was, gone: false };
  });
}

/** @param {Row} row */
export const isChanged = (row) =>
  row.was === null
    ? Object.values(row.now).some((v) => v.trim() !== '')
    : Object.keys(row.now).some((c) => row.now[c] !== row.was?.[c]);

/** No two rows, new or not, may be told apart by their place alone. @param {Row[]} rows */
const nextId = (rows) => rows.reduce((most, r) => Math.max(most, r.id), -1) + 1;

/** @param {Row[]} rows @param {Record<string, string>[]} more @returns {Row[]} */
export function withNew(rows, more) {
  const first = nextId(rows);
  return [...rows, ...more.map((now, i) => ({ id: first + i, was: null, now, gone: false }))];
}

/** @param {Row[]} rows @param {number} id @param {Record<string, string>} cells @returns {Row[]} */
export const withCells = (rows, id, cells) =>
  rows.map((r) => (r.id === id ? { ...r, now: { ...r.now, ...cells } } : r));

/** A row that is new goes for good, one on record when it is saved. @param {Row[]} rows @param {number} id @returns {Row[]} */
export const withGone = (rows, id) =>
  rows.flatMap((r) => (r.id !== id ? [r] : r.was === null ? [] : [{ ...r, gone: !r.gone }]));

/**
 * A block laid over the grid from one cell on; what reaches below the last row makes new ones. A first line of our own headings only says
 * which columns the others are.
 * @param {Row[]} rows all of them @param {Row[]} shown those on screen, in their order @param {string[]} columns
 * @param {number} id of the row it begins at @param {string} column @param {string[][]} block @returns {Row[]}
 */
export function withBlock(rows, shown, columns, id, column, block) {
  const heads = block[0]?.map((c) => c.toLowerCase().replaceAll(' ', '_')) ?? [];
  const named = heads.length > 0 && heads.every((h) => columns.includes(h));
  const from = columns.indexOf(column);
  const of = (/** @type {number} */ i) => (named ? heads[i] : columns[from + i]);
  const at = shown.findIndex((r) => r.id === id);
  let out = rows;
  for (const [i, cells] of (named ? block.slice(1) : block).entries()) {
    const values = Object.fromEntries(cells.map((text, c) => [of(c) ?? '', text]).filter(([name]) => name !== ''));
    const target = shown[at + i];
    out = target ? withCells(out, target.id, values) : withNew(out, [values]);
  }
  return out;
}

/**
 * "S01-1…S01-12" or "S01-1..S01-12": each from the first to the last, with as many digits; one code is itself.
 * @param {string} typed
 * @returns {string[] | null}
 */
export function rangeOf(typed) {
  const parts = typed.trim().split(/\s*(?:…|\.\.+)\s*/);
  if (parts.length === 1) return parts[0] ? [parts[0]] : null;
  const [a, b] = parts.map((p) => p.match(/^(.*?)(\d+)$/));
  if (parts.length !== 2 || !a || !b || a[1] !== b[1]) return null;
  const [low, high] = [Number(a[2]), Number(b[2])];
  const digits = /** @type {string} */ (a[2]).length;
  if (high < low || high - low >= 2000) return null;
  return Array.from({ length: high - low + 1 }, (_, i) => a[1] + String(low + i).padStart(digits, '0'));
}

/** Places in their order of walking. @param {Row[]} rows */
export const byWalk = (rows) =>
  [...rows].sort((a, b) => Number(a.now['walk_order']) - Number(b.now['walk_order']) || a.id - b.id);

/**
 * A place is walked to at another turn. Its number goes between its new neighbours'; where there is no room the whole
 * walk is numbered anew in tens.
 * @param {Row[]} rows @param {number} id @param {number} to place in the walk, from 0 @returns {Row[]}
 */
export function withMoved(rows, id, to) {
  const walk = byWalk(rows.filter((r) => !r.gone));
  const moved = walk.find((r) => r.id === id);
  if (!moved) return rows;
  const rest = walk.filter((r) => r.id !== id);
  const at = Math.max(0, Math.min(to, rest.length));
  const before = at === 0 ? 0 : Number(rest[at - 1]?.now['walk_order']);
  const after = at === rest.length ? before + 20 : Number(rest[at]?.now['walk_order']);
  const between = Math.floor((before + after) / 2);
  if (between > before && between < after) return withCells(rows, id, { walk_order: String(between) });
  const order = [...rest.slice(0, at), moved, ...rest.slice(at)];
  return order.reduce((all, r, i) => withCells(all, r.id, { walk_order: String((i + 1) * 10) }), rows);
}

/**
 * What is sent: each row that was changed, as it was seen and as it shall be; null where it is new, or goes. A column that was never
 * touched in a new row is not spoken of.
 * @param {Column[]} columns @param {Row[]} rows
 */
export function toSend(columns, rows) {
  const names = columns.map((c) => c.column);
  const cells = (/** @type {Record<string, string>} */ r) =>
    Object.fromEntries(names.filter((c) => r[c] !== undefined).map((c) => [c, (r[c] ?? '').trim()]));
  const sent = rows.filter((r) => (r.gone ? r.was !== null : isChanged(r)));
  return { sent, rows: sent.map((r) => ({ was: r.was && cells(r.was), now: r.gone ? null : cells(r.now) })) };
}

/**
 * Which cell a fault is in: rows are counted from the first that was sent.
 * @param {{row?: number | null, column?: string | number | null, detail: string}[]} faults @param {Row[]} sent
 * @returns {Map<string, string>} "id column" to what is wrong; column "" for the row
 */
export function faultsAt(faults, sent) {
  return new Map(
    faults.flatMap((f) => {
      const row = sent[(f.row ?? 0) - 1];
      return row ? [[`${row.id} ${f.column ?? ''}`, f.detail]] : [];
    }),
  );
}
