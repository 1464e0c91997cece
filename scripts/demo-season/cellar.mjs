// SPDX-License-Identifier: MIT
// This season in the cellar: places, lots, dividing sessions, storage checks, stock-takes and weighings. Every clump
// and division carries the day on which it will rot or shrivel; the nursery sees it only when somebody looks.
import {
  DIG_FIRST,
  DIG_LAST,
  DIVIDE_FIRST,
  DIVIDE_LAST,
  DIVIDED_BY,
  SEASON,
  SHIP,
  TODAY,
  day,
  isSessionDay,
  isWorkday,
  isoDay,
} from './days.mjs';
import { ROOMS, divideClump, dryDay, eyesMean, rotDay, weeklyHazard } from './world.mjs';

const CLUMP_COUNT_DAY = day('2032-01-30');
const DIVISION_COUNT_DAY = day('2032-02-13');
const CLUMP_CHECKS = ['2031-12-02', '2032-01-12', '2032-02-09'].map(day);
const DIVISION_CHECKS = ['2032-01-19', '2032-02-02', '2032-02-16'].map(day);
const ROT_ONSET = day('2032-01-24');
const ROT_FOUND = day('2032-02-17');
const CRATE_CUT_BEFORE = day('2032-01-17'); // a crate of divisions needs some weeks of weighings
const GAP_FIRST = day('2032-01-08'); // the south room's logger ran flat for two days
const GAP_LAST = day('2032-01-09');

export function makePlaces(n) {
  const places = [];
  for (const room of ROOMS) {
    const count = room === ROOMS[ROOMS.length - 1] ? n - places.length : Math.round(n * room.share);
    for (let i = 0; i < count; i++) {
      const aisle = 1 + Math.floor(i / 8);
      const bay = aisle % 2 ? 1 + (i % 8) : 8 - (i % 8); // the walk turns at each aisle's end
      places.push({ place: `${room.letter}${String(aisle).padStart(2, '0')}-${bay}`, room: room.name });
    }
  }
  places.forEach((p, i) => {
    p.walk = 10 * (i + 1);
  });
  return places;
}

// Whole numbers that add up to total, in proportion to weights, each at least `least` (largest remainder).
export function apportion(total, weights, least = 0) {
  const free = total - least * weights.length;
  let sum = 0;
  for (const w of weights) sum += w;
  const exact = weights.map((w) => (Math.max(0, free) * w) / sum);
  const parts = exact.map((x) => least + Math.floor(x));
  let left = total - parts.reduce((a, b) => a + b, 0);
  const order = exact.map((x, i) => [x - Math.floor(x), i]).sort((a, b) => b[0] - a[0] || a[1] - b[1]);
  for (let k = 0; left > 0 && k < order.length; k++, left--) parts[order[k][1]]++;
  return parts;
}

// Every variety gets a lot while there are lots; the rest go where the clumps are. One lot more than the rows gave
// is known only from a stock-take.
function lotsPerVariety(varieties, lots) {
  const grown = varieties.slice(0, lots);
  return apportion(
    lots,
    grown.map((v) => v.stock),
    1,
  );
}

// Eight fields, three lots to a row: A01, A02, ... in the order of digging.
function rowName(i, lots) {
  const field = Math.floor((i / lots) * 8);
  const within = i - Math.ceil((field / 8) * lots);
  return 'ABCDEFGH'[field] + String(1 + Math.floor(within / 3)).padStart(2, '0');
}

