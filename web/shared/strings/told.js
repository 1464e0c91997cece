// SPDX-License-Identifier: MIT
// A sentence of the server's in the language that is spoken (sentences.js). One that the list does not have stays as it came.

import { spokenLocale, t, word } from './text.js';

/**
 * @typedef {object} Known plain: letters that are no value; must: most of them in a row
 * @property {RegExp} pattern
 * @property {number} plain
 * @property {string} must
 * @property {string} says
 */

/** How the server writes a value, by what the other language makes of it; anything else may be any text. */
const WRITTEN = /** @type {Record<string, string>} */ ({
  number: String.raw`[-+]?\d+(?:\.\d+)?`,
  day: String.raw`\d{4}-\d\d-\d\d|\d{1,2} [A-Z][a-z]+ \d{4}`,
  week: String.raw`\d{4}-W\d\d`,
  stage: 'clumps|divisions',
  because: '(?:: [^\\n]*)?',
});
/** Values that are counts with their noun: "{0:clumps}" is "1 clump" or "7 clumps" (texts count.*). */
const COUNTED = [
  'clumps',
  'crates',
  'divisions',
  'lines',
  'lots',
  'minutes',
  'parcels',
  'plants',
  'seasons',
  'varieties',
  'weeks',
];
for (const noun of COUNTED) WRITTEN[noun] = WRITTEN.number ?? '';

/** @type {Known[]} */
let known = [];
let plural = new Intl.PluralRules('en');
let spoken = false;
/** What was told already, and what is no sentence of ours. @type {Map<string, string | null>} */
const found = new Map();
const FOUND_MOST = 4000;

/**
 * From here on sentences are told in this language.
 * @param {string} code
 * @param {Record<string, string>} sentences by the English ones; none: they are told as they come
 */
export function tellIn(code, sentences) {
  plural = new Intl.PluralRules(code);
  known = [];
  tellAlso(sentences);
  spoken = known.length > 0;
}

/** More sentences of the language that is spoken. @param {Record<string, string>} sentences */
export function tellAlso(sentences) {
  found.clear();
  fitting.clear();
  for (const [english, says] of Object.entries(sentences)) known.push({ ...patternOf(english, says), says });
  known.sort((a, b) => b.plain - a.plain); // of two that fit, the one that leaves less to be filled in
}

/** @param {string} english @param {string} says */
function patternOf(english, says) {
  const as = new Map([...says.matchAll(/\{(\d)(?::(\w+))?\}/g)].map((m) => [m[1], m[2] ?? '']));
  const parts = english.split(/\{(\d)\}/);
  const source = parts.map((part, i) => {
    if (i % 2 === 0) return part.replace(/[.*+?^${}()|[\]\\]/g, '\\$&');
    if (!as.has(part) && /[a-z]$/.test(parts[i - 1] ?? '')) return '([a-z ]{0,8}?)'; // an ending of English's plural
    const written = WRITTEN[as.get(part) ?? ''];
    return written ? `(${written})` : '([^\\n]*?)';
  });
  const literals = parts.filter((_, i) => i % 2 === 0);
  return {
    pattern: new RegExp(`^${source.join('')}$`),
    plain: literals.join('').length,
    must: figures(literals.reduce((longest, part) => (part.length > longest.length ? part : longest), '')),
  };
}

/** @param {string} text @returns {string} */
export function told(text) {
  if (!spoken) return text;
  return text.replace(/[^\s][^\n]*/g, (line) => found.get(line) ?? chain(line, mayFit(line)) ?? line);
}

/** Those that a text like this, but for its figures, or a part of it may be. @type {Map<string, Known[]>} */
const fitting = new Map();
const figures = (/** @type {string} */ text) => text.replace(/\d+/g, '#');

/** Looking for letters is a hundred times quicker than trying each. @param {string} text */
function mayFit(text) {
  const like = figures(text);
  let of = fitting.get(like);
  if (!of) {
    of = known.filter((k) => like.includes(k.must));
    if (fitting.size >= FOUND_MOST) fitting.clear();
    fitting.set(like, of);
  }
  return of;
}

