// SPDX-License-Identifier: MIT
// The invented assortment: names, codes, show classes, prices, and what the simulation knows of each variety and the
// nursery does not (eyes per clump, tendency to rot, popularity).
import { SEASON } from './days.mjs';

// name, weight, effect on log eyes per clump, middle price, height in cm, weights of small/medium/large/giant
const FORMS = [
  ['ball', 16, 0.18, 7.5, 105, [6, 4, 0, 0]],
  ['pompon', 9, 0.28, 6.5, 95, [1, 0, 0, 0]],
  ['cactus', 10, -0.12, 7.5, 115, [3, 4, 3, 1]],
  ['semi-cactus', 15, -0.08, 8.0, 120, [2, 4, 4, 2]],
  ['informal decorative', 22, -0.1, 9.5, 120, [2, 4, 5, 4]],
  ['formal decorative', 18, 0.0, 8.5, 115, [3, 4, 3, 1]],
  ['waterlily', 11, 0.1, 7.5, 110, [4, 5, 0, 0]],
  ['anemone', 7, -0.05, 8.0, 85, [5, 1, 0, 0]],
  ['collarette', 7, 0.12, 6.0, 95, [4, 1, 0, 0]],
  ['single', 5, 0.2, 5.0, 70, [4, 1, 0, 0]],
];
const SIZES = ['small', 'medium', 'large', 'giant'];
const SIZE_EFFECT = [0.1, 0, -0.12, -0.35];
const SIZE_PRICE = [0.9, 1, 1.15, 1.5];
const COLOURS = [
  ['white', 9],
  ['yellow', 10],
  ['orange', 10],
  ['bronze', 6],
  ['flame', 6],
  ['pink', 16],
  ['dark pink', 8],
  ['red', 10],
  ['dark red', 8],
  ['lavender', 8],
  ['purple', 9],
  ['light blend', 10],
  ['dark blend', 7],
  ['bicolor', 7],
  ['variegated', 4],
];

const HEADS = [
  'Brund',
  'Quib',
  'Thrum',
  'Vosk',
  'Yarl',
  'Wizz',
  'Plonk',
  'Grimb',
  'Farth',
  'Murg',
  'Hobb',
  'Krell',
  'Nedd',
  'Osp',
  'Pibb',
  'Rusk',
  'Skeld',
  'Tranf',
  'Umb',
  'Velk',
  'Wharl',
  'Zant',
  'Dorng',
  'Edd',
  'Fust',
  'Glimp',
  'Hask',
  'Ibb',
  'Jorv',
  'Lumf',
];
const TAILS = [
  'wick',
  'ottle',
  'bract',
  'ondry',
  'ekin',
  'umber',
  'ingle',
  'orrow',
  'unce',
  'ulph',
  'addock',
  'erly',
  'ostle',
  'ifton',
];
const THINGS = [
  'Lantern',
  'Thimble',
  'Kettle',
  'Ledger',
  'Barrow',
  'Whistle',
  'Saddle',
  'Cobble',
  'Trestle',
  'Spindle',
  'Bobbin',
  'Gable',
  'Hinge',
  'Quill',
  'Rafter',
  'Satchel',
  'Tassel',
  'Varnish',
  'Wicket',
  'Anvil',
  'Bellows',
  'Candlestub',
  'Inkwell',
  'Doorstep',
];
export const MAX_VARIETIES = HEADS.length * TAILS.length * THINGS.length;

function drawNames(rng, n) {
  const names = [];
  for (const head of HEADS) for (const tail of TAILS) for (const thing of THINGS) names.push([head, tail, thing]);
  rng.shuffle(names);
  // A nursery's list does not repeat a first word while it can avoid it.
  const seen = new Set();
  const first = [];
  const later = [];
  for (const name of names) {
    const word = name[0] + name[1];
    (seen.has(word) ? later : first).push(name);
    seen.add(word);
  }
  return first.concat(later).slice(0, n);
}

// Five letters of the name's parts; digits only when all of those are taken.
function drawCode(name, taken) {
  const [h, m, t] = name.map((part) => part.toUpperCase());
  const tries = [
    h.slice(0, 3) + t.slice(0, 2),
    h.slice(0, 2) + m.slice(0, 2) + t[0],
    h.slice(0, 2) + m[0] + t.slice(0, 2),
  ];
  for (let i = 2; i < 1000; i++) tries.push(h.slice(0, 3) + i);
  const code = tries.find((c) => !taken.has(c));
  taken.add(code);
  return code;
}

function introducedIn(rng, rank, n, firstSeason) {
  const fresh = Math.max(1, Math.round(n * 0.05));
  if (rank < fresh) return SEASON;
  if (rank < n * 0.25 && firstSeason < SEASON) return rng.int(firstSeason, SEASON - 1);
  return rng.int(firstSeason - 12, firstSeason);
}

function priceOf(rng, form, size, popularity, introduced) {
  const novelty = introduced >= SEASON - 1 ? 1.45 : introduced >= SEASON - 3 ? 1.15 : 1;
  const raw = form[3] * SIZE_PRICE[size] * novelty * Math.pow(popularity, 0.25) * Math.exp(rng.normal(0, 0.1));
  return Math.min(32, Math.max(4, Math.round(raw * 4) / 4));
}

function makeVariety(rng, name, code, introduced, sought) {
  const form = rng.weighted(FORMS.map((f) => [f, f[1]]));
  const size = rng.weighted(form[5].map((w, i) => [i, w]));
  const logYield = form[2] + SIZE_EFFECT[size];
  const wanted = Math.exp(rng.normal(0, 0.45)) * (introduced === SEASON ? 0.45 : 1);
  // A nursery grows what sold last year, more clumps where they yield less; a few have become sought after since.
  const stock = wanted / Math.exp(logYield);
  const popularity = wanted * Math.exp(rng.normal(0, 0.1)) * (sought ? rng.range(1.8, 3.0) : 1);
  return {
    code,
    name: `${name[0]}${name[1]} ${name[2]}`,
    introduced,
    sought,
    stock,
    popularity,
    form: form[0],
    size: SIZES[size],
    colour: rng.weighted(COLOURS),
    height: 5 * Math.round((form[4] + 8 * size + rng.normal(0, 12)) / 5),
    price: priceOf(rng, form, size, popularity, introduced),
    limit: popularity > 2.2 && rng.chance(0.6) ? rng.pick([3, 5, 10]) : '',
    // hidden from the nursery:
    logEyes: Math.log(6.4) + logYield + rng.normal(0, 0.18),
    tubersPerEye: 1.25 + rng.exponential(0.6),
    logRotClump: Math.log(0.006) + rng.normal(0, 0.45),
    logRotDivision: Math.log(0.0045) + rng.normal(0, 0.45),
    lossRate: 1.7e-5 * Math.exp(rng.normal(0, 0.15)), // mass lost per Pa of vapour deficit and day
  };
}

export function makeVarieties(rng, n, firstSeason) {
  const names = drawNames(rng.fork('names'), n);
  const taken = new Set();
  const ranks = rng.shuffle(names.map((_, i) => i));
  const sought = Math.max(1, Math.round(n * 0.085));
  const list = names.map((name, i) => {
    const introduced = introducedIn(rng, ranks[i], n, firstSeason);
    const isSought = ranks[i] >= n - sought;
    return makeVariety(rng.fork(`variety ${i}`), name, drawCode(name, taken), introduced, isSought);
  });
  return list.sort((a, b) => (a.code < b.code ? -1 : 1));
}