export function makeLots(rng, varieties, lotCount, clumpTotal, places) {
  const perVariety = lotsPerVariety(varieties, lotCount - 1);
  const share = apportion(
    clumpTotal,
    perVariety.map((_, i) => varieties[i].stock),
    2,
  );
  const lots = [];
  perVariety.forEach((n, i) => {
    const clumps = apportion(
      Math.max(share[i], 2 * n),
      Array.from({ length: n }, () => rng.range(0.6, 1.4)),
      2,
    );
    for (const c of clumps) lots.push({ variety: varieties[i], clumps: c });
  });
  rng.shuffle(lots);
  const workdays = [];
  for (let d = DIG_FIRST; d <= DIG_LAST; d++) if (isWorkday(d)) workdays.push(d);
  const width = Math.max(4, String(lotCount).length);
  const rooms = Object.fromEntries(ROOMS.map((r) => [r.name, places.filter((p) => p.room === r.name)]));
  lots.forEach((lot, i) => {
    const at = i / lots.length;
    lot.lot = `L${String(i + 1).padStart(width, '0')}`;
    lot.row = rowName(i, lots.length);
    lot.dug = workdays[Math.floor(at * workdays.length)];
    lot.culled = rng.weighted([
      [0, 6],
      [1, 3],
      [2, 1],
    ]);
    lot.room = at < 0.6 ? 'north' : 'south';
    const within = at < 0.6 ? at / 0.6 : (at - 0.6) / 0.4;
    lot.place = rooms[lot.room][Math.floor(within * rooms[lot.room].length)].place;
    lot.divisionRoom = lot.room === 'south' && rng.chance(0.45) ? 'south' : rng.chance(0.8) ? 'vault' : 'south';
    lot.divisionPlace = rng.pick(rooms[lot.divisionRoom]).place;
  });
  const found = lots.findIndex((l) => !l.variety.sought && l.variety.introduced < SEASON);
  const code = `L${String(lotCount).padStart(width, '0')}`;
  lots.push({ ...lots[Math.max(0, found)], lot: code, row: '', clumps: 0, culled: 0, found: rng.int(5, 9) });
  return lots;
}

// Which lots are cut by today, on which days and how much of them; and which lot goes bad in February.
export function planWork(rng, lots) {
  const bad = Math.max(1, Math.round(lots.length / 300));
  const ranked = lots
    .filter((l) => !l.found)
    .sort((a, b) => b.variety.popularity * b.clumps - a.variety.popularity * a.clumps);
  ranked.slice(0, bad).forEach((l) => {
    l.goesBad = true;
  });
  const rest = rng.shuffle(lots.filter((l) => !l.found && !l.goesBad));
  rest.slice(0, Math.round(lots.length / 3)).forEach((lot) => {
    lot.part = rng.chance(0.18) ? rng.range(0.35, 0.7) : 1;
    const start = rng.int(DIVIDE_FIRST, DIVIDE_LAST);
    const days = lot.clumps > 18 && rng.chance(0.7) ? 2 : 1;
    lot.sessions = Array.from({ length: days }, (_, k) => Math.min(DIVIDE_LAST, start + 2 * k));
  });
}

// A lot's events on days of their own, so that no figure hangs on what was done first on a day.
function planEvents(rng, lot) {
  const events = [];
  const taken = new Set();
  const add = (kind, wanted, last, ok = isWorkday) => {
    let d = wanted;
    while (taken.has(d) || !ok(d)) d++;
    for (let back = wanted; d > last || taken.has(d) || !ok(d); back--) d = back;
    taken.add(d);
    events.push({ kind, day: d });
    return d;
  };
  if (lot.found || rng.chance(0.06)) add('countClumps', CLUMP_COUNT_DAY, CLUMP_COUNT_DAY);
  if (lot.sessions && rng.chance(0.2)) add('countDivisions', DIVISION_COUNT_DAY, DIVISION_COUNT_DAY);
  if (lot.goesBad) add('badCheck', ROT_FOUND, ROT_FOUND);
  let first = Infinity;
  for (const d of lot.sessions ?? []) first = Math.min(first, add('divide', d, DIVIDE_LAST, isSessionDay));
  const from = lot.found ? CLUMP_COUNT_DAY + 7 : lot.dug + 10;
  for (const d of lot.goesBad ? CLUMP_CHECKS.slice(0, 2) : CLUMP_CHECKS) {
    if (d > from && rng.chance(0.62)) add('checkClumps', d + rng.int(0, 3), TODAY - 1);
  }
  for (const d of DIVISION_CHECKS)
    if (d > first + 7 && rng.chance(0.65)) add('checkDivisions', d + rng.int(0, 2), TODAY - 1);
  return events.sort((a, b) => a.day - b.day);
}

