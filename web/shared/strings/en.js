// SPDX-License-Identifier: MIT
// Every text of the page, in English, a file a desk. Another language is another set of files with the same keys.

import cellar from './en.cellar.js';
import orders from './en.orders.js';
import shared from './en.shared.js';
import winter from './en.winter.js';

export const PARTS = [shared, winter, orders, cellar];

export default { ...shared, ...winter, ...orders, ...cellar };

/** The server's sentences: they come in English. @type {Record<string, string>} */
export const SENTENCES = {};
