// SPDX-License-Identifier: MIT
// What the server says in English sentences (why something is refused, what was understood of a spreadsheet), in the other languages.
// A row is [English, Deutsch, Français, Nederlands]. English is the server's own sentence, with what it fills in as {0}, {1} in their
// order; sentences.test.js holds it against the sources. "one|other" is chosen by {0}. {1:field}, {1:kind}, {1:state} and the like are
// words of the data, said as the page says them (text.js, word); {1:said} is another sentence of this list.

import { DESKS } from './sentences.desks.js';
import { FIELDS } from './sentences.fields.js';
import { SHEETS } from './sentences.sheets.js';

/** @type {[string, string, string, string][]} */
export const SENTENCES = [...FIELDS, ...SHEETS, ...DESKS];

const COLUMN = /** @type {Record<string, number>} */ ({ de: 1, fr: 2, nl: 3 });

/** What one language says, by the English sentence. @param {string} code @returns {Record<string, string>} */
export const sentencesIn = (code) =>
  Object.fromEntries(SENTENCES.map((row) => [row[0], row[COLUMN[code] ?? 0] ?? row[0]]));