// Cuts n clumps; the divisions go into lot.divisions as pairs (rots on, dries on).
function cut(rng, lot, world, n, on) {
  const v = lot.variety;
  const hazard = weeklyHazard(v.logRotDivision, world.season.rotDivision);
  const mean = eyesMean(v, world.season, v.ownSeason, rng.normal(0, 0.05));
  const result = { rotten: 0, saleable: 0, blind: 0 };
  for (const rots of lot.stock.splice(0, n)) {
    if (rots <= on) {
      result.rotten++;
      continue;
    }
    const { saleable, blind } = divideClump(rng, mean, v.tubersPerEye);
    result.saleable += saleable;
    result.blind += blind;
    for (let i = 0; i < saleable; i++) {
      lot.divisions.push([rotDay(rng, on, hazard), dryDay(rng, on, v.lossRate, world.air[lot.divisionRoom])]);
    }
  }
  return result;
}

function inspect(rng, stock, on, all, stateOf) {
  const n = all || stock.length <= 8 ? stock.length : Math.max(5, Math.round(stock.length * rng.range(0.3, 0.9)));
  rng.shuffle(stock);
  const result = { inspected: n, rotten: 0, shrivelled: 0 };
  const kept = [];
  stock.forEach((item, i) => {
    const state = i < n ? stateOf(item, on) : 'sound';
    if (state === 'sound') kept.push(item);
    else result[state]++;
  });
  stock.splice(0, stock.length, ...kept);
  return result;
}

const clumpState = (rots, on) => (rots <= on ? 'rotten' : 'sound');
const divisionState = ([rots, dries], on) => (rots <= on ? 'rotten' : dries <= on ? 'shrivelled' : 'sound');

// A stock-take finds what is there: mostly what the ledger says, sometimes one or two more or fewer.
function stockTake(rng, stock, makeOne) {
  const delta = rng.weighted([
    [0, 5],
    [-1, 3],
    [1, 2],
    [-2, 1],
    [2, 1],
  ]);
  for (let i = delta; i < 0 && stock.length > 1; i++) stock.pop();
  for (let i = 0; i < delta; i++) stock.push(makeOne());
  return stock.length;
}

function runEvent(rng, lot, world, event, out) {
  const { kind, day: on } = event;
  const v = lot.variety;
  const clumpHazard = weeklyHazard(v.logRotClump, world.season.rotClump);
  const newClump = () => rotDay(rng, on, clumpHazard);
  if (kind === 'divide') {
    const left = lot.sessions.length - lot.sessionsDone++;
    const n = Math.min(lot.stock.length, left === 1 ? lot.toCut : Math.ceil(lot.toCut / left));
    if (n === 0) return;
    lot.toCut -= n;
    const r = cut(rng, lot, world, n, on);
    out.divisions.push([on, lot, n, r]);
  } else if (kind === 'countClumps') {
    if (lot.found) lot.stock.push(...Array.from({ length: lot.found }, newClump));
    else if (lot.stock.length) stockTake(rng, lot.stock, newClump);
    else return;
    out.counts.push([on, lot, 'clump', lot.stock.length, lot.place]);
  } else if (kind === 'countDivisions') {
    if (!lot.divisions.length) return;
    const n = stockTake(rng, lot.divisions, () => [rotDay(rng, on, 0.005), Infinity]);
    out.counts.push([on, lot, 'division', n, lot.divisionPlace]);
  } else if (kind === 'checkDivisions') {
    if (!lot.divisions.length) return;
    out.checks.push([on, lot, 'division', inspect(rng, lot.divisions, on, false, divisionState)]);
  } else if (lot.stock.length) {
    out.checks.push([on, lot, 'clump', inspect(rng, lot.stock, on, kind === 'badCheck', clumpState)]);
  }
}

// What is still whole is cut between today and two weeks before shipping; counts what is sound on the shipping day.
function soundAtShip(rng, lot, world) {
  const on = rng.int(TODAY + 3, DIVIDED_BY);
  if (lot.stock.length) cut(rng, lot, world, lot.stock.length, on);
  let n = 0;
  for (const item of lot.divisions) if (divisionState(item, SHIP) === 'sound') n++;
  return n;
}

