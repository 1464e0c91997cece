// SPDX-License-Identifier: MIT
// The winter's orders: invented people, skewed demand, and each buyer's consent to substitutes.
import { EARLY_PRICE_LAST, ORDERS_FIRST, ORDERS_LAST, SEASON, SHIP, isoDay } from './days.mjs';

export const ZONES = [
  ['z3', 21],
  ['z4', 20],
  ['z5', 19],
  ['z6', 18],
  ['z7', 16],
  ['z8', 15],
  ['z9', 14],
];
/** Invented: no real place lies so. */
export const ZONE_RANGES = [
  ['US', '00', '19', 'z7'],
  ['US', '20', '39', 'z8'],
  ['US', '40', '59', 'z4'],
  ['US', '590', '599', 'z3'],
  ['US', '60', '79', 'z6'],
  ['US', '80', '99', 'z5'],
];
const ZONE_WEIGHTS = [
  ['z3', 3],
  ['z4', 12],
  ['z5', 26],
  ['z6', 24],
  ['z7', 18],
  ['z8', 11],
  ['z9', 6],
];
const SHIP_YEAR = SEASON + 1;

const DEFER = 'Invented for the demo season; defer to the authority';
export const DESTINATIONS = [
  ['US', '', 'allow', DEFER],
  ['US', 'AK', 'warn', `Long way in frost, ask before sending. ${DEFER}`],
  ['US', 'HI', 'block', `Needs papers this nursery does not hold. ${DEFER}`],
  ['CA', '', 'warn', `Certificate needed, order by the end of February. ${DEFER}`],
  ['GB', '', 'block', `Not set up for it this season. ${DEFER}`],
  ['AU', '', 'block', `Not set up for it this season. ${DEFER}`],
];

const GIVEN = [
  'Ada',
  'Bram',
  'Cora',
  'Dina',
  'Egon',
  'Fern',
  'Gus',
  'Hedy',
  'Ines',
  'Jory',
  'Kit',
  'Lena',
  'Milo',
  'Nell',
  'Otis',
  'Pia',
  'Quinn',
  'Rhea',
  'Sven',
  'Tess',
  'Ugo',
  'Vera',
  'Wim',
  'Xenia',
  'Yara',
  'Zeno',
];
const SUR1 = [
  'Ambl',
  'Bostr',
  'Crind',
  'Drums',
  'Elth',
  'Fronk',
  'Gasp',
  'Hurd',
  'Inks',
  'Jund',
  'Kesl',
  'Lomp',
  'Mossk',
  'Nurb',
  'Ottl',
  'Prend',
  'Rumf',
  'Sprock',
  'Tolv',
  'Umpt',
  'Vend',
  'Wusk',
  'Yonk',
  'Zeld',
];
const SUR2 = [
  'abeck',
  'allow',
  'ebury',
  'enfeld',
  'iggs',
  'imore',
  'ofski',
  'ongate',
  'oway',
  'uckle',
  'umby',
  'yeard',
];
const TRADE = ['Border Plants', 'Cut Flower Patch', 'Garden Stand', 'Flower Farm', 'Market Garden', 'Florist Growers'];

// A customer is made from its number alone, so that a returning one needs no memory.
function customer(rng, number, wholesale) {
  const r = rng.fork(`${wholesale ? 'firm' : 'person'} ${number}`);
  const surname = r.pick(SUR1) + r.pick(SUR2);
  const given = r.pick(GIVEN);
  const country = wholesale
    ? 'US'
    : r.weighted([
        ['US', 970],
        ['CA', 22],
        ['GB', 5],
        ['AU', 3],
      ]);
  const n = r.int(0, 499); // below 00500 no place has its post code (from memory)
  return {
    name: wholesale ? `${surname} ${r.pick(TRADE)}` : r.chance(0.04) ? `${surname}, ${given}` : `${given} ${surname}`,
    email: r.chance(wholesale ? 1 : 0.93) ? `${given}.${surname}${number}@example.org`.toLowerCase() : '',
    country,
    zone: r.weighted(ZONE_WEIGHTS),
    postcode: country === 'US' ? String(n).padStart(5, '0') : `Z${n % 10}Z 9Z${Math.floor(n / 10) % 10}`,
  };
}

// How many lines each order has: at least one, a total that is met exactly.
function drawLineCounts(rng, heads, lines, most) {
  const mean = lines / heads.length;
  const retailMean = Math.max(1, (mean - 0.12 * Math.min(most, 1.6 * mean)) / 0.88);
  let total = 0;
  for (const h of heads) {
    h.lines = h.wholesale ? 1 + rng.poisson(1.6 * mean - 1) : 1 + Math.floor(rng.exponential(retailMean - 0.5));
    h.lines = Math.min(most, Math.max(1, h.lines));
    total += h.lines;
  }
  while (total !== lines) {
    const h = rng.pick(heads);
    const step = total < lines ? 1 : -1;
    if (h.lines + step < 1 || h.lines + step > most) continue;
    h.lines += step;
    total += step;
  }
}

