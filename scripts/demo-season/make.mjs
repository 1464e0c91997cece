// SPDX-License-Identifier: MIT
// Makes a season of an invented nursery as CSV files that `clumpwise load` takes. Without options: the demo season, in
// this folder, byte for byte the same each time. With options: a season of any size, for load tests and benches.
import fs from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { makeLots, makePlaces, planWork, runCellar, writeAir, writeWeighings } from './cellar.mjs';
import { CsvWriter } from './csv.mjs';
import { SEASON, isoDay } from './days.mjs';
import { writeField, writePastPlantings } from './field.mjs';
import { DESTINATIONS, ZONES, ZONE_RANGES, writeOrders, writePastSales } from './orders.mjs';
import { Rng } from './rng.mjs';
import { MAX_VARIETIES, makeVarieties } from './varieties.mjs';
import { ROOMS, makeRoomAir, makeSeason, writePast } from './world.mjs';

const COLUMNS = {
  varieties: 'code,name,form,size,colour,height_cm,price,hold_back,reserve,limit_per_order,introduced',
  history: 'season,variety,clumps,divisions',
  past_checks: 'season,variety,stage,weeks,inspected,rotten,shrivelled',
  past_plantings: 'season,variety,plants,clumps',
  past_sales: 'season,variety,sold,sold_out_on',
  plantings: 'row,variety,plants,planted_on,lot,spacing_cm',
  field_rounds: 'row,seen_on,alive,rogued,reason,variety',
  places: 'place,room,walk_order',
  lots: 'lot,variety,dug_on,clumps,row,culled,place',
  divisions: 'lot,divided_on,clumps,saleable,blind,rotten,place',
  checks: 'lot,checked_on,stage,inspected,rotten,shrivelled',
  counts: 'lot,counted_on,stage,count,place',
  weighings: 'sample,lot,weighed_on,kg',
  air: 'room,at,temp_c,rh',
  orders:
    'order,received_at,line,variety,quantity,unit_price,channel,tier,customer,email,postcode,country,zone,wish_week,' +
    'consent,named,all_or_none,assortment',
  zones: 'zone,first_week',
  destinations: 'country,region,rule,note',
  zone_ranges: 'country,postcode_from,postcode_to,zone',
};

const USAGE = `node make.mjs [--out DIR] [--varieties N] [--seasons S] [--lots L] [--orders O] [--lines M] [--places P]
             [--seed K] [--truth FILE]
Defaults make the demo season: 120 varieties, 6 past seasons, 300 lots, 900 orders with 4500 lines, 120 places.
--lines is 5 an order and --places 0.4 a lot (at least 120) unless given.
--truth writes what nobody can know yet: sound and saleable divisions on the shipping day per variety (- = screen).
`;

function readOptions(args) {
  const given = {};
  const names = ['out', 'varieties', 'seasons', 'lots', 'orders', 'lines', 'places', 'seed', 'truth'];
  for (let i = 0; i < args.length; i++) {
    const name = args[i].slice(2);
    if (!args[i].startsWith('--') || !names.includes(name)) throw new Error(`what is ${args[i]}?\n${USAGE}`);
    const bare = name === 'truth' && (args[i + 1] === undefined || args[i + 1].startsWith('--'));
    given[name] = bare ? '-' : args[++i];
    if (given[name] === undefined) throw new Error(`--${name} needs a value\n${USAGE}`);
  }
  const number = (name, fallback, low, high) => {
    const n = given[name] === undefined ? fallback : Number(given[name]);
    const fits = Number.isInteger(n) && n >= low && n <= high;
    if (!fits) throw new Error(`--${name} is a whole number from ${low} to ${high}, not ${given[name] ?? n}`);
    return n;
  };
  const o = {
    out: given.out ?? path.dirname(fileURLToPath(import.meta.url)),
    truth: given.truth,
    seed: given.seed ?? '7',
  };
  o.varieties = number('varieties', 120, 3, MAX_VARIETIES);
  o.seasons = number('seasons', 6, 0, 40);
  o.lots = number('lots', 300, 4, 1000000);
  o.orders = number('orders', 900, 1, 10000000);
  o.lines = number('lines', o.orders * Math.min(5, o.varieties), o.orders, o.orders * Math.min(40, o.varieties));
  o.places = number('places', Math.max(120, Math.round(o.lots * 0.4)), 12, 100000);
  return o;
}

function openAll(dir) {
  fs.mkdirSync(dir, { recursive: true });
  const files = {};
  for (const [kind, columns] of Object.entries(COLUMNS)) {
    files[kind] = new CsvWriter(path.join(dir, `${kind}.csv`), columns.split(','));
  }
  return files;
}

