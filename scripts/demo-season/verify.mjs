// SPDX-License-Identifier: MIT
// Reads a made season back from its CSV files and replays the ledger: fails if a figure contradicts another. Without an
// argument it also makes the demo season anew and compares every file byte for byte.
//   node verify.mjs [DIR]
import { execFileSync } from 'node:child_process';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { readCsv } from './csv.mjs';

const HERE = path.dirname(fileURLToPath(import.meta.url));
const TODAY = '2032-02-20';
const KINDS = [
  'varieties',
  'history',
  'past_checks',
  'places',
  'lots',
  'past_plantings',
  'past_sales',
  'plantings',
  'field_rounds',
  'divisions',
  'checks',
  'counts',
  'weighings',
  'air',
  'orders',
  'zones',
  'destinations',
  'zone_ranges',
];
const SIZES = ['small', 'medium', 'large', 'giant'];
const CONSENTS = ['none', 'same', 'any', 'named'];

let where = '';
let problems = 0;
function expect(ok, what) {
  if (ok) return;
  if (++problems <= 20) process.stderr.write(`${where}: ${what}\n`);
}

function read(dir, kind, each) {
  let rows = 0;
  readCsv(path.join(dir, `${kind}.csv`), (record, line) => {
    where = `${kind}.csv:${line}`;
    rows++;
    each(record);
  });
  where = `${kind}.csv`;
  expect(
    rows > 0 || ['history', 'past_checks', 'past_sales', 'weighings', 'counts', 'divisions', 'checks'].includes(kind),
    'no rows',
  );
  return rows;
}

function whole(text, least = 0) {
  expect(/^\d+$/.test(text) && Number(text) >= least, `a whole number of at least ${least} was expected: ${text}`);
  return Number(text);
}

function pastDay(text) {
  const real = /^\d{4}-\d\d-\d\d$/.test(text) && new Date(`${text}T00:00:00Z`).toISOString().startsWith(text);
  expect(real && text <= TODAY, `a day up to ${TODAY} was expected: ${text}`);
  return text;
}

function pastInstant(text) {
  expect(
    /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(Z|[+-]\d\d:\d\d)$/.test(text),
    `an instant with offset was expected: ${text}`,
  );
  expect(new Date(text).toISOString().slice(0, 10) <= TODAY, `after today: ${text}`);
  return Date.parse(text);
}

function addOnce(map, key, value) {
  expect(!map.has(key), `twice: ${key}`);
  map.set(key, value);
}

function readNursery(dir, s) {
  read(dir, 'varieties', (r) => {
    addOnce(s.varieties, r.code, { ...r, asked: 0, clumps: 0, divisions: 0 });
    expect(/^[A-Z0-9]{3,6}$/.test(r.code), `code ${r.code}`);
    expect(SIZES.includes(r.size), `size ${r.size}`);
    expect(Number(r.price) > 0 && whole(r.hold_back) >= 0 && whole(r.reserve) >= 0, 'price, hold-back or reserve');
    if (r.limit_per_order !== '') whole(r.limit_per_order, 1);
  });
  read(dir, 'places', (r) => addOnce(s.places, r.place, { room: r.room, walk: whole(r.walk_order, 1) }));
  expect(new Set([...s.places.values()].map((p) => p.walk)).size === s.places.size, 'two places with one walk order');
  read(dir, 'zones', (r) => addOnce(s.zones, r.zone, r.first_week));
  read(dir, 'destinations', (r) => {
    addOnce(s.destinations, `${r.country}/${r.region}`, r.rule);
    expect(['allow', 'warn', 'block'].includes(r.rule), `rule ${r.rule}`);
  });
  read(dir, 'zone_ranges', (r) => {
    expect(s.zones.has(r.zone), `unknown zone ${r.zone}`);
    expect(r.postcode_from.length === r.postcode_to.length && r.postcode_from <= r.postcode_to, 'range');
  });
}

function readPast(dir, s) {
  read(dir, 'history', (r) => {
    expect(s.varieties.has(r.variety), `unknown variety ${r.variety}`);
    expect(
      Number(r.season) < 2031 && Number(s.varieties.get(r.variety)?.introduced) <= Number(r.season),
      `season ${r.season}`,
    );
    whole(r.clumps, 1);
    whole(r.divisions);
  });
  read(dir, 'past_checks', (r) => {
    expect(s.varieties.has(r.variety), `unknown variety ${r.variety}`);
    expect(r.stage === 'clump' || r.stage === 'division', `stage ${r.stage}`);
    expect(whole(r.rotten) + whole(r.shrivelled || '0') <= whole(r.inspected, 1), 'more thrown out than inspected');
    whole(r.weeks, 1);
  });
  const sold = new Map();
  read(dir, 'past_sales', (r) => {
    expect(s.varieties.has(r.variety), `unknown variety ${r.variety}`);
    addOnce(sold, `${r.season} ${r.variety}`, r);
    expect(Number(s.varieties.get(r.variety)?.introduced) <= Number(r.season), `season ${r.season}`);
    whole(r.sold);
    if (r.sold_out_on !== '')
      expect(
        new Date(`${r.sold_out_on}T00:00:00Z`).toISOString().startsWith(r.sold_out_on),
        `no day: ${r.sold_out_on}`,
      );
    if (r.sold_out_on !== '') expect(r.sold_out_on >= `${Number(r.season) + 1}-01-01`, `sold out on ${r.sold_out_on}`);
  });
}

