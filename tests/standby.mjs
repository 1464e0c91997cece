// SPDX-License-Identifier: MIT
// A machine is lost: the serving program and what copies its file are killed (SIGKILL) at a random moment while orders come in, and
// the file is restored elsewhere from the store alone. Then every order that was acknowledged a second or more before is on record,
// and every check holds. Run by scripts/standby try [TIMES]; CW_SEED repeats the moments. Ends with 1 if anything more was lost.
import { execFileSync, spawn, spawnSync } from 'node:child_process';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';

const [clumpwise, times = '20'] = process.argv.slice(2);
const standby = path.join(path.dirname(fileURLToPath(import.meta.url)), '../scripts/standby');
const seed = Number(process.env.CW_SEED ?? process.pid);
let state = seed >>> 0;
const random = () => (state = (Math.imul(state, 1664525) + 1013904223) >>> 0) / 2 ** 32;
const work = fs.mkdtempSync(path.join(os.tmpdir(), 'standby.'));
const env = { ...process.env, CLUMPWISE: clumpwise };
console.log(`standby: seed ${seed}`);

const at = (/** @type {number} */ n, /** @type {string} */ name) => path.join(work, `${n}.${name}`);

/** A nursery with one variety. */
function nursery(/** @type {string} */ file, /** @type {string} */ folder) {
  fs.mkdirSync(folder);
  fs.writeFileSync(path.join(folder, 'varieties.csv'), 'code,name,price\nAMB,Amber Lantern,6.50\n');
  execFileSync(clumpwise, ['new', file, '--season', '2031', '--ship', '2032-04-19'], { stdio: 'ignore' });
  execFileSync(clumpwise, ['load', file, path.join(folder, 'varieties.csv')], { stdio: 'ignore' });
}

/** A machine that serves a file and copies it to a store; `said` grows. */
async function start(/** @type {string} */ file, /** @type {string} */ store, /** @type {number} */ port) {
  const child = spawn(standby, ['serve', file, store, '--listen', `127.0.0.1:${port}`, '--today', '2032-02-20'], {
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
  child.stderr.on('data', (text) => (machine.said += text));
  for (let waited = 0; !machine.said.includes('Ctrl-C stops it') || !fs.existsSync(store); waited += 50) {
    if (waited > 60000 || child.exitCode !== null) throw new Error(`the machine did not start: ${machine.said}`);
    await new Promise((r) => setTimeout(r, 50));
  }
  return machine;
}

function restore(/** @type {string} */ store, /** @type {string} */ file) {
  const back = spawnSync(standby, ['restore', store, file], { env, encoding: 'utf8' });
  if (back.status !== 0) throw new Error(`nothing came back: ${back.stdout}${back.stderr}`);
}

/** One machine lost; how many orders were acknowledged, and which of them, and when, are not in the restored file. */
async function lose(/** @type {number} */ n) {
  const file = at(n, 'db');
  const port = 21000 + ((process.pid + n) % 20000);
  nursery(file, at(n, 'files'));
  const machine = await start(file, at(n, 'store'), port);
  const send = (/** @type {string} */ target, /** @type {unknown} */ body) =>
    fetch(`http://127.0.0.1:${port}${target}`, {
      method: 'POST',
      headers: { 'Content-Type': 'application/json' },
      body: JSON.stringify(body),
    });
  const granted = await send('/api/oversell', { variety: 'AMB', quantity: 100000, why: 'to be tried' });
  if (granted.status >= 300) throw new Error(`${granted.status} ${await granted.text()}`);
  const told = /** @type {[string, number][]} */ ([]);
  const until = performance.now() + 1500 + 4000 * random();
  const shop = async (/** @type {number} */ k) => {
    for (let i = 0; performance.now() < until; i++) {
      const order = `N${k}-${i}`;
      const lines = [{ line: 1, variety: 'AMB', quantity: 1, unit_price: '6.50', consent: 'same' }];
      const buyer = { customer: 'Mo', email: 'mo@example.org', postcode: '1', country: 'US' };
      const r = await send('/api/orders', { order, channel: 'web', ...buyer, lines });
      if (r.status !== 201) throw new Error(`${r.status} ${await r.text()}`);
      told.push([order, performance.now()]);
    }
  };
  await Promise.all([0, 1, 2, 3].map(shop));
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

/** A copy was restored while the former machine only seemed to be lost: as soon as the copy is served the other stops, and neither it
 * nor a second copy may be served again. */
async function fence() {
  const port = 20500 + (process.pid % 400);
  const store = at(-1, 'store');
  nursery(at(-1, 'db'), at(-1, 'files'));
  const former = await start(at(-1, 'db'), store, port);
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
