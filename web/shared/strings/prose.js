// SPDX-License-Identifier: MIT
// The server's sentences name days and weeks as ISO 8601 does. Here, and only here, they become the reader's own.

import { makeFormat } from './format.js';
import { spokenLocale } from './text.js';

/** A week with the word before it, or a day, that stands by itself: no part of a code or of an instant, and no example in quotes. */
const NAMED = /(?<!["\w-])(?:([Ww]eek )?(\d{4}-W\d{2})|(\d{4}-\d{2}-\d{2}))\b(?![-T\d])/g;

/** @param {string} text @param {import('./format.js').Format} format */
export function inReadersForm(text, format) {
  return text.replace(NAMED, (whole, word, week, day) => {
    if (day) return Number.isNaN(Date.parse(day)) ? whole : format.day(day);
    return `${word ?? 'week '}${format.week(week)}`;
  });
}

/** Made once for a locale. @type {{locale: string, format: import('./format.js').Format} | null} */
let own = null;

/** @param {string} text */
export function sentence(text) {
  const locale = spokenLocale();
  if (own?.locale !== locale) own = { locale, format: makeFormat(locale) };
  return inReadersForm(text, own.format);
}

/**
 * What came from the server as JSON, its sentences in the reader's form.
 * @param {string} text
 * @returns {any}
 */
export function parseAnswer(text) {
  if (!text.includes('"sentence"')) return JSON.parse(text);
  return JSON.parse(text, (name, value) =>
    name === 'sentence' && typeof value === 'string' ? sentence(value) : value,
  );
}
