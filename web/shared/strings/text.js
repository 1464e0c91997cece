// SPDX-License-Identifier: MIT
import en from './en.js';

/** @typedef {keyof typeof en} Key */
/** @typedef {Record<string, string | number>} Values */

const plural = new Intl.PluralRules('en');

/**
 * The text of a key, with {names} filled in. A text "one clump|{n} clumps" is chosen by the value n.
 * @param {Key} key
 * @param {Values} [values]
 * @returns {string}
 */
export function t(key, values) {
  const text = en[key];
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
  const key = `${prefix}.${word}`;
  return key in en ? en[/** @type {Key} */ (key)] : word;
}

/** @param {string} form @param {Values} [values] */
function fill(form, values) {
  if (!values) return form;
  return form.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? show(values[name]) : whole));
}

const grouped = new Intl.NumberFormat(globalThis.navigator?.language || 'en-US');

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
  return en[key].split(/\{(\w+)\}/).map((part, i) => (i % 2 === 0 ? part : (values[part] ?? '')));
}