// Stock is sized so that the nursery as a whole has somewhat more than it is asked for; varieties differ widely.
const SURPLUS = 1.95;
const DIVISIONS_PER_CLUMP = 5.8;
const KEPT = 0.7; // of what is dug, after rot, drying, hold-back and reserve

function setAside(v) {
  v.holdBack = Math.round(v.clumpsDug * 0.7); // one division replants one clump; cuttings make up the rest
  v.reserve = Math.ceil(v.clumpsDug * 0.12);
}

function writeNursery(files, varieties, places, lots) {
  for (const v of varieties) {
    files.varieties.row([
      v.code,
      v.name,
      v.form,
      v.size,
      v.colour,
      v.height,
      v.price.toFixed(2),
      v.holdBack,
      v.reserve,
      v.limit,
      v.introduced,
    ]);
  }
  for (const p of places) files.places.row([p.place, p.room, p.walk]);
  for (const l of lots) files.lots.row([l.lot, l.variety.code, isoDay(l.dug), l.clumps, l.row, l.culled, l.place]);
  for (const [zone, week] of ZONES) files.zones.row([zone, `${SEASON + 1}-W${week}`]);
  for (const d of DESTINATIONS) files.destinations.row(d);
  for (const r of ZONE_RANGES) files.zone_ranges.row(r);
}

function writeEvents(files, events) {
  for (const [on, lot, n, r] of events.divisions) {
    files.divisions.row([lot.lot, isoDay(on), n, r.saleable, r.blind, r.rotten, lot.divisionPlace]);
  }
  for (const [on, lot, stage, r] of events.checks) {
    files.checks.row([lot.lot, isoDay(on), stage, r.inspected, r.rotten, stage === 'division' ? r.shrivelled : '']);
  }
  for (const [on, lot, stage, n, place] of events.counts) files.counts.row([lot.lot, isoDay(on), stage, n, place]);
}

function writeTruth(file, varieties) {
  const lines = ['variety,clumps,divisions,sound,saleable,asked,short'];
  for (const v of varieties) {
    const saleable = Math.max(0, v.sound - v.holdBack - v.reserve);
    lines.push(
      [v.code, v.clumpsNow, v.divisionsNow, v.sound, saleable, v.asked, Math.max(0, v.asked - saleable)].join(','),
    );
  }
  fs.writeFileSync(file === '-' ? 1 : file, lines.join('\n') + '\n');
}

function makeNursery(o, files) {
  const rng = new Rng(`clumpwise demo ${o.seed}`);
  const varieties = makeVarieties(rng.fork('varieties'), o.varieties, SEASON - o.seasons);
  const asked = writeOrders(rng.fork('orders'), varieties, o.orders, o.lines, files.orders);
  const clumps = Math.max(2 * o.lots, Math.round((asked * SURPLUS) / (DIVISIONS_PER_CLUMP * KEPT)));
  const past = Array.from({ length: o.seasons }, (_, i) => makeSeason(rng.fork('seasons'), SEASON - o.seasons + i));
  writePast(rng.fork('past'), varieties, past, clumps / o.varieties, {
    history: files.history,
    pastChecks: files.past_checks,
  });
  const world = { season: makeSeason(rng.fork('seasons'), SEASON), air: {} };
  for (const room of ROOMS) world.air[room.name] = makeRoomAir(rng.fork(`air ${room.name}`), room);
  const places = makePlaces(o.places);
  const lots = makeLots(rng.fork('lots'), varieties, o.lots, clumps, places);
  for (const v of varieties) v.clumpsDug = 0;
  for (const l of lots) l.variety.clumpsDug += l.clumps;
  varieties.forEach(setAside);
  planWork(rng.fork('work'), lots);
  const events = runCellar(rng.fork('cellar'), lots, varieties, world);
  writeNursery(files, varieties, places, lots);
  writeEvents(files, events);
  writeWeighings(rng.fork('weighings'), lots, events, world, files.weighings);
  writeAir(world, files.air);
  writeField(rng.fork('field'), lots, files);
  writePastPlantings(rng.fork('past plantings'), varieties, past, clumps / o.varieties, files.past_plantings);
  writePastSales(rng.fork('past sales'), varieties, past, asked, files.past_sales);
  return varieties;
}

function main() {
  const o = readOptions(process.argv.slice(2));
  const files = openAll(o.out);
  const varieties = makeNursery(o, files);
  for (const [kind, file] of Object.entries(files)) {
    file.close();
    process.stderr.write(`${kind}.csv: ${file.rows} rows, ${file.bytes} bytes\n`);
  }
  if (o.truth) writeTruth(o.truth, varieties);
}

try {
  main();
} catch (e) {
  process.stderr.write(`make.mjs: ${e.message}\n`);
  process.exit(2);
}
