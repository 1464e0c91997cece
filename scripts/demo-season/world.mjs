// SPDX-License-Identifier: MIT
// How a clump yields, how stock rots and dries: the mechanics under the season's figures, and the past seasons that
// the nursery remembers of them.
import { DIG_FIRST, SEASON, SHIP } from './days.mjs';

const DRY_LIMIT_MEDIAN = 0.2; // share of its mass that half of the divisions may lose before they are shrivelled
const DRY_LIMIT_SIGMA = 0.45;

export const ROOMS = [
  { name: 'north', letter: 'N', celsius: 6.1, humidity: 93.5, share: 0.4 },
  { name: 'south', letter: 'S', celsius: 6.9, humidity: 89.0, share: 0.3 },
  { name: 'vault', letter: 'V', celsius: 5.6, humidity: 95.0, share: 0.3 },
];

// What one season does to everything that grew in it.
export function makeSeason(rng, year) {
  const r = rng.fork(`season ${year}`);
  const bad = year === SEASON ? -0.1 : 0;
  return {
    year,
    yield: r.normal(bad, 0.1),
    rotClump: r.normal(0, 0.25),
    rotDivision: r.normal(0, 0.25),
    dry: r.range(35, 70),
  };
}

// Eyes and tubers are drawn apart; only a tuber with an eye can be sold, and the knife spoils a few.
export function divideClump(rng, eyesMean, tubersPerEye) {
  const eyes = 1 + rng.poisson(eyesMean - 1);
  const tubers = 2 + rng.poisson(Math.max(0.5, eyesMean * tubersPerEye - 2));
  const saleable = rng.binomial(Math.min(eyes, tubers), 0.94);
  return { saleable, blind: tubers - saleable };
}

export const eyesMean = (v, season, own, session) => Math.max(1.2, Math.exp(v.logEyes + season.yield + own + session));
export const weeklyHazard = (logHazard, effect) => Math.exp(logHazard + effect);
export const rotDay = (rng, from, weekly) => from + rng.exponential(7 / weekly);

// Saturation vapour pressure over water in Pa (Magnus form; WMO Guide to Instruments, Annex 4.B), and the deficit.
export function vapourDeficit(celsius, rh) {
  return 611.2 * Math.exp((17.62 * celsius) / (243.12 + celsius)) * (1 - rh / 100);
}

// Readings every 3 hours from the first digging to shipping, and the running integral of the deficit in Pa days.
export function makeRoomAir(rng, room) {
  const readings = [];
  const integral = [0];
  let t = 0;
  let h = 0;
  for (let d = DIG_FIRST; d <= SHIP; d++) {
    const winter = Math.cos((2 * Math.PI * (d - (DIG_FIRST + 95))) / 365); // coldest in late January
    let sum = 0;
    for (let hour = 0; hour < 24; hour += 3) {
      t = 0.97 * t + rng.normal(0, 0.12);
      h = 0.95 * h + rng.normal(0, 0.45);
      const celsius = room.celsius - 0.9 * winter + 0.25 * Math.sin((2 * Math.PI * (hour - 9)) / 24) + t;
      const snap = room.name === 'south' && d >= DIG_FIRST + 88 && d < DIG_FIRST + 99 ? 6 : 0; // heater on in the cold
      const rh = Math.min(99, Math.max(60, room.humidity - snap + h));
      const reading = { day: d, hour, celsius: celsius.toFixed(1), rh: rh.toFixed(1) };
      readings.push(reading);
      sum += vapourDeficit(celsius, rh) / 8;
    }
    integral.push(integral[integral.length - 1] + sum);
  }
  return { readings, integral, upTo: (d) => integral[Math.min(d, SHIP) - DIG_FIRST] };
}

// The day on which a division cut on `from` has lost more than it can bear; Infinity if not by shipping.
export function dryDay(rng, from, lossRate, air) {
  const limit = DRY_LIMIT_MEDIAN * Math.exp(rng.normal(0, DRY_LIMIT_SIGMA));
  const wanted = air.upTo(from) - Math.log(1 - Math.min(0.95, limit)) / lossRate;
  if (air.upTo(SHIP) < wanted) return Infinity;
  let low = from;
  let high = SHIP;
  while (low < high) {
    const mid = (low + high) >> 1;
    if (air.upTo(mid) < wanted) low = mid + 1;
    else high = mid;
  }
  return low;
}

// Logistic stand-in, within 0.01 everywhere: enough for a share of shrivelled divisions in an invented past.
function normalCdf(x) {
  return 1 / (1 + Math.exp(-1.702 * x));
}

function pastClumps(v, year, meanClumps) {
  const age = year - v.introduced;
  const growth = age <= 0 ? 0.25 : age === 1 ? 0.55 : 1;
  return Math.max(2, Math.min(400, Math.round(v.stock * meanClumps * growth)));
}

function pastSessions(rng, v, season, meanClumps, out) {
  const own = rng.normal(0, 0.08); // variety × season
  let left = Math.max(2, Math.round(pastClumps(v, season.year, meanClumps) * rng.range(0.6, 1.1)));
  for (let sessions = left > 20 ? rng.int(2, 3) : left > 8 ? rng.int(1, 2) : 1; sessions > 0; sessions--) {
    const n =
      sessions === 1
        ? left
        : Math.max(1, Math.min(left - sessions, Math.round((left / sessions) * rng.range(0.7, 1.3))));
    const mean = eyesMean(v, season, own, rng.normal(0, 0.05));
    let divisions = 0;
    for (let i = 0; i < n; i++) divisions += divideClump(rng, mean, v.tubersPerEye).saleable;
    out.history.row([season.year, v.code, n, divisions]);
    left -= n;
  }
}

function pastChecks(rng, v, season, meanClumps, out) {
  const clumps = pastClumps(v, season.year, meanClumps);
  for (const [stage, hazard, size] of [
    ['clump', weeklyHazard(v.logRotClump, season.rotClump), clumps],
    ['division', weeklyHazard(v.logRotDivision, season.rotDivision), clumps * 5],
  ]) {
    for (
      let times = rng.weighted([
        [0, 2],
        [1, 5],
        [2, 3],
      ]);
      times > 0;
      times--
    ) {
      const weeks = rng.int(3, 9);
      const inspected = Math.max(2, Math.min(120, Math.round(size * rng.range(0.3, 0.8))));
      const rotten = rng.binomial(inspected, 1 - Math.exp(-hazard * weeks));
      const loss = 1 - Math.exp(-v.lossRate * season.dry * (weeks + 4) * 7);
      const dry = normalCdf(Math.log(loss / DRY_LIMIT_MEDIAN) / DRY_LIMIT_SIGMA);
      const shrivelled = stage === 'division' ? rng.binomial(inspected - rotten, dry) : '';
      out.pastChecks.row([season.year, v.code, stage, weeks, inspected, rotten, shrivelled]);
    }
  }
}

export function writePast(rng, varieties, seasons, meanClumps, out) {
  for (const season of seasons) {
    for (const v of varieties) {
      if (v.introduced > season.year) continue;
      const r = rng.fork(`${season.year} ${v.code}`);
      pastSessions(r, v, season, meanClumps, out);
      pastChecks(r, v, season, meanClumps, out);
    }
  }
}
