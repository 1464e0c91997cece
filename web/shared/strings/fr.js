// SPDX-License-Identifier: MIT
// Every text of the page, in French, a file a desk; English (en.js) is the source.

import cellar from './fr.cellar.js';
import orders from './fr.orders.js';
import shared from './fr.shared.js';
import winter from './fr.winter.js';
import { OF_ALL, sentencesIn } from './sentences.js';

export const PARTS = [shared, winter, orders, cellar];

export default { ...shared, ...winter, ...orders, ...cellar };

/** The server's sentences that any desk may show. */
export const SENTENCES = sentencesIn('fr', OF_ALL);
