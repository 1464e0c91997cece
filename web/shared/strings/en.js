// SPDX-License-Identifier: MIT
// Every text of the page, in English, a file for each desk, for the nursery and for what comes in by file. Another language is another set of files with the same keys.

import cellar from './en.cellar.js';
import intake from './en.intake.js';
import nursery from './en.nursery.js';
import orders from './en.orders.js';
import { en as rules } from './rules.js';
import shared from './en.shared.js';
import winter from './en.winter.js';

export const PARTS = [shared, nursery, winter, intake, orders, rules, cellar];

export default { ...shared, ...nursery, ...winter, ...intake, ...orders, ...rules, ...cellar };

/** The server's sentences: they come in English. @type {Record<string, string>} */
export const SENTENCES = {};