// Received instants in rising order: a rush at the opening, then a slow decline, nobody writes at night.
function drawInstants(rng, n) {
  const days = ORDERS_LAST - ORDERS_FIRST + 1;
  const weights = Array.from({ length: days }, (_, i) => [i, 0.5 + 2.2 * Math.exp(-i / 6) + (i > days - 6 ? 0.5 : 0)]);
  const list = [];
  for (let i = 0; i < n; i++) list.push((ORDERS_FIRST + rng.weighted(weights)) * 86400 + rng.int(7 * 3600, 22 * 3600));
  return list.sort((a, b) => a - b);
}

// Local winter time in Chicago is UTC - 6 for the whole of the order season. The web shop writes Z.
function instant(localSeconds, channel) {
  if (channel === 'web') return new Date((localSeconds + 6 * 3600) * 1000).toISOString().replace('.000', '');
  return new Date(localSeconds * 1000).toISOString().replace('.000Z', '-06:00');
}

function drawHead(rng, n, at, i, width) {
  const wholesale = rng.chance(0.12);
  const people = Math.max(1, Math.ceil(n * (wholesale ? 0.09 : 0.8)));
  const channel = wholesale
    ? rng.weighted([
        ['mail', 3],
        ['phone', 2],
        ['web', 5],
      ])
    : rng.weighted([
        ['web', 78],
        ['phone', 9],
        ['mail', 13],
      ]);
  const consent = wholesale
    ? rng.weighted([
        ['none', 5],
        ['same', 3],
        ['named', 2],
      ])
    : rng.weighted([
        ['none', 30],
        ['same', 32],
        ['any', 24],
        ['named', 14],
      ]);
  return {
    number: `${SEASON}-${String(i + 1).padStart(width, '0')}`,
    at,
    wholesale,
    channel,
    consent,
    buyer: rng.int(1, people),
    wish: rng.chance(0.4),
    allOrNone: rng.chance(wholesale ? 0.12 : 0.03),
    early: Math.floor(at / 86400) <= EARLY_PRICE_LAST && rng.chance(0.3),
  };
}

function makePicker(varieties) {
  const upTo = [];
  let sum = 0;
  for (const v of varieties) upTo.push((sum += v.popularity));
  return (rng) => {
    const x = rng.unit() * sum;
    let low = 0;
    let high = upTo.length - 1;
    while (low < high) {
      const mid = (low + high) >> 1;
      if (upTo[mid] <= x) low = mid + 1;
      else high = mid;
    }
    return varieties[low];
  };
}

const WHOLESALE_QUANTITIES = [3, 3, 5, 5, 5, 5, 8, 10, 10, 20];
function quantity(rng, wholesale, limit) {
  const q = wholesale
    ? rng.pick(WHOLESALE_QUANTITIES)
    : rng.weighted([
        [1, 62],
        [2, 20],
        [3, 12],
        [5, 6],
      ]);
  return limit === '' ? q : Math.min(q, limit);
}

// Classes that an assortment line may name: one word each, and at least three varieties in them.
function assortmentClasses(varieties) {
  const counts = new Map();
  const oneWord = (s) => !s.includes(' ');
  for (const v of varieties) {
    const names = [];
    if (oneWord(v.colour)) names.push(`colour=${v.colour}`);
    if (oneWord(v.form)) names.push(`form=${v.form}`);
    if (names.length === 2) names.push(names.join(' '));
    for (const name of names) counts.set(name, (counts.get(name) ?? 0) + 1);
  }
  const classes = [...counts]
    .filter(([, n]) => n >= 3)
    .map(([name]) => name)
    .sort();
  return classes.length ? classes : ['colour=red']; // a tiny assortment may have no such class: then nothing fits
}

// What this buyer would take instead of a variety: like it in form or colour, and not in the order already.
function namedSubstitutes(rng, wanted, chosen, pick) {
  const names = [];
  const most = rng.int(1, 4);
  for (let tries = 0; tries < 60 && names.length < most; tries++) {
    const v = pick(rng);
    const alike = v.form === wanted.form || v.colour === wanted.colour;
    if (alike && !chosen.includes(v) && !names.includes(v.code)) names.push(v.code);
  }
  return names.join(' ');
}

function chooseVarieties(rng, n, pick) {
  const chosen = [];
  for (let tries = 0; chosen.length < n && tries < 40 * n; tries++) {
    const v = pick(rng);
    if (!chosen.includes(v)) chosen.push(v);
  }
  return chosen;
}

