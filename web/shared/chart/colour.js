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

/** The same in German, Dutch and French, as lists of other makes have them; common practice, no source. @type {Record<string, string>} */
const SAME = {
  white: 'weiss weiß wit blanc blanche',
  cream: 'creme crème elfenbein ivoor ivoire',
  yellow: 'gelb geel jaune',
  gold: 'golden goud doré',
  apricot: 'aprikose abrikoos abricot',
  peach: 'pfirsich perzik pêche',
  salmon: 'lachs zalm saumon',
  coral: 'koralle koraal corail',
  bronze: 'brons kupfer koper cuivre',
  flame: 'flamme vlam feuerrot',
  red: 'rot rood rouge',
  scarlet: 'scharlach scharlaken écarlate',
  'dark red': 'dunkelrot donkerrood weinrot wijnrood grenat bordeaux',
  black: 'schwarz zwart noir noire',
  pink: 'rosa roze rose',
  'light pink': 'hellrosa lichtroze rosé',
  'dark pink': 'dunkelrosa donkerroze fuchsia',
  lilac: 'flieder lila lavendel lavande',
  violet: 'violett paars violette',
  purple: 'purpur pourpre',
  blush: 'zartrosa zachtroze',
  variegated: 'zweifarbig gestreift bunt tweekleurig bont bicolore panaché',
};
const OURS = new Map(Object.entries(SAME).flatMap(([ours, theirs]) => theirs.split(' ').map((word) => [word, ours])));

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
  const said = word.trim().toLowerCase();
  const plain = OURS.get(said) ?? said;
  const blend = BLENDS[plain];
  if (blend) return blend;
  const known = PETALS[plain];
  if (known) return [known];
  const parts = plain
    .split(/[\s/&+-]+|and|und|et\b|en\b/)
    .map((part) => PETALS[OURS.get(part) ?? part])
    .filter((c) => c !== undefined);
  if (parts.length > 0) return parts.slice(0, 2);
  return /blend|bicol|varieg|mix/i.test(plain) ? MIXED : [];
}
