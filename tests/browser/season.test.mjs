// SPDX-License-Identifier: MIT
// A season worked to its end: two packers whose network loses questions and answers, an office, an owner's command line, a server that is
// killed in the middle, and weeks that go by. At every stage all that tell a figure tell the same: the page, the JSON behind it, the
// command line, the paper and the files for a spreadsheet. Names, varieties and buyers are invented.

import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { fetchJson, openPage, postJson, run, serve, startBrowser, until } from './support.mjs';

const WEEKS = ['2032-W16', '2032-W17'];
const DAYS = ['2032-02-20', '2032-04-13', '2032-04-20', '2032-05-04'];
const FILES = {
  varieties: 'code,name,price\nAMB,Amber Lantern,6.50\nBRI,Briar Song,8.00\nCIN,Cinder Wren,7.00\n',
  places: 'place,room,walk_order\nC1,north cellar,10\nC2,south cellar,20\nC3,south cellar,30\n',
  lots: 'lot,variety,dug_on,clumps,place\nL1,AMB,2031-10-20,0,C2\nL2,BRI,2031-10-21,0,C1\nL3,CIN,2031-10-21,0,C3\n',
  counts:
    'lot,counted_on,stage,count\nL1,2032-01-20,division,14\nL2,2032-01-20,division,9\nL3,2032-01-20,division,20\n',
  zones: `zone,first_week\nz7,${WEEKS[0]}\nz5,${WEEKS[1]}\n`,
  // Of BRI more is asked than there is; the last buyers of it get none.
  orders: [
    'order,received_at,line,variety,quantity,unit_price,customer,email,country,zone',
    ...Array.from({ length: 8 }, (_, i) => {
      const order = `S-${i + 1},2032-01-0${i + 1}T10:00:00Z`;
      const buyer = `Buyer ${i + 1} Invented,buyer${i + 1}@example.org,US,${i % 2 ? 'z5' : 'z7'}`;
      return [`${order},1,AMB,1,6.50,${buyer}`, `${order},2,BRI,2,8.00,${buyer}`, `${order},3,CIN,2,7.00,${buyer}`];
    }).flat(),
    '',
  ].join('\n'),
};

/** @type {string} */
let folder;
/** @type {string} */
let db;
/** @type {Awaited<ReturnType<typeof serve>>} */
let nursery;
/** @type {import('playwright-core').Browser} */
let browser;
/** Who reads the page, all season long. @type {Awaited<ReturnType<typeof openPage>>} */
let reader;
let today = DAYS[0] ?? '';

before(async () => {
  folder = mkdtempSync(join(tmpdir(), 'clumpwise-season-'));
  db = join(folder, 'season.db');
  for (const [kind, text] of Object.entries(FILES)) writeFileSync(join(folder, `${kind}.csv`), text);
  run([
    'new',
    db,
    '--season',
    '2031',
    '--ship',
    '2032-04-12',
    '--currency',
    'USD',
    '--timezone',
    'UTC',
    '--today',
    today,
  ]);
  run(['load', db, ...Object.keys(FILES).map((kind) => join(folder, `${kind}.csv`)), '--today', today]);
  for (const [code, n] of [
    ['AMB', 12],
    ['BRI', 16],
    ['CIN', 18],
  ])
    run([
      'offer',
      db,
      '--variety',
      String(code),
      '--quantity',
      String(n),
      '--commit',
      '--why',
      'list',
      '--today',
      today,
    ]);
  nursery = await serve(db, { today });
  browser = await startBrowser();
  reader = await openPage(browser);
});
after(async () => {
  await reader?.close();
  await browser?.close();
  await nursery?.stop();
  rmSync(folder, { recursive: true, force: true });
});

/** The machine's switch, not a farewell; and a day later than before, if told. @param {string} [day] */
async function restart(day) {
  await nursery.kill();
  today = day ?? today;
  nursery = await serve(db, { today });
}

/** @param {string[]} args */
const said = (args) => JSON.parse(run([...args, '--json', '--today', today]));
/** @param {any[]} rows @param {(row: any) => number} of */
const sum = (rows, of) => rows.reduce((all, row) => all + Number(of(row)), 0);
/** @param {any[]} rows @param {string} state */
const count = (rows, state) => rows.filter((r) => r.state === state).length;

/** A CSV file's rows; no text of this season has a comma or a quote in it. @param {string} text */
function csv(text) {
  const [head = '', ...lines] = text.trim().split('\n');
  return lines.map((line) => {
    const cells = line.split(',');
    return Object.fromEntries(head.split(',').map((name, i) => [name, cells[i] ?? '']));
  });
}

