// SPDX-License-Identifier: MIT
// What waits on a large season, beside what SQLite's own shell takes for the like in the same run. Prints "name value unit" lines.
//
//   node table.mjs CLUMPWISE [FOLDER [ROUNDS]]   FOLDER: CSV files of a season (default: 1,500 varieties and 961,000 lines of
//                                                160,000 orders are made by scripts/demo-season/make.mjs); ROUNDS: 3
//
// Each line of the table is measured ROUNDS times, ours and the peer's in turns, and told as medians of processor time (user and
// system, of all threads), which a busy machine disturbs least, and as the ratio of the two. Peers: sqlite3's shell, which
// everybody has who has SQLite; it checks nothing, gives no reasons, and writes a third of the columns.
import { execFileSync, spawn, spawnSync } from 'node:child_process';
import fs from 'node:fs';
import http from 'node:http';
import os from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';

const here = path.dirname(fileURLToPath(import.meta.url));
const [program, given, rounds = '3'] = process.argv.slice(2);
if (!program) throw new Error('usage: node table.mjs CLUMPWISE [FOLDER [ROUNDS]]');
const clumpwise = path.resolve(program);
const work = fs.mkdtempSync(path.join(os.tmpdir(), 'bench_table.'));
const inWork = (/** @type {string} */ name) => path.join(work, name);
process.on('exit', () => fs.rmSync(work, { recursive: true, force: true }));

const median = (/** @type {number[]} */ all) => [...all].sort((a, b) => a - b)[all.length >> 1];
const say = (/** @type {string} */ name, /** @type {number} */ value, /** @type {string} */ unit) =>
  console.log(`table.${name} ${value.toFixed(3)} ${unit}`);

