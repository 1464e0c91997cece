// SPDX-License-Identifier: MIT
// Every text of the page, in German, a file for each desk, for the nursery and for what comes in by file; English (en.js) is the source.

import cellar from './de.cellar.js';
import intake from './de.intake.js';
import nursery from './de.nursery.js';
import orders from './de.orders.js';
import { de as rules } from './rules.js';
import shared from './de.shared.js';
import winter from './de.winter.js';
import { OF_ALL, sentencesIn } from './sentences.js';

export const PARTS = [shared, nursery, winter, intake, orders, rules, cellar];

export default { ...shared, ...nursery, ...winter, ...intake, ...orders, ...rules, ...cellar };

/** The server's sentences that any desk may show. */
export const SENTENCES = sentencesIn('de', OF_ALL);
