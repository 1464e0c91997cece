// SPDX-License-Identifier: MIT
// How many to keep for planting: by keyboard alone, on a phone, and put on record and taken back.

import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { axe, fetchJson, openPage, startBrowser, startNursery, tabTo, until } from './support.mjs';

/** @type {Awaited<ReturnType<typeof startNursery>>} */
let nursery;
/** @type {import('playwright-core').Browser} */
let browser;

before(async () => {
  nursery = await startNursery();
  browser = await startBrowser();
});
after(async () => {
  await browser?.close();
  await nursery?.stop();
});

const plan = () => fetchJson(nursery.url, '/api/keep');
const rowOf = async (/** @type {string} */ code) =>
  (await plan()).varieties.find((/** @type {any} */ v) => v.variety === code);

test('planting, by keyboard: to a variety, the earth line, its price, on record', async () => {
  const { page, errors, shot, close } = await openPage(browser, { size: 'desktop' });
  await page.goto(`${nursery.url}/#/winter/planting`);
  await page.locator('.grid tbody .code').first().waitFor();
  await shot('planting-desktop');
  assert.deepEqual(await axe(page), []);
  const first = (await plan()).varieties[0];
  assert.ok(first.keep > 0);

  // A row opens on Enter; the line is a slider.
  await page.locator('.find input').focus();
  await tabTo(page, /^(gridcell|td|columnheader|th)/);
  await page.keyboard.press('ArrowDown');
  await page.keyboard.press('Enter');
  const line = page.getByRole('slider');
  await line.waitFor();
  const code = (await page.evaluate(() => location.hash)).split('/').at(-1) ?? '';
  const row = await rowOf(code);
  assert.equal(Number(await line.getAttribute('aria-valuenow')), row.keep);
  await line.focus();
  for (let i = 0; i < 6; i++) await page.keyboard.press('ArrowLeft');
  assert.equal(Number(await line.getAttribute('aria-valuenow')), Math.max(0, row.keep - 6));
  await shot('earth-desktop');
  assert.deepEqual(await axe(page), []);
  // The years follow the line: fewer kept, fewer next spring.
  const best = await fetchJson(nursery.url, `/api/keep/${code}`);
  const less = await fetchJson(nursery.url, `/api/keep/${code}?keep=${Math.max(0, row.keep - 6)}`);
  assert.ok(less.years[1].mean < best.years[1].mean);
  await tabTo(page, new RegExp(`Hold ${Math.max(0, row.keep - 6)} back`));
  await page.keyboard.press('Enter');
  await until(
    async () => (await rowOf(code)).hold_back,
    (n) => n === Math.max(0, row.keep - 6),
    'the hold-back on record',
  );
  assert.deepEqual(errors, []);
  await close();
});

test('planting: only what is ticked is written, and all of it is taken back', async () => {
  const { page, errors, close } = await openPage(browser, { size: 'desktop' });
  await page.goto(`${nursery.url}/#/winter/planting`);
  await page.locator('.grid tbody .code').first().waitFor();
  const { varieties } = await plan();
  const row = varieties.find((/** @type {any} */ v) => v.keep !== null && v.keep !== v.hold_back);
  await page.locator('.find input').fill(row.variety);
  await page.getByRole('checkbox', { name: `Tick ${row.variety}` }).check();
  await page.getByRole('button', { name: 'Write as hold-back' }).click();
  await page.getByRole('button', { name: 'Write 1 hold-back' }).click();
  await until(
    async () => (await rowOf(row.variety)).hold_back,
    (n) => n === row.keep,
    'written',
  );
  const others = (await plan()).varieties.filter((/** @type {any} */ v) => v.variety !== row.variety);
  for (const v of others)
    assert.equal(v.hold_back, varieties.find((/** @type {any} */ o) => o.variety === v.variety).hold_back);
  await page.locator('.message').getByRole('button', { name: 'Undo' }).click();
  await until(
    async () => (await rowOf(row.variety)).hold_back,
    (n) => n === row.hold_back,
    'taken back',
  );
  assert.deepEqual(errors, []);
  await close();
});

test('planting, phone: beds that do not suffice have a price; a variety without a past asks for one', async () => {
  const { page, errors, shot, close } = await openPage(browser, { size: 'phone' });
  await page.goto(`${nursery.url}/#/winter/planting`);
  await page.locator('.grid tbody .code').first().waitFor();
  const { beds, varieties } = await plan();
  const places = Math.round(beds.planted * 0.6);
  await page.getByLabel('Places in the beds').fill(String(places));
  await page.keyboard.press('Enter');
  await until(
    async () => Number((await plan()).beds.price),
    (p) => p > 0,
    'a price of a place',
  );
  assert.ok((await plan()).beds.planted <= places);
  await page.getByText('One place more would earn').waitFor();
  await shot('planting-phone');
  assert.deepEqual(await axe(page), []);

  const wanting = varieties.find((/** @type {any} */ v) => v.needs === 'demand');
  await page.goto(`${nursery.url}/#/winter/planting/${wanting.variety}`);
  await page.getByText('nobody knows how many are asked for').first().waitFor();
  const field = page.getByLabel('Asked for in a season');
  await field.fill('90..40');
  await page.keyboard.press('Enter');
  await page.getByRole('alert').getByText('90..40').waitFor();
  await field.fill('40–90');
  await page.keyboard.press('Enter');
  await page.getByRole('slider').waitFor();
  await shot('earth-phone');
  assert.deepEqual(await axe(page), []);
  assert.ok((await rowOf(wanting.variety)).keep >= 0);
  assert.deepEqual(errors, []);
  await close();
});

test('what a plant costs to grow is the owner’s own figure for one variety, until the field is emptied', async () => {
  const { page, errors, close } = await openPage(browser, { size: 'desktop' });
  const before = (await plan()).varieties[0];
  const sheet = () => fetchJson(nursery.url, `/api/keep/${before.variety}`);
  const was = await sheet();
  assert.equal(was.cost_said, false);
  await page.goto(`${nursery.url}/#/winter/planting/${before.variety}`);
  const field = page.getByLabel('Growing one plant costs');
  await field.fill('6.5');
  await field.press('Tab');
  const said = await until(sheet, (v) => v.cost_said, 'the figure on record');
  assert.equal(Number(said.cost), 6.5);
  assert.ok(said.keep <= was.keep, 'dearer plants are kept no more of');
  await field.fill('');
  await field.press('Tab');
  await until(sheet, (v) => !v.cost_said && v.cost === was.cost, 'the setting again');
  assert.deepEqual(errors, []);
  await close();
});
