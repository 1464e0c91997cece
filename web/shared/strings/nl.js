// SPDX-License-Identifier: MIT
// Every text of the page, in Dutch, a file for each desk, for the nursery and for what comes in by file; English (en.js) is the source.

import cellar from './nl.cellar.js';
import intake from './nl.intake.js';
import nursery from './nl.nursery.js';
import orders from './nl.orders.js';
import { nl as rules } from './rules.js';
import shared from './nl.shared.js';
import winter from './nl.winter.js';
import { OF_ALL, sentencesIn } from './sentences.js';

export const PARTS = [shared, nursery, winter, intake, orders, rules, cellar];

export default { ...shared, ...nursery, ...winter, ...intake, ...orders, ...rules, ...cellar };

/** The server's sentences that any desk may show. */
export const SENTENCES = sentencesIn('nl', OF_ALL);