/** The sheets of a workbook as rows, by Python's zipfile and ElementTree, which share no code with the program. */
function workbook() {
  const path = join(folder, 'season.xlsx');
  run(['export', db, '--xlsx', path, '--today', today]);
  const read = `
import json, sys, zipfile, xml.etree.ElementTree as E
n = {'m': 'http://schemas.openxmlformats.org/spreadsheetml/2006/main'}
r = '{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id'
z = zipfile.ZipFile(sys.argv[1])
texts = []
if 'xl/sharedStrings.xml' in z.namelist():
    for s in E.parse(z.open('xl/sharedStrings.xml')).getroot():
        texts.append(''.join(t.text or '' for t in s.iter('{%s}t' % n['m'])))
rels = {e.get('Id'): e.get('Target') for e in E.parse(z.open('xl/_rels/workbook.xml.rels')).getroot()}
out = {}
for s in E.parse(z.open('xl/workbook.xml')).getroot().find('m:sheets', n):
    rows = []
    for row in E.parse(z.open('xl/' + rels[s.get(r)])).getroot().iter('{%s}row' % n['m']):
        cells = {}
        for c in row:
            v = c.find('m:v', n)
            text = '' if v is None else texts[int(v.text)] if c.get('t') == 's' else v.text
            if c.get('t') == 'inlineStr': text = ''.join(t.text or '' for t in c.iter('{%s}t' % n['m']))
            cells[''.join(x for x in c.get('r') if x.isalpha())] = text
        rows.append(cells)
    head = rows[0] if rows else {}
    out[s.get('name')] = [{head[k]: row.get(k, '') for k in head} for row in rows[1:]]
print(json.dumps(out))`;
  return JSON.parse(execFileSync('python3', ['-c', read, path], { encoding: 'utf8', maxBuffer: 64 << 20 }));
}

/** The same figures out of exported tables, whoever wrote them. @param {(table: string) => any[]} table */
function ofTables(table) {
  const parcels = table('parcels');
  const offers = table('offers');
  return {
    stock: sum(table('stock'), (r) => r.divisions),
    promised: sum(table('allocations'), (r) => r.allocated),
    left: sum(offers, (r) => Math.max(0, r.offered - r.sold)),
    picked: sum(table('picks'), (r) => r.taken),
    packed: count(parcels, 'packed'),
    shipped: count(parcels, 'shipped'),
    told: count(table('notices'), 'sent'),
    untold: count(table('notices'), 'due'),
  };
}

async function ofJson() {
  const { url } = nursery;
  const lots = await fetchJson(url, '/api/lots');
  const sheets = await Promise.all(Array.from({ length: 8 }, (_, i) => fetchJson(url, `/api/orders/S-${i + 1}`)));
  const waves = await fetchJson(url, '/api/waves');
  const parcels = await fetchJson(url, '/api/parcels');
  const notices = await fetchJson(url, '/api/notices?state=all');
  assert.equal(
    sum(waves, (w) => w.packed),
    count(parcels, 'packed'),
    'packed: waves and parcels',
  );
  assert.equal(
    sum(waves, (w) => w.shipped),
    count(parcels, 'shipped'),
    'shipped: waves and parcels',
  );
  assert.equal(
    sum(waves, (w) => w.taken),
    sum(parcels, (p) => p.taken),
    'picked: waves and parcels',
  );
  return {
    stock: sum(lots, (l) => l.divisions),
    promised: sum(
      sheets.flatMap((s) => s.lines),
      (l) => l.firm,
    ),
    short: sum(
      sheets.flatMap((s) => s.lines),
      (l) => l.short,
    ),
    left: sum(await fetchJson(url, '/api/availability'), (v) => v.left),
    picked: sum(waves, (w) => w.taken),
    packed: count(parcels, 'packed'),
    shipped: count(parcels, 'shipped'),
    told: count(notices, 'sent'),
    untold: count(notices, 'due'),
  };
}

function ofCommand() {
  const balance = said(['trace', db, '--balance']);
  const sheets = Array.from({ length: 8 }, (_, i) => said(['order', db, 'show', `S-${i + 1}`]));
  const notices = said(['notices', db, '--look', '--state', 'all']);
  return {
    stock: sum(balance, (v) => v.divisions_on_hand),
    promised: sum(
      sheets.flatMap((s) => s.lines),
      (l) => l.firm,
    ),
    short: sum(
      sheets.flatMap((s) => s.lines),
      (l) => l.short,
    ),
    picked: sum(balance, (v) => v.divisions_picked),
    packed: count(
      sheets.flatMap((s) => s.parcels),
      'packed',
    ),
    shipped: count(
      sheets.flatMap((s) => s.parcels),
      'shipped',
    ),
    told: count(notices, 'sent'),
    untold: count(notices, 'due'),
  };
}

