// SPDX-License-Identifier: MIT
// The server's sentences of the winter desk, in Dutch.

import { OF_DESK, sentencesIn } from './sentences.js';

export const SENTENCES = sentencesIn('nl', OF_DESK.winter);
