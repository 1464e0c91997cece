// SPDX-License-Identifier: MIT
// A lot over the years: two files, the older one closed and looked into; the tree by keyboard, its table, the buyers of both years.

import assert from 'node:assert/strict';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { after, before, test } from 'node:test';
import { axe, fetchJson, openPage, postJson, run, serve, startBrowser, startNursery } from './support.mjs';

/** @type {Awaited<ReturnType<typeof startNursery>>} */
let old;
/** @type {Awaited<ReturnType<typeof serve>>} */
let next;
/** @type {import('playwright-core').Browser} */
let browser;
/** @type {string} */
let folder;

/** @param {string} name @param {string} text */
const put = (name, text) => writeFileSync(join(folder, name), text);

/** Shares out, picks, packs and ships all there is. @param {string} url */
async function shipAll(url) {
  await postJson(url, '/api/allocation', { rule: 'first-come', supply: 'counted' });
  await postJson(url, '/api/schedule', {});
  const { weeks } = await fetchJson(url, '/api/schedule');
  const { wave } = await postJson(url, '/api/waves', {
    week: weeks.find((/** @type {any} */ w) => w.parcels > 0).week,
  });
  const { stops } = await fetchJson(url, `/api/waves/${wave}`);
  const picks = stops.flatMap((/** @type {any} */ s) => s.picks);
  await postJson(url, '/api/picks', {
    confirmations: picks.map((/** @type {any} */ p) => ({ key: `pick-${p.id}`, pick: p.id, taken: p.quantity })),
  });
  for (const parcel of await fetchJson(url, `/api/parcels?wave=${wave}`)) {
    const own = picks.filter((/** @type {any} */ p) => p.slot === parcel.slot);
    await postJson(url, `/api/parcels/${parcel.id}/pack`, {
      count: own.reduce((/** @type {number} */ sum, /** @type {any} */ p) => sum + p.quantity, 0),
    });
    await postJson(url, `/api/parcels/${parcel.id}/ship`, { carrier: 'The cart', tracking: `T-${parcel.id}` });
  }
}

const ORDERS = 'order,received_at,line,variety,quantity,unit_price,customer,email,country,channel\n';

before(async () => {
  folder = mkdtempSync(join(tmpdir(), 'clumpwise-lineage-'));
  put('varieties.csv', 'code,name,price\nLANTA,Lantern Ashes,6.50\n');
  put('places.csv', 'place,room,walk_order\nA1,north,1\n');
  put('lots.csv', 'lot,variety,dug_on,clumps,row,place\nL1,LANTA,2031-10-20,30,r1,A1\n');
  put('divisions.csv', 'lot,divided_on,clumps,saleable,place\nL1,2032-01-05,20,90,A1\n');
  put('orders.csv', `${ORDERS}O1,2032-01-20T10:00:00Z,1,LANTA,2,6.50,Wilma Brand,wilma@example.org,US,mail\n`);
  old = await startNursery({ season: folder });
  await shipAll(old.url);
  await postJson(old.url, '/api/season/left', { items: [{ lot: 'L1', row: 'B7', planted: 24 }] });
  const turn = { season: 2032, ship: '2033-04-18', leave_open: 'yes' };
  await postJson(old.url, '/api/season/next', turn);
  const closed = await fetch(`${old.url}/api/season/close`, {
    method: 'POST',
    headers: { 'Content-Type': 'application/json' },
    body: JSON.stringify(turn),
  });
  assert.equal(closed.status, 204);
  const db = join(dirname(old.db), 'season-2032.db');
  put('lots.csv', 'lot,variety,dug_on,clumps,row,place\nL1,LANTA,2032-10-20,20,B7,A1\n');
  run(['load', db, join(folder, 'lots.csv'), '--today', '2033-02-20']);
  next = await serve(db, { past: [old.db], today: '2033-02-20' });
  browser = await startBrowser();
});
after(async () => {
  await browser?.close();
  await next?.stop();
  await old?.stop();
  if (folder) rmSync(folder, { recursive: true, force: true });
});

