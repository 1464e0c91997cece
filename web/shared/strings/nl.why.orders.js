// SPDX-License-Identifier: MIT
// The server's sentences of the order desk and the cellar, in Dutch.

import { OF_DESK, sentencesIn } from './sentences.js';

export const SENTENCES = sentencesIn('nl', OF_DESK.orders);