function readCellar(dir, s) {
  const event = (kind, on) => (r) => {
    const lot = s.lots.get(r.lot);
    expect(lot, `unknown lot ${r.lot}`);
    if (!lot) return;
    expect(pastDay(r[on]) > lot.dug, `${r[on]} is not after the lot was dug`);
    expect(!lot.events.some((e) => e.on === r[on]), `two events of lot ${r.lot} on ${r[on]}`);
    expect(r.place === undefined || s.places.has(r.place), `unknown place ${r.place}`);
    lot.events.push({ kind, on: r[on], r, where });
  };
  read(dir, 'lots', (r) => {
    expect(s.varieties.has(r.variety), `unknown variety ${r.variety}`);
    expect(s.places.has(r.place), `unknown place ${r.place}`);
    whole(r.culled);
    addOnce(s.lots, r.lot, { variety: r.variety, dug: pastDay(r.dug_on), clumps: whole(r.clumps), events: [] });
  });
  read(dir, 'divisions', event('divide', 'divided_on'));
  read(dir, 'checks', event('check', 'checked_on'));
  read(dir, 'counts', event('count', 'counted_on'));
}

// One lot through its events; each must find the stock it speaks of.
function apply(event, stock, totals) {
  const { kind, r } = event;
  where = event.where;
  const stage = r.stage === 'division' ? 'divisions' : 'clumps';
  if (kind === 'divide') {
    const taken = whole(r.clumps, 1);
    const rotten = whole(r.rotten);
    expect(taken <= stock.clumps, `${taken} clumps taken of ${stock.clumps}`);
    expect(rotten <= taken && (rotten < taken || r.saleable === '0'), 'more rotten than taken, or divisions from none');
    stock.clumps -= taken;
    stock.divisions += whole(r.saleable);
    totals.divided += taken - rotten;
    totals.rotten += rotten;
    totals.made += Number(r.saleable);
  } else if (kind === 'check') {
    const lost = whole(r.rotten) + whole(r.shrivelled || '0');
    const inspected = whole(r.inspected, 1);
    expect(lost <= inspected && inspected <= stock[stage], `${lost} lost, ${inspected} inspected of ${stock[stage]}`);
    stock[stage] -= lost;
    totals.rotten += stage === 'clumps' ? lost : 0;
    totals.lost += stage === 'clumps' ? 0 : lost;
  } else {
    const count = whole(r.count);
    totals[stage === 'clumps' ? 'clumpsFound' : 'divisionsFound'] += count - stock[stage];
    stock[stage] = count;
  }
}

function replay(s) {
  const t = {
    dug: 0,
    divided: 0,
    rotten: 0,
    made: 0,
    lost: 0,
    clumpsFound: 0,
    divisionsFound: 0,
    clumps: 0,
    divisions: 0,
  };
  for (const lot of s.lots.values()) {
    const stock = { clumps: lot.clumps, divisions: 0 };
    lot.events.sort((a, b) => (a.on < b.on ? -1 : 1));
    for (const event of lot.events) apply(event, stock, t);
    t.dug += lot.clumps;
    t.clumps += stock.clumps;
    t.divisions += stock.divisions;
    const v = s.varieties.get(lot.variety);
    v.clumps += stock.clumps;
    v.divisions += stock.divisions;
  }
  where = 'ledger';
  expect(t.dug + t.clumpsFound === t.clumps + t.divided + t.rotten, 'clumps are not conserved');
  expect(t.made + t.divisionsFound === t.divisions + t.lost, 'divisions are not conserved');
  return t;
}

function readReadings(dir, s) {
  const rooms = new Set([...s.places.values()].map((p) => p.room));
  const seen = new Map();
  read(dir, 'air', (r) => {
    expect(rooms.has(r.room), `unknown room ${r.room}`);
    addOnce(seen, `${r.room} ${pastInstant(r.at)}`, 1);
    expect(
      Number(r.temp_c) > 0 && Number(r.temp_c) < 15 && Number(r.rh) > 50 && Number(r.rh) <= 100,
      "not a cellar's air",
    );
  });
  read(dir, 'weighings', (r) => {
    addOnce(seen, `${r.sample} ${pastDay(r.weighed_on)}`, 1);
    expect(s.lots.has(r.lot) && r.weighed_on > s.lots.get(r.lot).dug && Number(r.kg) > 0, 'lot, day or kg');
  });
}

