// SPDX-License-Identifier: MIT
// What the server says in English sentences (why something is refused, why a figure is as it is), in the other languages.
// A row is [English, Deutsch, Français, Nederlands]. English is the server's own sentence, with what it fills in as {0}, {1} in their
// order; sentences.test.js holds it against the sources. "one|other" is chosen by {0}. {1:field}, {1:kind}, {1:state} and the like are
// words of the data, said as the page says them (text.js, word); {1:said} is another sentence of this list. {1:number}, {1:day} and
// {1:week} are written in the reader's form, {1:clumps} with its noun (told.js); such a value is nothing else in English either.
// A sentence that the server puts together is a row for each of its clauses, which begin or end with the mark between them.

import { DESKS } from './sentences.desks.js';
import { FIELDS } from './sentences.fields.js';
import { FILES } from './sentences.files.js';
import { FIGURES } from './sentences.figures.js';
import { REFUSED } from './sentences.refused.js';
import { SHARES } from './sentences.shares.js';
import { SHEETS } from './sentences.sheets.js';
import { WEEKS } from './sentences.weeks.js';
import { YEARS } from './sentences.years.js';

/** @typedef {[string, string, string, string][]} Rows */

/** What one desk only shows, by the desk: the others do not fetch it. @type {Record<'winter' | 'orders', Rows>} */
export const OF_DESK = { winter: [...FIGURES, ...YEARS], orders: [...SHARES, ...WEEKS, ...REFUSED] };

/** What any desk may show. @type {Rows} */
export const OF_ALL = [...FIELDS, ...FILES, ...SHEETS, ...DESKS];

/** @type {Rows} */
export const SENTENCES = [...OF_ALL, ...OF_DESK.winter, ...OF_DESK.orders];

const COLUMN = /** @type {Record<string, number>} */ ({ de: 1, fr: 2, nl: 3 });

/** What one language says, by the English sentence. @param {string} code @param {Rows} [rows] @returns {Record<string, string>} */
export const sentencesIn = (code, rows = SENTENCES) =>
  Object.fromEntries(rows.map((row) => [row[0], row[COLUMN[code] ?? 0] ?? row[0]]));
