// SPDX-License-Identifier: MIT
// The server's sentences of the winter desk, in French.

import { OF_DESK, sentencesIn } from './sentences.js';

export const SENTENCES = sentencesIn('fr', OF_DESK.winter);