// The columns of one line that are its own: variety, quantity, price, consent, named, assortment.
function drawLine(rng, head, v, chosen, pick, classes) {
  if (!v) {
    const own = { code: '', quantity: rng.int(3, 8), price: 4.5, named: '', assortment: rng.pick(classes) };
    return { ...own, consent: head.consent === 'named' ? 'none' : head.consent };
  }
  const n = quantity(rng, head.wholesale, v.limit);
  v.asked += n;
  const price = head.early ? Math.round(v.price * 18) / 20 : v.price; // a tenth off, in steps of 5 cents
  const named = head.consent === 'named' ? namedSubstitutes(rng, v, chosen, pick) : '';
  const consent = head.consent === 'named' && !named ? 'none' : head.consent;
  return { code: v.code, quantity: n, price, consent, named, assortment: '' };
}

function writeOrder(rng, head, people, pick, classes, csv) {
  const chosen = chooseVarieties(rng, head.lines - (head.assortment ? 1 : 0), pick);
  const who = customer(people, head.buyer, head.wholesale);
  const firstWeek = ZONES.find(([zone]) => zone === who.zone)[1];
  const wish = head.wish ? `${SHIP_YEAR}-W${Math.min(22, Math.max(14, firstWeek + rng.int(-1, 3)))}` : '';
  const received = instant(head.at, head.channel);
  for (let i = 0; i < head.lines; i++) {
    const l = drawLine(rng, head, chosen[i], chosen, pick, classes);
    csv.row([
      head.number,
      received,
      i + 1,
      l.code,
      l.quantity,
      l.price.toFixed(2),
      head.channel,
      head.wholesale ? 'wholesale' : 'retail',
      who.name,
      who.email,
      who.postcode,
      who.country,
      who.zone,
      wish,
      l.consent,
      l.named,
      head.allOrNone ? 1 : 0,
      l.assortment,
    ]);
  }
}

// Writes all orders; adds to each variety's `asked`. Returns the divisions asked of named varieties.
export function writeOrders(rng, varieties, orders, lines, csv) {
  const width = Math.max(4, String(orders).length);
  const most = Math.min(varieties.length, Math.max(12, Math.ceil((2.5 * lines) / orders)));
  const r = rng.fork('heads');
  const heads = drawInstants(rng.fork('instants'), orders).map((at, i) => drawHead(r, orders, at, i, width));
  drawLineCounts(rng.fork('lines'), heads, lines, most);
  const open = (h) => h.consent === 'any' || h.consent === 'same';
  const fits = heads.filter((h) => !h.wholesale && !h.allOrNone && h.lines > 1 && open(h));
  const assortments = rng
    .fork('assortments')
    .shuffle(fits)
    .slice(0, Math.round(lines / 75));
  for (const h of assortments) h.assortment = true;
  const pick = makePicker(varieties);
  const classes = assortmentClasses(varieties);
  const people = rng.fork('people');
  const body = rng.fork('body');
  for (const v of varieties) v.asked = 0;
  for (const head of heads) writeOrder(body, head, people, pick, classes, csv);
  return varieties.reduce((sum, v) => sum + v.asked, 0);
}

const PAST_SALES = 4; // the last seasons whose sales are remembered

/** The same day of another year; 29 February is the 28th where there is none. */
function sameDayOf(year, day) {
  const moved = `${year}${day.slice(4)}`;
  return moved.endsWith('-02-29') && new Date(`${moved}T00:00:00Z`).getUTCDate() !== 29 ? `${year}-02-28` : moved;
}

// What past seasons sold of each variety that was there: asked by liking, with a drift of its own; where more was asked than
// there was, the day on which the last one went.
export function writePastSales(rng, varieties, seasons, asked, file) {
  const liked = varieties.reduce((sum, v) => sum + v.popularity, 0);
  const drift = new Map(varieties.map((v) => [v, rng.fork(`drift ${v.code}`).normal(0.02, 0.06)]));
  for (const season of seasons.slice(-PAST_SALES)) {
    for (const v of varieties) {
      if (v.introduced > season.year) continue;
      const r = rng.fork(`${season.year} ${v.code}`);
      const usual = ((asked * v.popularity) / liked) * Math.exp(drift.get(v) * (season.year - SEASON));
      const wanted = r.poisson(usual * Math.exp(r.normal(0, 0.2)));
      const there = Math.max(1, Math.round(usual * r.range(0.75, 2.2)));
      const out = wanted > there;
      const gone = () => Math.ceil((SHIP - ORDERS_FIRST) * (there / wanted) ** 2); // half of a season's in its first quarter
      const day = out ? sameDayOf(season.year + 1, isoDay(ORDERS_FIRST + gone())) : '';
      file.row([season.year, v.code, out ? there : wanted, day]);
    }
  }
}
