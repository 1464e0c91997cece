// SPDX-License-Identifier: MIT
// A machine is lost: the serving program and what copies its file are killed (SIGKILL) at a random moment while orders come in, and
// the file is restored elsewhere from the store alone. Then every order that was acknowledged a second or more before is on record,
// and every check holds. Run by scripts/standby try [TIMES]; CW_SEED repeats the moments. Ends with 1 if anything more was lost.
import { execFileSync, spawn, spawnSync } from 'node:child_process';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';

const [clumpwise, times = '20', what = 'try'] = process.argv.slice(2);
const standby = path.join(path.dirname(fileURLToPath(import.meta.url)), '../scripts/standby');
const seed = Number(process.env.CW_SEED ?? process.pid);
let state = seed >>> 0;
const random = () => (state = (Math.imul(state, 1664525) + 1013904223) >>> 0) / 2 ** 32;
const work = fs.mkdtempSync(path.join(os.tmpdir(), 'standby.'));
const env = { ...process.env, CLUMPWISE: clumpwise };
console.log(`standby: seed ${seed}`);

let series = 0; // of orders, so that no two are one
const at = (/** @type {number} */ n, /** @type {string} */ name) => path.join(work, `${n}.${name}`);

/** A nursery with one variety. */
function nursery(/** @type {string} */ file, /** @type {string} */ folder) {
  fs.mkdirSync(folder);
  fs.writeFileSync(path.join(folder, 'varieties.csv'), 'code,name,price\nAMB,Amber Lantern,6.50\n');
  execFileSync(clumpwise, ['new', file, '--season', '2031', '--ship', '2032-04-19'], { stdio: 'ignore' });
  execFileSync(clumpwise, ['load', file, path.join(folder, 'varieties.csv')], { stdio: 'ignore' });
}

/** A machine that serves a file, and copies it to a store if one is given; `said` grows. */
async function start(/** @type {string} */ file, /** @type {string | null} */ store, /** @type {number} */ port) {
  const [program, args] = store ? [standby, ['serve', file, store]] : [clumpwise, ['serve', file]];
  const child = spawn(program, [...args, '--listen', `127.0.0.1:${port}`, '--today', '2032-02-20'], {
    env,
    detached: true,
    stdio: ['ignore', 'ignore', 'pipe'],
  });
  const end = () => {
    try {
      process.kill(-(/** @type {number} */ (child.pid)), 'SIGKILL'); // the script's own group: program and engine
    } catch {
      /* it has ended */
    }
  };
  const machine = { child, said: '', end };
  process.once('exit', end);
  child.once('exit', () => process.off('exit', end));
  child.stderr.on('data', (text) => (machine.said += text));
  for (let waited = 0; !machine.said.includes('Ctrl-C stops it') || (store && !fs.existsSync(store)); waited += 50) {
    if (waited > 60000 || child.exitCode !== null) throw new Error(`the machine did not start: ${machine.said}`);
    await new Promise((r) => setTimeout(r, 50));
  }
  return machine;
}

function restore(/** @type {string} */ store, /** @type {string} */ file) {
  const back = spawnSync(standby, ['restore', store, file], { env, encoding: 'utf8' });
  if (back.status !== 0) throw new Error(`nothing came back: ${back.stdout}${back.stderr}`);
}

/** Four shops that send orders to a server for so long, as fast as they are answered or so many a second in all: each order that was
 * acknowledged, when, and how long that took. */
async function sell(/** @type {number} */ port, /** @type {number} */ ms, rate = Infinity) {
  const send = (/** @type {string} */ target, /** @type {unknown} */ body) =>
    fetch(`http://127.0.0.1:${port}${target}`, {
      method: 'POST',
      headers: { 'Content-Type': 'application/json' },
      body: JSON.stringify(body),
    });
  const granted = await send('/api/oversell', { variety: 'AMB', quantity: 100000, why: 'to be tried' });
  if (granted.status >= 300) throw new Error(`${granted.status} ${await granted.text()}`);
  const told = /** @type {[string, number, number][]} */ ([]);
  const first = series++;
  const began = performance.now();
  const until = began + ms;
  const shop = async (/** @type {number} */ k) => {
    for (let i = 0; performance.now() < until; i++) {
      const order = `N${first}-${k}-${i}`;
      const due = began + ((4 * i + k) * 1000) / rate; // what is late is sent at once, and its wait counts
      if (due > performance.now()) await new Promise((r) => setTimeout(r, due - performance.now()));
      const asked = rate === Infinity ? performance.now() : due;
      const lines = [{ line: 1, variety: 'AMB', quantity: 1, unit_price: '6.50', consent: 'same' }];
      const buyer = { customer: 'Mo', email: 'mo@example.org', postcode: '1', country: 'US' };
      const r = await send('/api/orders', { order, channel: 'web', ...buyer, lines });
      if (r.status !== 201) throw new Error(`${r.status} ${await r.text()}`);
      told.push([order, performance.now(), performance.now() - asked]);
    }
  };
  await Promise.all([0, 1, 2, 3].map(shop));
  return told;
}

