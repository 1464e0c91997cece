// SPDX-License-Identifier: MIT
// Every text of the page, in German, a file a desk; English (en.js) is the source.

import cellar from './de.cellar.js';
import orders from './de.orders.js';
import shared from './de.shared.js';
import winter from './de.winter.js';
import { OF_ALL, sentencesIn } from './sentences.js';

export const PARTS = [shared, winter, orders, cellar];

export default { ...shared, ...winter, ...orders, ...cellar };

/** The server's sentences that any desk may show. */
export const SENTENCES = sentencesIn('de', OF_ALL);
