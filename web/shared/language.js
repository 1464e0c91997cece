// SPDX-License-Identifier: MIT
// Which language is spoken to whom: what that person chose on this device, else what was chosen here with nobody signed in, else the
// browser's own.

import { forgetAnswers } from './net/api.js';
import { makeStore, readKept } from './net/use.js';
import { LANGUAGES, isLanguage, languageFor, localeFor } from './strings/languages.js';
import { speak } from './strings/text.js';
import { tellAlso, tellIn } from './strings/told.js';

/** What is spoken now; what is drawn is drawn anew when it changes. */
export const language = makeStore('');

const KEPT = 'languages';
const NOBODY = '';
/** @type {string} */
let who = NOBODY;

/** @returns {Record<string, string>} the choice of each person, by name */
const choices = () => readKept(KEPT, {});

/** The desks that were opened; what they show is told, too. @type {Set<string>} */
const opened = new Set();

/**
 * The server's sentences that a desk shows, by the English ones.
 * @param {import('./strings/languages.js').Language} code @param {string} desk
 * @returns {Promise<Record<string, string>>}
 */
async function sentencesOf(code, desk) {
  const { why } = LANGUAGES[code];
  return why ? (await (desk === 'winter' ? why.winter : why.orders)()).SENTENCES : {};
}

/** Before a desk is drawn. What cannot be fetched leaves its sentences in English. @param {string} desk */
export async function speakOf(desk) {
  if (opened.has(desk)) return;
  opened.add(desk);
  const code = language.get();
  if (!isLanguage(code)) return; // speakTo() fetches it
  const sentences = await sentencesOf(code, desk).catch(() => ({}));
  if (language.get() === code) tellAlso(sentences);
}

/** @param {import('./strings/languages.js').Language} code */
async function change(code) {
  if (code === language.get()) return;
  const [{ default: texts, SENTENCES }, ...more] = await Promise.all([
    LANGUAGES[code].texts(),
    ...[...opened].map((desk) => sentencesOf(code, desk)),
  ]);
  const own = navigator.languages?.length ? navigator.languages : [navigator.language || 'en-US'];
  speak(code, texts, localeFor(code, own));
  tellIn(code, Object.assign({}, SENTENCES, ...more));
  forgetAnswers();
  document.documentElement.lang = code;
  language.set(code);
}

/**
 * Speaks the language of this person. What cannot be fetched leaves the page in the one that it has.
 * @param {string | null | undefined} name nobody by name before anyone signs in, and where nobody has to
 */
export async function speakTo(name) {
  who = name ?? NOBODY;
  const kept = choices();
  const wanted = [kept[who], kept[NOBODY]].find(isLanguage) ?? languageFor(navigator.languages ?? []);
  await change(wanted).catch(() => (language.get() ? undefined : change('en')));
}

/** @param {import('./strings/languages.js').Language} code */
export async function choose(code) {
  await change(code);
  try {
    localStorage.setItem(`clumpwise.${KEPT}`, JSON.stringify({ ...choices(), [who]: code }));
  } catch {
    // private window: it is kept for this page only
  }
}
