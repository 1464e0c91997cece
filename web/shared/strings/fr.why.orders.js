// SPDX-License-Identifier: MIT
// The server's sentences of the order desk and the cellar, in French.

import { OF_DESK, sentencesIn } from './sentences.js';

export const SENTENCES = sentencesIn('fr', OF_DESK.orders);
