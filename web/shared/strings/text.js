// SPDX-License-Identifier: MIT
// A text by its key, in the language that is spoken. Which one that is, is said once before anything is drawn (shared/language.js).

/** @typedef {keyof typeof import('./en.js').default} Key */
/** @typedef {Record<string, string | number>} Values */

let locale = 'en-US';
/** @type {Record<string, string>} */
let texts = {};
let plural = new Intl.PluralRules('en');
let grouped = new Intl.NumberFormat(locale);

/**
 * From here on texts are of this language.
 * @param {string} code
 * @param {Record<string, string>} table
 * @param {string} [as] the locale in which its figures are written
 */
export function speak(code, table, as = code) {
  locale = as;
  texts = table;
  plural = new Intl.PluralRules(code);
  grouped = new Intl.NumberFormat(as);
}

/** The locale in which figures and days are written now. */
export const spokenLocale = () => locale;

/**
 * The text of a key, with {names} filled in. A text "one clump|{n} clumps" is chosen by the value n, as the language counts.
 * @param {Key} key
 * @param {Values} [values]
 * @returns {string}
 */
export function t(key, values) {
  const text = texts[key] ?? key;
  const forms = text.split('|');
  const form =
    forms.length === 1 || values === undefined || plural.select(Number(values.n)) === 'one' ? forms[0] : forms[1];
  return fill(form ?? text, values);
}

/**
 * A text for a word that came from the data ("rotten", "first-come"): the word itself when no text is known.
 * @param {string} prefix
 * @param {string | null | undefined} word
 */
export function word(prefix, word) {
  if (word === null || word === undefined || word === '') return '';
  return texts[`${prefix}.${word}`] ?? word;
}

/** @param {string} form @param {Values} [values] */
function fill(form, values) {
  if (!values) return form;
  return form.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? show(values[name]) : whole));
}

/** @param {string | number | undefined} value */
function show(value) {
  return typeof value === 'number' ? grouped.format(value) : String(value);
}

/**
 * As t(), but values may be elements: gives the pieces in order.
 * @param {Key} key
 * @param {Record<string, import('preact').ComponentChild>} values
 * @returns {import('preact').ComponentChild[]}
 */
export function rich(key, values) {
  return (texts[key] ?? key).split(/\{(\w+)\}/).map((part, i) => (i % 2 === 0 ? part : (values[part] ?? '')));
}