const ORDER_COLUMNS = [
  'received_at',
  'channel',
  'tier',
  'customer',
  'email',
  'postcode',
  'country',
  'zone',
  'wish_week',
];

function checkOrderStart(s, r, numbers) {
  addOnce(numbers, r.order, 1);
  pastInstant(r.received_at);
  expect(s.zones.has(r.zone), `unknown zone ${r.zone}`);
  expect(s.destinations.has(`${r.country}/`), `no rule for ${r.country}`);
  expect(r.email === '' || r.email.endsWith('@example.org'), `email ${r.email}`);
  expect(r.wish_week === '' || /^2032-W(1[4-9]|2[0-2])$/.test(r.wish_week), `wish ${r.wish_week}`);
  expect(['wholesale', 'retail'].includes(r.tier) && ['web', 'mail', 'phone'].includes(r.channel), 'tier or channel');
}

function checkLine(s, r, held) {
  expect(CONSENTS.includes(r.consent), `consent ${r.consent}`);
  expect((r.named !== '') === (r.consent === 'named'), 'named substitutes without that consent, or the reverse');
  for (const code of r.named.split(' ').filter(Boolean))
    expect(s.varieties.has(code) && code !== r.variety, `named ${code}`);
  const q = whole(r.quantity, 1);
  if (r.variety === '') {
    expect(/^(colour|form)=\S+( form=\S+)?$/.test(r.assortment), `assortment ${r.assortment}`);
    return;
  }
  const v = s.varieties.get(r.variety);
  const fits = v && r.assortment === '' && !held.has(r.variety);
  expect(fits, `variety ${r.variety}: unknown, twice in the order, or with an assortment`);
  if (!v) return;
  held.add(r.variety);
  v.asked += q;
  expect(v.limit_per_order === '' || q <= Number(v.limit_per_order), `${q} is over the limit of ${v.limit_per_order}`);
  const paid = Number(r.unit_price) / Number(v.price);
  expect(paid > 0.88 && paid <= 1, `price ${r.unit_price}, catalogue ${v.price}`);
}

function readOrders(dir, s) {
  const numbers = new Map();
  let last = null;
  let held;
  read(dir, 'orders', (r) => {
    if (last?.order === r.order) {
      expect(
        ORDER_COLUMNS.every((c) => r[c] === last[c]),
        "the order's own columns differ from its line before",
      );
      expect(Number(r.line) === Number(last.line) + 1, `line ${r.line}`);
    } else {
      checkOrderStart(s, r, numbers);
      expect(!last || Date.parse(last.received_at) <= Date.parse(r.received_at), 'numbered before an earlier order');
      expect(r.line === '1', `line ${r.line}`);
      held = new Set();
    }
    checkLine(s, r, held);
    last = r;
  });
  return numbers.size;
}

function compareWithFresh(dir) {
  const fresh = fs.mkdtempSync(path.join(os.tmpdir(), 'season-'));
  try {
    execFileSync(process.execPath, [path.join(HERE, 'make.mjs'), '--out', fresh], {
      stdio: ['ignore', 'ignore', 'pipe'],
    });
    for (const kind of KINDS) {
      where = `${kind}.csv`;
      const [a, b] = [dir, fresh].map((d) => fs.readFileSync(path.join(d, where)));
      expect(a.equals(b), 'differs from what make.mjs writes now');
    }
  } finally {
    fs.rmSync(fresh, { recursive: true });
  }
}

function main() {
  const dir = process.argv[2] ?? HERE;
  const s = { varieties: new Map(), places: new Map(), lots: new Map(), zones: new Map(), destinations: new Map() };
  readNursery(dir, s);
  readPast(dir, s);
  readCellar(dir, s);
  const t = replay(s);
  readReadings(dir, s);
  const orders = readOrders(dir, s);
  if (dir === HERE) compareWithFresh(dir);
  if (problems > 0) {
    process.stderr.write(`${problems} problems\n`);
    process.exit(1);
  }
  process.stdout.write(
    `${s.varieties.size} varieties, ${s.lots.size} lots, ${orders} orders: consistent\n` +
      `clumps: ${t.dug} dug, ${t.clumpsFound} found, ${t.divided} divided, ${t.rotten} rotten, ${t.clumps} on hand\n` +
      `divisions: ${t.made} made, ${t.divisionsFound} found, ${t.lost} rotten or shrivelled, ${t.divisions} on hand\n`,
  );
}

main();
