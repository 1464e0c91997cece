// SPDX-License-Identifier: MIT
// The server's sentences of the order desk and the cellar, in German.

import { OF_DESK, sentencesIn } from './sentences.js';

export const SENTENCES = sentencesIn('de', OF_DESK.orders);
