// SPDX-License-Identifier: MIT
// Texts that another language writes just as English does.

/** @type {Record<'de' | 'fr' | 'nl', string[]>} */
export const WORDS_ALIKE = {
  de: ['Auto', 'Code', 'Name', 'Text'],
  fr: ['Auto', 'Code', 'Licences', 'Lot'],
  nl: ['Auto', 'Code', 'open'],
};