/** The pick sheets say what was taken of each pick that is done, the slips what lies in each parcel. */
async function ofPaper() {
  let picked = 0;
  for (const { wave } of await fetchJson(nursery.url, '/api/waves')) {
    const walk = await (await fetch(`${nursery.url}/print/walk?wave=${wave}`)).text();
    for (const [, n] of walk.matchAll(/<td>(\d+) taken/g)) picked += Number(n);
  }
  return { picked };
}

/** What a person reads: the waves on the page of ship weeks, the parcels on their way, and the notices that are due. */
async function ofPage() {
  const { page, errors } = reader;
  await page.goto(`${nursery.url}/#/orders/weeks`);
  const waves = await fetchJson(nursery.url, '/api/waves');
  let packed = 0;
  if (waves.length > 0) {
    const rows = page.locator('li', { hasText: /^Wave \d+/ });
    await until(
      () => rows.count(),
      (n) => n === waves.length,
      'a row for each wave',
    );
    for (const row of await rows.allInnerTexts())
      packed += Number(row.match(/(\d+) of \d+ parcels packed/)?.[1] ?? Number.NaN);
  }
  await page.goto(`${nursery.url}/#/orders/parcels`);
  await page.getByRole('button', { name: 'shipped' }).click();
  const parcels = await fetchJson(nursery.url, '/api/parcels?state=shipped');
  await until(
    () => page.locator('.parcel-row').count(),
    (n) => n === parcels.length,
    'a row for each parcel that left',
  );
  const shipped = await page.locator('.parcel-row').count();
  await page.goto(`${nursery.url}/#/orders/notices`);
  const due = await fetchJson(nursery.url, '/api/notices');
  const ticks = page.getByText(/tick (all \d+|the one) shown/);
  if (due.length === 0) await page.locator('p.sheet.quiet').first().waitFor();
  else await ticks.waitFor();
  const words = (await ticks.allInnerTexts()).join();
  const untold = words === '' ? 0 : Number(words.match(/\d+/)?.[0] ?? 1);
  assert.deepEqual(errors, []);
  return { packed, shipped, untold };
}

const TABLES = ['json', 'command', 'csv', 'workbook'];
/** Where each figure is told, and so read: whoever leaves one out, or tells a new one, says so here. */
const READ = {
  stock: TABLES,
  promised: TABLES,
  short: ['json', 'command'],
  left: ['json', 'csv', 'workbook'],
  picked: [...TABLES, 'paper'],
  packed: [...TABLES, 'page'],
  shipped: [...TABLES, 'page'],
  told: TABLES,
  untold: [...TABLES, 'page'],
};

/** Read everywhere, and equal wherever two tell the same. @param {string} stage */
async function agree(stage) {
  const book = workbook();
  const told = {
    json: await ofJson(),
    command: ofCommand(),
    csv: ofTables((name) => csv(run(['export', db, '--as', name, '--today', today]))),
    workbook: ofTables((name) => book[name]),
    paper: await ofPaper(),
    page: await ofPage(),
  };
  const figures = told.json;
  for (const [figure, sources] of Object.entries(READ))
    assert.deepEqual(
      Object.entries(told)
        .flatMap(([who, theirs]) => (figure in theirs ? [who] : []))
        .sort(),
      [...sources].sort(),
      `${figure} is read where it is told`,
    );
  assert.deepEqual(Object.keys(figures).sort(), Object.keys(READ).sort());
  for (const [who, theirs] of Object.entries(told))
    for (const [figure, n] of Object.entries(theirs))
      assert.equal(n, /** @type {any} */ (figures)[figure], `${stage}: ${figure} by ${who}: ${JSON.stringify(told)}`);
  return figures;
}

/** Seeded: a run that fails fails again. */
let seed = 20320413;
const random = () => (seed = (seed * 1103515245 + 12345) % 2147483648) / 2147483648;
const lost = { questions: 0, answers: 0 };

/**
 * As a phone does it: the same key until an answer comes. A third of the questions never arrive, of a third the answer does not.
 * @param {string} path @param {unknown} body @param {string} key
 */
