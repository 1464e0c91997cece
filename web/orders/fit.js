// SPDX-License-Identifier: MIT
// What is told of a spreadsheet's fit, as it grows by answers (core/desk/sheets/sheets_answer.c does the same), and the
// bytes that go with it.

/** @typedef {import('../contract').Answers['POST /api/sheets/look']} Look */
/** @typedef {Look['doubts'][number]} Doubt */
/** @typedef {Look['fit']} Fit */

/** "BC" -> its index. @param {string} letters */
export const columnIndex = (letters) => [...letters].reduce((n, c) => n * 26 + c.charCodeAt(0) - 64, 0) - 1;

/** @param {Fit} fit @param {number} at @param {string | null} field @returns {Fit} */
export function withColumn(fit, at, field) {
  const columns = [...(fit.columns ?? [])];
  while (columns.length <= at) columns.push(null);
  columns[at] = field;
  return { ...fit, columns };
}

/** @param {Fit} fit @param {Doubt} doubt @param {string} value @returns {Fit} */
export function answered(fit, doubt, value) {
  const { what, at, field, text } = doubt;
  if (what === 'column') return withColumn(fit, at ?? 0, value);
  if (what === 'rival') {
    const chosen = columnIndex(value);
    const other = chosen === at ? fit : withColumn(fit, at ?? 0, '');
    return withColumn(other, chosen, field);
  }
  if (what === 'headings')
    return (text ?? '').split(' ').reduce((told, letters) => withColumn(told, columnIndex(letters), value), fit);
  if (what === 'missing') return { ...fit, constants: [...(fit.constants ?? []), { field: field ?? '', value }] };
  if (what === 'name')
    return {
      ...fit,
      names: [...(fit.names ?? []), { text: text ?? '', code: value.replace(/^\+/, ''), new: value.startsWith('+') }],
    };
  return { ...fit, [what]: value };
}

/**
 * A new code for what the program makes, instead of the one it proposed.
 * @param {Fit} fit
 * @param {string} text
 * @param {string} code
 * @returns {Fit}
 */
export const withCode = (fit, text, code) => ({
  ...fit,
  names: [...(fit.names ?? []).filter((n) => n.text !== text), { text, code, new: true }],
});

/** @param {Uint8Array} bytes */
export function base64(bytes) {
  let out = '';
  // Whole groups of three bytes, so that the pieces can be put together.
  for (let i = 0; i < bytes.length; i += 24573) out += btoa(String.fromCharCode(...bytes.subarray(i, i + 24573)));
  return out;
}

/** One of our own files by its name: it begins with a kind. @param {string} name */
export const mayBeOurs = (name) => /\.csv$/i.test(name);

/** Is a variety among the rows that has another one's name? @param {Look} look as it was refused @param {number} status */
export const asksForName = (look, status) => status === 409 && look.problems.some((p) => p.field === 'varieties.name');