/** One machine lost; how many orders were acknowledged, and which of them, and when, are not in the restored file. */
async function lose(/** @type {number} */ n) {
  const file = at(n, 'db');
  const port = 21000 + ((process.pid + n) % 20000);
  nursery(file, at(n, 'files'));
  const machine = await start(file, at(n, 'store'), port);
  const told = await sell(port, 1500 + 4000 * random());
  const dead = performance.now();
  machine.end();
  await new Promise((r) => machine.child.on('exit', r));
  fs.rmSync(file); // that disk is gone
  restore(at(n, 'store'), at(n, 'back.db'));
  const there = new Set(
    execFileSync(clumpwise, ['export', at(n, 'back.db'), '--as', 'orders'], { encoding: 'utf8', maxBuffer: 1 << 28 })
      .split('\n')
      .map((l) => l.split(',')[0]),
  );
  const lost = told.filter(([order]) => !there.has(order));
  return { told: told.length, lost: lost.length, late: lost.filter(([, when]) => dead - when > 1000).length };
}

/** Seconds for which the store has lacked something, as the server says; waits until `is` holds. */
async function behind(/** @type {number} */ port, /** @type {(seconds: number) => boolean} */ is) {
  for (let waited = 0; waited < 30000; waited += 100) {
    const told = await (await fetch(`http://127.0.0.1:${port}/api/standby`)).json();
    if (!told.kept) throw new Error('the server knows of no store');
    if (is(told.behind)) return;
    await new Promise((r) => setTimeout(r, 100));
  }
  throw new Error('the server does not say how far the store is behind');
}

/** An engine that hangs is seen, and that it has caught up, too. */
async function lag(
  /** @type {{child: import('node:child_process').ChildProcess}} */ machine,
  /** @type {number} */ port,
) {
  await behind(port, (seconds) => seconds === 0);
  const engine = Number(execFileSync('pgrep', ['-P', String(machine.child.pid), 'litestream'], { encoding: 'utf8' }));
  process.kill(engine, 'SIGSTOP');
  try {
    await sell(port, 200);
    await behind(port, (seconds) => seconds >= 3);
  } finally {
    process.kill(engine, 'SIGCONT');
  }
  await behind(port, (seconds) => seconds === 0);
  console.log('standby: an engine that hangs is told after seconds, and that it has caught up');
}

/** A copy was restored while the former machine only seemed to be lost: as soon as the copy is served the other stops, and neither it
 * nor a second copy may be served again. */
async function fence() {
  const port = 20500 + (process.pid % 400);
  const store = at(-1, 'store');
  nursery(at(-1, 'db'), at(-1, 'files'));
  const former = await start(at(-1, 'db'), store, port);
  await lag(former, port);
  const behind = spawnSync(standby, ['lag', at(-1, 'db'), store], { env, encoding: 'utf8' });
  if (behind.status !== 0) throw new Error(`the store is ${behind.stdout}`);
  restore(store, at(-1, 'back.db'));
  restore(store, at(-1, 'second.db'));
  const copy = await start(at(-1, 'back.db'), store, port + 1);
  for (let waited = 0; former.child.exitCode === null && waited < 20000; waited += 50)
    await new Promise((r) => setTimeout(r, 50));
  if (former.child.exitCode !== 1) throw new Error(`the former machine still runs: ${former.said}`);
  for (const file of ['db', 'second.db']) {
    const again = spawnSync(standby, ['serve', at(-1, file), store, '--listen', `127.0.0.1:${port}`], {
      env,
      encoding: 'utf8',
      timeout: 20000,
    });
    if (again.status !== 1 || !again.stderr.includes('not to be served any more'))
      throw new Error(`${file}: ${again.stderr}`);
  }
  copy.end();
  await new Promise((r) => copy.child.on('exit', r));
  console.log('standby: a restored copy fences off the former file and a second copy');
}