async function insist(path, body, key) {
  for (let i = 0; i < 40; i++) {
    const fate = random();
    if (fate < 0.3) {
      lost.questions++;
      continue;
    }
    const answer = await fetch(nursery.url + path, {
      method: 'POST',
      headers: { 'Content-Type': 'application/json', 'Idempotency-Key': key },
      body: JSON.stringify(body),
    });
    const text = await answer.text();
    if (fate < 0.6) {
      lost.answers++;
      continue;
    }
    assert.ok(answer.ok, `${path}: ${answer.status} ${text}`);
    return text ? JSON.parse(text) : null;
  }
  throw new Error(`${path}: forty times lost`);
}

/** One packer takes every second stop; what is not there is said. @param {number} wave @param {number} which @param {string} name */
async function pack(wave, which, name) {
  const { stops } = await fetchJson(nursery.url, `/api/waves/${wave}`);
  for (const stop of stops.filter((/** @type {any} */ s) => s.stop % 2 === which))
    for (const p of stop.picks.filter((/** @type {any} */ k) => k.state === 'open')) {
      const short = p.lot === 'L3' && p.order === 'S-3';
      const taken = short ? p.quantity - 1 : p.quantity;
      const one = {
        key: `season-${name}-${p.id}`,
        pick: p.id,
        taken,
        packer: name,
        ...(short && { reason: 'rotten' }),
      };
      const told = await insist('/api/picks', { confirmations: [one] }, `season-${name}-${p.id}`);
      assert.ok(['done', 'already'].includes((told.outcomes ?? told)[0].outcome), JSON.stringify(told));
    }
}

test('worked to its end, everything that tells a figure tells the same at every stage, and nothing is lost or booked twice', async () => {
  const begun = await agree('offered');
  assert.deepEqual([begun.stock, begun.promised, begun.left], [43, 0, 4 + 0 + 2], 'as the files say');
  await postJson(nursery.url, '/api/allocation', { rule: 'first-come', supply: 'counted' });
  await postJson(nursery.url, '/api/schedule', {});
  const shared = await agree('shared out');
  assert.deepEqual([shared.promised, shared.short], [8 + 9 + 16, 7]);

  let shipped = 0;
  for (const [i, week] of WEEKS.entries()) {
    await restart(DAYS[i + 1]);
    const { wave } = await postJson(nursery.url, '/api/waves', { week });
    await agree(`wave of ${week}`);
    await pack(wave, 1, 'Marta');
    await restart(); // in the middle of the walk
    await agree(`half walked, ${week}`);
    await Promise.all([pack(wave, 0, 'Pim'), pack(wave, 1, 'Marta')]);
    await agree(`walked, ${week}`);
    for (const p of await fetchJson(nursery.url, `/api/parcels?wave=${wave}`))
      if (p.taken > 0) await insist(`/api/parcels/${p.id}/pack`, { count: p.taken }, `season-pack-${p.id}`);
    await restart();
    await agree(`packed, ${week}`);
    for (const p of await fetchJson(nursery.url, `/api/parcels?wave=${wave}&state=packed`)) {
      await insist(`/api/parcels/${p.id}/ship`, { carrier: 'By road', tracking: `T-${p.id}` }, `season-ship-${p.id}`);
      shipped++;
    }
    const now = await agree(`sent, ${week}`);
    assert.equal(now.shipped, shipped);
  }

  // What nobody gets is given up, the buyers are told, the season is over.
  await restart(DAYS[3]);
  await postJson(nursery.url, '/api/notices/make', {});
  const owed = await agree('notices made');
  assert.ok(owed.untold > 0, 'somebody is to be told');
  const due = await fetchJson(nursery.url, '/api/notices');
  // One by one, whose answer has no body, and all the others at once.
  const [one, ...others] = due.map((/** @type {any} */ n) => ({ notice: n.notice }));
  for (let i = 0; i < 2; i++)
    await insist(`/api/notices/${one.notice}/sent`, { evidence: 'by letter' }, 'season-told-one');
  await insist('/api/notices/sent', { notices: others, evidence: 'by letter' }, 'season-told');
  await restart();
  const end = await agree('told');
  assert.deepEqual([end.told, end.untold], [due.length, 0]);

  // One movement for each pick, and what was taken is what left the stock.
  assert.ok(lost.questions > 10 && lost.answers > 10, JSON.stringify(lost));
  const picked = csv(run(['export', db, '--as', 'ledger', '--today', today])).filter((m) => m.reason === 'picked');
  assert.equal(new Set(picked.map((m) => m.cause_id)).size, picked.length, 'no pick is booked twice');
  assert.equal(-sum(picked, (m) => Number(m.divisions)), end.picked);
  assert.equal(end.stock, 43 - end.picked - 1, 'but for the one that was rotten');
  await nursery.stop();
  run(['check', db, '--today', today]); // ends well only when everything adds up
  nursery = await serve(db, { today });
});