test('a lot of this year: the row and the lot that it came from, by keyboard, and who received of that one', async () => {
  const { page, errors, violations, shot, close } = await openPage(browser);
  await page.goto(`${next.url}/#/orders/trace?lot=L1`);
  const tree = page.getByRole('tree');
  await tree.waitFor();
  const lines = await tree
    .getByRole('treeitem')
    .evaluateAll((items) => items.map((i) => i.querySelector(':scope > .kin-text')?.textContent ?? ''));
  assert.equal(lines.length, 4);
  assert.match(lines[0] ?? '', /^2030 Lot not on record/);
  assert.match(lines[1] ?? '', /^2031 Lot L1, LANTA.*30 clumps dug.*2 divisions sent/);
  assert.match(lines[2] ?? '', /^2032 Planted in row B7, .*24 plants set out/);
  assert.match(lines[3] ?? '', /^2032 Lot L1, .*20 clumps dug/);
  await page.getByText('Looked into: season-2032.db (2032), season.db (2031).').waitFor();
  assert.equal(await page.getByRole('region', { name: 'The same as a table' }).locator('tbody tr').count(), 4);
  await page.getByText('Nobody has received any of it.').waitFor();
  await shot('lineage-desktop');
  assert.deepEqual(await axe(page), []);

  // From what was asked for to the left: what it came from; Enter follows.
  await tree.locator('[tabindex="0"]').focus();
  await page.keyboard.press('ArrowLeft');
  await page.keyboard.press('ArrowLeft');
  await page.keyboard.press('Enter');
  await page.waitForURL(/lot=L1&season=2031/);
  const buyers = page.getByRole('region', { name: /Everybody who received/ });
  await buyers.getByText('Wilma Brand').waitFor();
  await page.getByText('make it in that season’s file: hold the lot there').waitFor();
  assert.match((await buyers.locator('tbody tr').first().textContent()) ?? '', /2031L1LANTAO1/);
  assert.deepEqual(errors, []);
  assert.deepEqual(await violations(), []);
  await close();
});

test('a row of a closed season is asked for in the form; on a phone, and printed', async () => {
  const { page, errors, close } = await openPage(browser, { size: 'phone' });
  await page.goto(`${next.url}/#/orders/trace`);
  await page.getByLabel('From').selectOption('row');
  await page.getByLabel('Number', { exact: true }).fill('r1');
  await page.getByRole('spinbutton', { name: 'Season' }).fill('2031');
  await page.getByRole('button', { name: 'Trace' }).click();
  await page.getByRole('tree').waitFor();
  await page.getByText('Wilma Brand').waitFor();
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  assert.ok(wide <= 0, `${wide} px too wide`);
  await page.emulateMedia({ media: 'print' });
  assert.ok(await page.getByRole('tree').isVisible());
  assert.ok(await page.getByText('Wilma Brand').isVisible());
  assert.deepEqual(errors, []);
  await close();
});

test('a buyer of a closed season is found, and how to take them out is said', async () => {
  const { page, errors, close } = await openPage(browser);
  await page.goto(`${next.url}/#/orders/forget`);
  await page.getByLabel('Whom').fill('wilma@example.org');
  await page.getByRole('button', { name: 'Show what would go' }).click();
  await page.locator('.rows li', { hasText: 'O1' }).getByText('season 2031').waitFor();
  await page.getByText('Nothing is removed here from closed seasons (season.db)').waitFor();
  assert.equal(await page.getByLabel('Your own password').count(), 0);
  assert.deepEqual(errors, []);
  await close();
});

test('only this file: the page says how to look back', async () => {
  const { page, close } = await openPage(browser);
  await page.goto(`${old.url}/#/orders/trace?lot=L1`);
  await page.getByText('Start the program with --past').waitFor();
  await close();
});
