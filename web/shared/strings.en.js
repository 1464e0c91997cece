// SPDX-License-Identifier: MIT
// Every text of the page, in English, a file a desk. Another language is another set of files with the same keys.

import cellar from './strings.en.cellar.js';
import orders from './strings.en.orders.js';
import shared from './strings.en.shared.js';
import winter from './strings.en.winter.js';

export const PARTS = [shared, winter, orders, cellar];

export default { ...shared, ...winter, ...orders, ...cellar };
