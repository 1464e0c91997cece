// SPDX-License-Identifier: MIT
// A sentence of the server's in the language that is spoken (sentences.js). One that the list does not have stays as it came.

import { word } from './text.js';

/** @typedef {{pattern: RegExp, plain: number, says: string}} Known plain: letters that are no value */

/** @type {Known[]} */
let known = [];
let plural = new Intl.PluralRules('en');
let spoken = false;

/**
 * From here on sentences are told in this language.
 * @param {string} code
 * @param {Record<string, string>} sentences by the English ones; none: they are told as they come
 */
export function tellIn(code, sentences) {
  plural = new Intl.PluralRules(code);
  known = Object.entries(sentences)
    .map(([english, says]) => ({ ...patternOf(english), says }))
    .sort((a, b) => b.plain - a.plain); // of two that fit, the one that leaves less to be filled in
  spoken = known.length > 0;
}

/** @param {string} english */
function patternOf(english) {
  const parts = english.split(/\{\d\}/);
  const source = parts.map((p) => p.replace(/[.*+?^${}()|[\]\\]/g, '\\$&')).join('([^]*?)');
  return { pattern: new RegExp(`^${source}$`), plain: parts.join('').length };
}

/** @param {string} text @returns {string} */
export function told(text) {
  for (const { pattern, says } of known) {
    const values = pattern.exec(text)?.slice(1);
    if (values) return fill(says, values);
  }
  return text;
}

/** @param {string} says @param {string[]} values */
function fill(says, values) {
  const forms = says.split('|');
  const form = forms.length === 1 || plural.select(Number(values[0])) === 'one' ? forms[0] : forms[1];
  return (form ?? says).replace(/\{(\d)(?::(\w+))?\}/g, (_, at, as) => {
    const value = values[Number(at)] ?? '';
    if (as === undefined) return value;
    return as === 'said' ? told(value) : word(as, value);
  });
}

/** The name of a column or member, which stands before a refusal. @param {string | number} column */
export const toldColumn = (column) => (spoken ? word('field', String(column)) : String(column));

/**
 * What a refusal says: "file:row: column: sentence", where the first fault tells which part is which.
 * @param {string} line
 * @param {{detail: string, column?: string | number | null}} [fault]
 */
export function toldLine(line, fault) {
  if (!spoken) return line;
  if (!fault || !line.endsWith(fault.detail)) return told(line);
  const before = line.slice(0, line.length - fault.detail.length);
  const column = fault.column === undefined || fault.column === null ? '' : `${fault.column}: `;
  const place = column && before.endsWith(column) ? before.slice(0, before.length - column.length) : before;
  return `${place}${place === before ? '' : `${toldColumn(/** @type {string | number} */ (fault.column))}: `}${told(fault.detail)}`;
}