/**
 * One sentence, or several, or one whose clauses stand in the list by themselves; null when any of it does not. What is told whole comes
 * first: a value that may be any text could else swallow a clause.
 * @param {string} text
 * @param {Known[]} of
 * @returns {string | null}
 */
function chain(text, of) {
  const before = found.get(text);
  if (before !== undefined) return before;
  const says = text === '.' ? text : (put(text, of, true) ?? put(text, of, false));
  if (found.size >= FOUND_MOST) found.clear();
  found.set(text, says);
  return says;
}

/** Between two sentences, and between two clauses: after a mark, or before one that goes on. */
const SENTENCES = /(?<=[.?!]) (?=\S)/g;
const CLAUSES = /(?<=[;:,]) | (?=\()|(?=[;:,] |\.$)/g;

/** @param {string} text @param {Known[]} of @param {boolean} whole no clause may be left in English */
const put = (text, of, whole) =>
  parted(text, SENTENCES, of, whole) ?? parted(text, CLAUSES, of, whole) ?? one(text, of, whole);

/**
 * The shortest beginning that is known so that the rest is, too.
 * @param {string} text
 * @param {RegExp} joint
 * @param {Known[]} of
 * @param {boolean} whole
 */
function parted(text, joint, of, whole) {
  if (of.length === 0) return null;
  for (const m of text.matchAll(joint)) {
    const head = m.index === 0 ? null : one(text.slice(0, m.index), of, whole);
    const rest = head === null ? null : chain(text.slice(m.index + m[0].length), of);
    if (rest !== null) return `${head}${m[0]}${rest}`;
  }
  return null;
}

/** @param {string} text @param {Known[]} of @param {boolean} whole */
function one(text, of, whole) {
  for (const { pattern, says } of of) {
    const values = pattern.exec(text)?.slice(1);
    if (values && !(whole && leavesEnglish(says, values, of))) return fill(says, values);
  }
  return null;
}

/** Is one of its values a clause that the list does not have? @param {string} says @param {string[]} values @param {Known[]} of */
const leavesEnglish = (says, values, of) =>
  [...says.matchAll(/\{(\d):said\}/g)].some((m) => {
    const value = (values[Number(m[1])] ?? '').trim();
    return value.includes(' ') && chain(value, of) === null;
  });

/** @param {string} says @param {string[]} values */
function fill(says, values) {
  const forms = says.split('|');
  const form = forms.length === 1 || plural.select(Number(values[0])) === 'one' ? forms[0] : forms[1];
  return (form ?? says).replace(/\{(\d)(?::(\w+))?\}/g, (_, at, as) => {
    const value = values[Number(at)] ?? '';
    return as === undefined ? value : filled(as, value);
  });
}

/** @param {string} as @param {string} value */
function filled(as, value) {
  if (as === 'said') return told(value);
  if (as === 'number') return numberOf(value);
  if (as === 'day') return /^\d{4}-/.test(value) ? value : new Date(`${value} UTC`).toISOString().slice(0, 10);
  if (as === 'week' || as === 'because') return value;
  if (COUNTED.includes(as)) return t(/** @type {import('./text.js').Key} */ (`count.${as}`), { n: Number(value) });
  const [own = '', ...rest] = value.split(/(?=,)/); // "first-come, tiers first"
  return value === own && word(as, own) === own ? told(value) : word(as, own) + rest.map(told).join('');
}

/** With as many digits as the server wrote. @param {string} value */
function numberOf(value) {
  const digits = value.split('.')[1]?.length ?? 0;
  const sign = value.startsWith('+') ? 'exceptZero' : 'auto';
  const form = { minimumFractionDigits: digits, maximumFractionDigits: digits, signDisplay: sign };
  return new Intl.NumberFormat(spokenLocale(), /** @type {Intl.NumberFormatOptions} */ (form)).format(Number(value));
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