/** Processor seconds of a program whose output goes to a file. Its shell's `times` tells them; Node does not. */
function seconds(/** @type {string[]} */ command, input = '') {
  const quoted = command.map((word) => `'${word.replaceAll("'", `'\\''`)}'`).join(' ');
  fs.writeFileSync(inWork('in'), input);
  const r = spawnSync('bash', ['-c', `${quoted} < in > out 2> err || { cat err >&2; exit 1; }; times >&2`], {
    cwd: work,
  });
  const told = String(r.stderr).trim().split('\n');
  if (r.status !== 0) throw new Error(`${quoted}: ${told[0]}`);
  return (told[1].match(/\d+m[\d.]+s/g) ?? [])
    .map((t) => t.split('m'))
    .reduce((sum, [minutes, rest]) => sum + Number(minutes) * 60 + parseFloat(rest), 0);
}

/** One line of the table: ours and the peer's in turns. */
function line(/** @type {string} */ name, /** @type {() => number} */ ours, /** @type {(() => number) | null} */ peer) {
  const a = [],
    b = [];
  for (let i = 0; i < Number(rounds); i++) {
    a.push(ours());
    if (peer) b.push(peer());
  }
  say(name, median(a), 's');
  if (peer) {
    say(`${name}_peer`, median(b), 's');
    say(`${name}_ratio`, median(a.map((v, i) => v / b[i])), 'of_peer');
  }
}

const folder = path.resolve(given ?? inWork('season'));
if (!given)
  execFileSync('node', [
    path.join(here, '../../scripts/demo-season/make.mjs'),
    '--out',
    folder,
    '--varieties',
    '1500',
    '--seasons',
    '12',
    '--lots',
    '3000',
    '--orders',
    '160000',
    '--lines',
    '961000',
    '--seed',
    '1',
  ]);
const orders = path.join(folder, 'orders.csv');
const others = fs
  .readdirSync(folder)
  .filter((f) => f.endsWith('.csv') && f !== 'orders.csv')
  .map((f) => path.join(folder, f));
const db = inWork('season.db');
const plain = inWork('plain.db');

function fresh() {
  for (const f of fs.readdirSync(work)) if (f.startsWith('season.db')) fs.rmSync(inWork(f));
  /* Made today: else what is said at a month's end, which the first write of a month keeps, is worked out within the load. */
  const made = ['--season', '2031', '--ship', '2032-04-19', '--today', '2032-02-20'];
  execFileSync(clumpwise, ['new', db, ...made], { stdio: 'ignore' });
  execFileSync(clumpwise, ['load', db, ...others, '--today', '2032-02-20'], { stdio: 'ignore' });
}

/* The same rows into two tables with the indexes that such tables have; nothing is checked. */
const IMPORT = `PRAGMA journal_mode=WAL;
CREATE TEMP TABLE raw (number, received_at, line, variety, quantity, unit_price, channel, tier, customer, email, postcode, country,
  zone, wish_week, consent, named, all_or_none, assortment);
.mode csv
.import --skip 1 ${orders} raw
BEGIN;
CREATE TABLE orders (id INTEGER PRIMARY KEY, number TEXT UNIQUE, received_at TEXT, tier TEXT, customer TEXT, email TEXT, postcode TEXT,
  country TEXT, zone TEXT, wish_week TEXT);
CREATE TABLE line (id INTEGER PRIMARY KEY, order_id INTEGER REFERENCES orders, line INTEGER, variety TEXT, quantity INTEGER,
  unit_price REAL, consent TEXT, all_or_none INTEGER, UNIQUE (order_id, line));
INSERT INTO orders (number, received_at, tier, customer, email, postcode, country, zone, wish_week)
  SELECT number, received_at, tier, customer, email, postcode, country, zone, wish_week FROM raw GROUP BY number;
INSERT INTO line (order_id, line, variety, quantity, unit_price, consent, all_or_none)
  SELECT o.id, r.line, r.variety, r.quantity, r.unit_price, r.consent, r.all_or_none FROM raw r JOIN orders o ON o.number = r.number;
CREATE INDEX line_variety ON line (variety);
COMMIT;
`;

/* Queues and what each line gets of 300 divisions, in order of service: what a rule does at its simplest. */
const SHARE = `SELECT l.variety, o.number, l.line, l.quantity,
  MAX(0, MIN(l.quantity, 300 - SUM(l.quantity) OVER w + l.quantity)) AS allocated,
  ROW_NUMBER() OVER w AS place, SUM(l.quantity) OVER (PARTITION BY l.variety) AS asked
FROM line l JOIN orders o ON o.id = l.order_id
WINDOW w AS (PARTITION BY l.variety ORDER BY o.tier, o.received_at, o.number ROWS UNBOUNDED PRECEDING);
`;
const JOINED = `SELECT o.number, o.received_at, l.line, l.variety, l.quantity, l.unit_price, o.tier, o.customer, o.zone, o.wish_week
FROM line l JOIN orders o ON o.id = l.order_id ORDER BY o.id, l.line;
`;

const shell = (/** @type {string} */ sql, mode = '-csv') => seconds(['sqlite3', mode, plain], sql);
const ours = (/** @type {string[]} */ ...args) =>
  seconds([clumpwise, args[0], db, ...args.slice(1), '--today', '2032-02-20']);

line(
  'load',
  () => {
    fresh();
    return ours('load', orders);
  },
  () => {
    for (const f of fs.readdirSync(work)) if (f.startsWith('plain.db')) fs.rmSync(inWork(f));
    return shell(IMPORT);
  },
);
for (const rule of ['first-come', 'pro-rata', 'one-each-first'])
  line(
    `allocate_${rule}_csv`,
    () => ours('allocate', '--supply', 'counted', '--rule', rule, '--csv'),
    () => shell(SHARE),
  );
line('allocate_all_csv', () => ours('allocate', '--supply', 'counted', '--csv'), null);
line(
  'allocate_json',
  () => ours('allocate', '--supply', 'counted', '--rule', 'first-come', '--json'),
  () => shell(SHARE, '-json'),
);
line(
  'export_orders_csv',
  () => ours('export', '--as', 'orders'),
  () => shell(JOINED),
);

/* The order desk at the server: 20 times each, the 95th percentile of what the office waits and the mean of processor time; first
   while nothing changes, so that all but the first are answered again from memory. */
const port = 20000 + (process.pid % 20000);
const server = spawn(clumpwise, ['serve', db, '--listen', `127.0.0.1:${port}`, '--today', '2032-02-20'], {
  stdio: ['ignore', 'ignore', 'pipe'],
});
process.on('exit', () => server.kill('SIGKILL'));
await new Promise((ready, fail) => {
  server.stderr.on('data', (text) => String(text).includes('Ctrl-C') && ready(null));
  server.on('exit', () => fail(new Error('the server did not start')));
});
const stat = () => fs.readFileSync(`/proc/${server.pid}/stat`, 'utf8').split(') ')[1].split(' ');
const cpu = () => (Number(stat()[11]) + Number(stat()[12])) * 10;
const agent = new http.Agent({ keepAlive: true });
const send = (/** @type {string} */ method, /** @type {string} */ target, /** @type {string} */ body = '') =>
  new Promise((done, fail) => {
    const headers = {
      'Accept-Encoding': 'gzip',
      'Content-Type': 'application/json',
      Origin: `http://127.0.0.1:${port}`,
    };
    http
      .request({ method, port, host: '127.0.0.1', path: target, agent, headers }, (r) => {
        r.resume();
        const well = (r.statusCode ?? 500) < 300;
        r.on('end', () => (well ? done(null) : fail(new Error(`${target}: ${r.statusCode}`))));
      })
      .on('error', fail)
      .end(body);
  });
