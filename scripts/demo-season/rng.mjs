// SPDX-License-Identifier: MIT
// Seeded random numbers (sfc32) and the few draws that the demo season needs. The same seed gives the same stream on
// every machine: nothing here reads the clock or Math.random.

function hash32(text) {
  let h = 0x811c9dc5;
  for (let i = 0; i < text.length; i++) h = Math.imul(h ^ text.charCodeAt(i), 0x01000193);
  h ^= h >>> 16;
  h = Math.imul(h, 0x85ebca6b);
  h ^= h >>> 13;
  return (Math.imul(h, 0xc2b2ae35) ^ (h >>> 16)) >>> 0;
}

export class Rng {
  constructor(seed) {
    this.seed = String(seed);
    this.a = hash32(this.seed + '/a');
    this.b = hash32(this.seed + '/b');
    this.c = hash32(this.seed + '/c');
    this.d = 1;
    for (let i = 0; i < 12; i++) this.unit();
  }

  // An independent stream, so that drawing more in one part of the season leaves the other parts as they were.
  fork(label) {
    return new Rng(`${this.seed}/${label}`);
  }

  // Uniform in (0, 1), never an end.
  unit() {
    const t = (((this.a + this.b) | 0) + this.d) | 0;
    this.d = (this.d + 1) | 0;
    this.a = this.b ^ (this.b >>> 9);
    this.b = (this.c + (this.c << 3)) | 0;
    this.c = (((this.c << 21) | (this.c >>> 11)) + t) | 0;
    return ((t >>> 0) + 0.5) / 4294967296;
  }

  chance(p) {
    return this.unit() < p;
  }

  // Whole number from low to high, both included.
  int(low, high) {
    return low + Math.floor(this.unit() * (high - low + 1));
  }

  range(low, high) {
    return low + this.unit() * (high - low);
  }

  normal(mean = 0, sd = 1) {
    return mean + sd * Math.sqrt(-2 * Math.log(this.unit())) * Math.cos(2 * Math.PI * this.unit());
  }

  exponential(mean) {
    return -mean * Math.log(this.unit());
  }

  poisson(mean) {
    if (mean <= 0) return 0;
    if (mean > 40) return Math.max(0, Math.round(this.normal(mean, Math.sqrt(mean))));
    const floor = Math.exp(-mean);
    let k = 0;
    for (let p = this.unit(); p > floor; p *= this.unit()) k++;
    return k;
  }

  binomial(n, p) {
    let k = 0;
    for (let i = 0; i < n; i++) if (this.unit() < p) k++;
    return k;
  }

  pick(list) {
    return list[Math.floor(this.unit() * list.length)];
  }

  // Picks from [[value, weight], ...].
  weighted(pairs) {
    let total = 0;
    for (const [, w] of pairs) total += w;
    let at = this.unit() * total;
    for (const [value, w] of pairs) if ((at -= w) < 0) return value;
    return pairs[pairs.length - 1][0];
  }

  shuffle(list) {
    for (let i = list.length - 1; i > 0; i--) {
      const j = Math.floor(this.unit() * (i + 1));
      [list[i], list[j]] = [list[j], list[i]];
    }
    return list;
  }
}