function runLot(rng, lot, world, out) {
  const v = lot.variety;
  const hazard = weeklyHazard(v.logRotClump, world.season.rotClump);
  lot.stock = [];
  lot.divisions = [];
  for (let i = 0; i < lot.clumps; i++) {
    let rots = rotDay(rng, lot.dug, hazard);
    if (lot.goesBad && rng.chance(0.9)) rots = Math.min(rots, ROT_ONSET + rng.exponential(8));
    lot.stock.push(rots);
  }
  lot.toCut = Math.max(1, Math.round(lot.clumps * (lot.part ?? 0)));
  lot.sessionsDone = 0;
  for (const event of planEvents(rng, lot)) runEvent(rng, lot, world, event, out);
  v.clumpsNow += lot.stock.length;
  v.divisionsNow += lot.divisions.length;
  v.sound += soundAtShip(rng, lot, world);
  lot.stock = lot.divisions = null;
}

export function runCellar(rng, lots, varieties, world) {
  const out = { divisions: [], checks: [], counts: [] };
  for (const v of varieties) {
    v.clumpsNow = v.divisionsNow = v.sound = 0;
    v.ownSeason = rng.fork(`own ${v.code}`).normal(0, 0.08);
  }
  for (const lot of lots) runLot(rng.fork(lot.lot), lot, world, out);
  const byDay = (a, b) => a[0] - b[0] || (a[1].lot < b[1].lot ? -1 : a[1].lot > b[1].lot ? 1 : 0);
  for (const rows of Object.values(out)) rows.sort(byDay);
  return out;
}

// Twelve marked crates, weighed each week: eight of clumps that stay whole, four of divisions cut early.
export function writeWeighings(rng, lots, events, world, csv) {
  const firstCut = new Map();
  for (const [on, lot] of events.divisions) if (!firstCut.has(lot)) firstCut.set(lot, on);
  const whole = lots.filter((l) => !firstCut.has(l) && !l.found && !l.goesBad && l.clumps >= 6);
  const inSouth = (l) => l.room === 'south' && l.divisionRoom === 'south';
  const cutEarly = lots.filter((l) => inSouth(l) && l.part === 1 && firstCut.get(l) < CRATE_CUT_BEFORE);
  const crates = [
    ...rng
      .shuffle(whole)
      .slice(0, 8)
      .map((lot) => ({ lot, from: lot.dug + 3, room: lot.room })),
    ...rng
      .shuffle(cutEarly)
      .slice(0, 4)
      .map((lot) => ({ lot, from: firstCut.get(lot) + 1, room: lot.divisionRoom })),
  ];
  const rows = [];
  crates.forEach((crate, i) => {
    const air = world.air[crate.room];
    const kg = crate.from > DIVIDE_FIRST ? rng.range(6, 10) : rng.range(16, 26);
    for (let d = crate.from; d < TODAY; d += 7) {
      const left = Math.exp(-crate.lot.variety.lossRate * (air.upTo(d) - air.upTo(crate.from)));
      rows.push([
        d,
        `W${String(i + 1).padStart(2, '0')}`,
        crate.lot.lot,
        (kg * left * (1 + rng.normal(0, 0.003))).toFixed(2),
      ]);
    }
  });
  rows.sort((a, b) => a[0] - b[0] || (a[1] < b[1] ? -1 : 1));
  for (const [d, sample, lot, kg] of rows) csv.row([sample, lot, isoDay(d), kg]);
}

export function writeAir(world, csv) {
  for (const room of ROOMS) {
    for (const r of world.air[room.name].readings) {
      if (r.day > TODAY) break;
      if (room.name === 'south' && r.day >= GAP_FIRST && r.day <= GAP_LAST) continue;
      csv.row([room.name, `${isoDay(r.day)}T${String(r.hour).padStart(2, '0')}:00:00Z`, r.celsius, r.rh]);
    }
  }
}
