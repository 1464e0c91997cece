// SPDX-License-Identifier: MIT
// Which languages the page speaks, which of them a reader is given, and in what form figures and days are written then.

/**
 * Each by its own name, and how its texts and a desk's sentences are fetched: one language is in the page at a time. English sentences
 * are shown as they come.
 */
export const LANGUAGES = {
  de: {
    name: 'Deutsch',
    texts: () => import('./de.js'),
    why: { winter: () => import('./de.why.winter.js'), orders: () => import('./de.why.orders.js') },
  },
  en: { name: 'English', texts: () => import('./en.js'), why: null },
  fr: {
    name: 'Français',
    texts: () => import('./fr.js'),
    why: { winter: () => import('./fr.why.winter.js'), orders: () => import('./fr.why.orders.js') },
  },
  nl: {
    name: 'Nederlands',
    texts: () => import('./nl.js'),
    why: { winter: () => import('./nl.why.winter.js'), orders: () => import('./nl.why.orders.js') },
  },
};

/** @typedef {keyof typeof LANGUAGES} Language */

/** @param {string} locale */
const base = (locale) => (locale.split('-')[0] ?? '').toLowerCase();

/** @param {unknown} code @returns {code is Language} */
export const isLanguage = (code) => typeof code === 'string' && Object.hasOwn(LANGUAGES, code);

/**
 * The first of the browser's languages that the page speaks; English when it speaks none of them.
 * @param {readonly string[]} own the browser's languages, the best liked first
 * @returns {Language}
 */
export function languageFor(own) {
  return own.map(base).find(isLanguage) ?? 'en';
}

/**
 * How figures and days are written beside texts of this language: as the browser has it for that language ("de-AT"), else in the
 * language's own way for the region in which the reader sits.
 * @param {Language} code
 * @param {readonly string[]} own
 */
export function localeFor(code, own) {
  const same = own.find((locale) => base(locale) === code);
  if (same) return same;
  try {
    const region = new Intl.Locale(own[0] ?? code).maximize().region;
    return region ? `${code}-${region}` : code;
  } catch {
    return code;
  }
}
