// SPDX-License-Identifier: MIT
// Petal colours for swatches. A swatch always stands beside its colour's own word, and only helps the eye.

/** @type {Record<string, string>} */
const PETALS = {
  white: '#f7f4ea',
  cream: '#f3e7c3',
  ivory: '#f3e7c3',
  yellow: '#ecc531',
  gold: '#d9a01f',
  orange: '#df7a21',
  apricot: '#eda468',
  peach: '#f2b79a',
  salmon: '#ea8d78',
  coral: '#e4685c',
  bronze: '#a9642d',
  flame: '#d8481f',
  red: '#b71c2b',
  scarlet: '#c9201f',
  'dark red': '#6d1220',
  burgundy: '#5a1228',
  maroon: '#5a1228',
  black: '#2b1418',
  pink: '#e58cab',
  'light pink': '#f2bfd0',
  'dark pink': '#c3336f',
  magenta: '#a81d66',
  lavender: '#b79ad2',
  lilac: '#b79ad2',
  violet: '#6d3a92',
  purple: '#5d2a7c',
  mauve: '#a87fa6',
  blush: '#f0cfc9',
};

/** Two petals for what is of two colours, and for blends. */
const MIXED = ['#e58cab', '#f3e7c3'];
/** @type {Record<string, string[]>} */
const BLENDS = { 'dark blend': ['#6d1220', '#c77a58'], 'light blend': ['#f2bfd0', '#f3e0a8'] };

/**
 * One or two colours for a petal word; none when the word is not known.
 * @param {string | null | undefined} word
 * @returns {string[]}
 */
export function petals(word) {
  if (!word) return [];
  const blend = BLENDS[word.toLowerCase()];
  if (blend) return blend;
  const known = PETALS[word.toLowerCase()];
  if (known) return [known];
  const parts = word
    .toLowerCase()
    .split(/[\s/&+-]+|and/)
    .map((part) => PETALS[part])
    .filter((c) => c !== undefined);
  if (parts.length > 0) return parts.slice(0, 2);
  return /blend|bicol|varieg|mix/i.test(word) ? MIXED : [];
}
