// SPDX-License-Identifier: MIT
// Every text of the page, in Dutch, a file a desk; English (en.js) is the source.

import cellar from './nl.cellar.js';
import orders from './nl.orders.js';
import shared from './nl.shared.js';
import winter from './nl.winter.js';
import { OF_ALL, sentencesIn } from './sentences.js';

export const PARTS = [shared, winter, orders, cellar];

export default { ...shared, ...winter, ...orders, ...cellar };

/** The server's sentences that any desk may show. */
export const SENTENCES = sentencesIn('nl', OF_ALL);
