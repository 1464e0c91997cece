// SPDX-License-Identifier: MIT
// The server's sentences name days and weeks as ISO 8601 does. Here, and only here, they become the reader's own.

import { makeFormat } from './format.js';
import { spokenLocale, t } from './text.js';
import { told } from './told.js';

/** A week with the word before it, or a day, that stands by itself: no part of a code or of an instant, and no example in quotes. */
const NAMED = /(?<!["\w-])(?:((?:[Ww]eek|Woche|semaine) )?(\d{4}-W\d{2})|(\d{4}-\d{2}-\d{2}))\b(?![-T\d])/g;

/** @param {string} text @param {import('./format.js').Format} format */
export function inReadersForm(text, format) {
  return text.replace(NAMED, (whole, word, week, day) => {
    if (day) return Number.isNaN(Date.parse(day)) ? whole : format.day(day);
    return word ? `${word}${format.week(week)}` : t('find.week', { week: format.week(week) });
  });
}

/** Made once for a locale. @type {{locale: string, format: import('./format.js').Format} | null} */
let own = null;

/** A sentence of the server's in the reader's language and form. @param {string} text */
export function sentence(text) {
  const locale = spokenLocale();
  if (own?.locale !== locale) own = { locale, format: makeFormat(locale) };
  return inReadersForm(told(text), own.format);
}

/** Members whose texts are the server's own sentences, never what a person typed. */
const SAID = /^(sentences?|notes|tells|reason_\w+)$/;

/** @param {unknown} value @returns {unknown} */
function saidIn(value) {
  if (typeof value === 'string') return sentence(value);
  return Array.isArray(value) ? value.map((one) => (typeof one === 'string' ? sentence(one) : one)) : value;
}

/**
 * What came from the server as JSON, its sentences in the reader's language and form.
 * @param {string} text
 * @returns {any}
 */
export function parseAnswer(text) {
  if (!/"(sentences?|notes|tells|reason_\w+)":/.test(text)) return JSON.parse(text); // most answers: quicker by half
  return JSON.parse(text, (name, value) => (SAID.test(name) ? saidIn(value) : value));
}