/** Milliseconds of processor time that a machine's processes of this name have taken. */
function processor(/** @type {number} */ group, /** @type {string} */ name) {
  const said = execFileSync('ps', ['-eo', 'pgid=,pid=,comm='], { encoding: 'utf8' });
  const pids = said
    .split('\n')
    .map((l) => l.trim().split(/\s+/))
    .filter(([g, , comm]) => Number(g) === group && comm === name);
  return pids.reduce((sum, [, pid]) => {
    const fields = fs.readFileSync(`/proc/${pid}/stat`, 'utf8').split(') ')[1].split(' ');
    return sum + 10 * (Number(fields[11]) + Number(fields[12])); // ticks of 10 ms
  }, 0);
}

const middle = (/** @type {number[]} */ of, at = 0.5) => [...of].sort((a, b) => a - b)[Math.floor(of.length * at)];

/** One nursery sells for so long, with a copy or without: orders a second, waits, and processor time for a thousand orders. */
async function sold(/** @type {number} */ n, /** @type {boolean} */ copied, /** @type {number} */ rate) {
  const port = 21000 + ((process.pid + n) % 20000);
  const ms = 4000;
  nursery(at(n, 'db'), at(n, 'files'));
  const machine = await start(at(n, 'db'), copied ? at(n, 'store') : null, port);
  const group = /** @type {number} */ (machine.child.pid);
  await sell(port, 500, rate);
  const before = ['clumpwise', 'litestream'].map((name) => processor(group, name));
  const told = await sell(port, ms, rate);
  const took = ['clumpwise', 'litestream'].map((name, i) => processor(group, name) - before[i]);
  machine.end();
  await new Promise((r) => machine.child.on('exit', r));
  const waits = told.map(([, , wait]) => wait);
  return {
    rate: (told.length * 1000) / ms,
    wait: middle(waits),
    slow: middle(waits, 0.95),
    program: (took[0] * 1000) / told.length,
    engine: (took[1] * 1000) / told.length,
  };
}

/** What copying costs, in turn with a copy and without: at most orders a second, where shops, program and engine share the
 * processors; and at half of what the machine can do without a copy, which is still far beyond a nursery. */
async function cost() {
  const said = (/** @type {string} */ name, /** @type {any[]} */ of) => {
    const m = (/** @type {string} */ key) => middle(of.map((one) => one[key]));
    console.log(
      `standby_${name} ${m('rate').toFixed(0)} orders/s, answered in ${m('wait').toFixed(2)} ms (95 %: ${m('slow').toFixed(2)}), ` +
        `program ${m('program').toFixed(0)} and engine ${m('engine').toFixed(0)} ms of processor for 1000 orders`,
    );
    return m('rate');
  };
  let n = 0;
  const both = async (/** @type {string} */ name, /** @type {number} */ rate) => {
    const of = /** @type {{plain: any[], copied: any[]}} */ ({ plain: [], copied: [] });
    for (let i = 0; i < Number(times); i++) {
      of.plain.push(await sold(n++, false, rate));
      of.copied.push(await sold(n++, true, rate));
    }
    const plain = said(`plain${name}`, of.plain);
    const copied = said(`copied${name}`, of.copied);
    console.log(`standby_ratio${name} ${(copied / plain).toFixed(3)} of 1, median of ${times} each`);
    return plain;
  };
  const most = await both('', Infinity);
  await both('_at_half', most / 2);
  fs.rmSync(work, { recursive: true, force: true });
}

if (what === 'cost') {
  await cost();
  process.exit(0);
}
await fence();
let told = 0,
  lost = 0,
  late = 0;
for (let n = 0; n < Number(times); n++) {
  const one = await lose(n);
  told += one.told;
  lost += one.lost;
  late += one.late;
}
fs.rmSync(work, { recursive: true, force: true });
console.log(
  `standby: ${times} machines lost; of ${told} acknowledged orders ${lost} are lost, ${late} of them older than a second`,
);
process.exit(late > 0 ? 1 : 0);
