// SPDX-License-Identifier: MIT
// Every text of the page, in French, a file for each desk, for the nursery and for what comes in by file; English (en.js) is the source.

import cellar from './fr.cellar.js';
import intake from './fr.intake.js';
import nursery from './fr.nursery.js';
import orders from './fr.orders.js';
import { fr as rules } from './rules.js';
import shared from './fr.shared.js';
import winter from './fr.winter.js';
import { OF_ALL, sentencesIn } from './sentences.js';

export const PARTS = [shared, nursery, winter, intake, orders, rules, cellar];

export default { ...shared, ...nursery, ...winter, ...intake, ...orders, ...rules, ...cellar };

/** The server's sentences that any desk may show. */
export const SENTENCES = sentencesIn('fr', OF_ALL);