const ask = (/** @type {string} */ target) => send('GET', target);
const rows = fs.readFileSync(orders, { encoding: 'utf8', flag: 'r' }).split('\n', 4000).slice(1);
const first = rows[0].split(',');
const callers = [...new Set(rows.map((row) => row.split(',')[0]))].slice(1);
const questions = {
  find_name: `/api/orders?q=${encodeURIComponent(first[8])}`,
  find_number: `/api/orders?q=${first[0]}`,
  open: `/api/orders/${first[0]}`,
  page: '/api/orders?page=50',
  short_list: '/api/short',
  share_one: `/api/allocation?variety=${first[3]}`,
  schedule: '/api/schedule',
};
for (const [name, target] of Object.entries(questions)) {
  const took = [];
  const before = cpu();
  for (let i = 0; i < 20; i++) {
    const start = performance.now();
    await ask(target);
    took.push(performance.now() - start);
  }
  say(`desk_${name}_first`, took[0], 'ms');
  took.sort((a, b) => a - b);
  say(`desk_${name}_p95`, took[18], 'ms');
  say(`desk_${name}_cpu`, (cpu() - before) / 20, 'ms');
}
/* The same when an order was cancelled before each: what was answered is of no use then. */
for (const [name, target] of Object.entries(questions)) {
  const took = [];
  let spent = 0;
  for (let i = 0; i < 20; i++) {
    await send('POST', `/api/orders/${callers.pop()}/cancel`, JSON.stringify({ why: 'rang' }));
    const before = cpu(),
      start = performance.now();
    await ask(target);
    took.push(performance.now() - start);
    spent += cpu() - before;
  }
  took.sort((a, b) => a - b);
  say(`desk_${name}_after_p95`, took[18], 'ms');
  say(`desk_${name}_after_cpu`, spent / 20, 'ms');
}
/* The plan after each of 20 dividing sessions; 1 in about 10 fits the season whole again (core/model/mixed_near.c). */
{
  const all = await (await fetch(`http://127.0.0.1:${port}/api/lots`)).json();
  const lots = all.sort(
    (/** @type {{ clumps: number }} */ a, /** @type {{ clumps: number }} */ b) => b.clumps - a.clumps,
  );
  const took = [];
  let spent = 0;
  await ask('/api/plan');
  for (let i = 0; i < 20; i++) {
    const { lot } = lots[i % lots.length];
    await send(
      'POST',
      '/api/dividing',
      JSON.stringify({ lot, clumps: 6, saleable: 18 + (i % 7), blind: 1, rotten: 0 }),
    );
    const before = cpu(),
      start = performance.now();
    await ask('/api/plan');
    took.push(performance.now() - start);
    spent += cpu() - before;
  }
  say('desk_plan_after_session', median(took), 'ms');
  say('desk_plan_after_session_p95', took.sort((a, b) => a - b)[18], 'ms');
  say('desk_plan_after_session_cpu', spent / 20, 'ms');
}
say(
  'desk_peak',
  Number(/VmHWM:\s+(\d+)/.exec(fs.readFileSync(`/proc/${server.pid}/status`, 'utf8'))?.[1]) / 1024,
  'MB',
);
server.removeAllListeners('exit');
server.kill('SIGTERM');
await new Promise((done) => server.on('exit', done));
process.exit(0);
