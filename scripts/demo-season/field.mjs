// SPDX-License-Identifier: MIT
// The summer before: what was set out in each row, the walks that counted it, and what past seasons set out and dug. Made to fit
// what was dug: plants are what the clumps need, and the losses of the way. The shares are plausible, not measured.
import { isoDay } from './days.mjs';

const PLANTED_FIRST = '2031-05-12';
const REASONS = ['virus', 'wrong variety', 'gall'];

/** How many plants it takes until so many are left: each is lost with that chance. */
function plantsFor(rng, left, loss) {
  let plants = left;
  for (let i = 0; i < left; i++) while (rng.chance(loss)) plants++;
  return plants;
}

/** A stretch of a row for each variety in it. */
function stretches(lots) {
  const map = new Map();
  for (const l of lots) {
    if (l.row === '') continue;
    const key = `${l.row} ${l.variety.code}`;
    const s = map.get(key) ?? { row: l.row, variety: l.variety, dug: 0, last: l.dug };
    s.dug += l.clumps + l.culled;
    s.last = Math.max(s.last, l.dug);
    map.set(key, s);
  }
  return [...map.values()];
}

export function writeField(rng, lots, files) {
  const first = Date.parse(`${PLANTED_FIRST}T00:00:00Z`) / 86400000;
  const season = rng.normal(0, 0.2);
  const walks = [];
  stretches(lots).forEach((s, i) => {
    const r = rng.fork(`${s.row} ${s.variety.code}`);
    const loss = Math.min(0.4, 0.07 * Math.exp(season + r.normal(0, 0.5)));
    const late = plantsFor(r, s.dug, loss * 0.3); // alive at the end of August
    const rogued = r.chance(0.12) ? r.int(1, 3) : 0;
    const summer = plantsFor(r, late + rogued, loss * 0.3); // alive at the beginning of July
    const plants = plantsFor(r, summer, loss);
    const planted = first + Math.min(27, Math.floor(i / 14)); // four weeks, however many rows there are
    files.plantings.row([s.row, s.variety.code, plants, isoDay(planted), '', 60]);
    walks.push([first + 50 + (i % 8), [s.row, summer, 0, '', s.variety.code]]);
    walks.push([first + 105 + (i % 8), [s.row, late + rogued, rogued, rogued ? r.pick(REASONS) : '', s.variety.code]]);
    walks.push([s.last, [s.row, 0, 0, 'dug', s.variety.code]]);
  });
  walks.sort((a, b) => a[0] - b[0]);
  for (const [day, [row, alive, rogued, reason, code]] of walks)
    files.field_rounds.row([row, isoDay(day), alive, rogued, reason, code]);
}

export function writePastPlantings(rng, varieties, seasons, meanClumps, file) {
  for (const season of seasons) {
    const year = rng.normal(0, 0.25);
    for (const v of varieties) {
      if (v.introduced > season.year) continue;
      const r = rng.fork(`${season.year} ${v.code}`);
      const plants = Math.max(3, Math.round(v.stock * meanClumps * r.range(0.8, 1.3)));
      const lost = Math.min(0.6, 0.13 * Math.exp(year + r.normal(0, 0.35)));
      file.row([season.year, v.code, plants, r.binomial(plants, 1 - lost)]);
    }
  }
}
