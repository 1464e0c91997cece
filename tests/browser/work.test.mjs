// SPDX-License-Identifier: MIT
// Long work shows how far it is, can be stopped by keyboard, and then has changed nothing.

import assert from 'node:assert/strict';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, test } from 'node:test';
import { begin, browser, nursery } from './begin.mjs';
import { axe, openPage, until } from './support.mjs';

/** @type {string} */
let folder;

/** Readings of so many rooms, a minute apart for a week: some seconds of work. */
const ROOMS = 60;

begin({
  ready: async () => {
    folder = mkdtempSync(join(tmpdir(), 'clumpwise-long-'));
    const rows = ['room,at,temp_c,rh'];
    const two = (/** @type {number} */ n) => String(n).padStart(2, '0');
    for (let room = 0; room < ROOMS; room++)
      for (let m = 0; m < 7 * 1440; m++)
        rows.push(
          `room ${room},2031-11-${two(1 + Math.floor(m / 1440))}T${two(Math.floor(m / 60) % 24)}:${two(m % 60)}:00Z,5.0,91`,
        );
    writeFileSync(join(folder, 'air.csv'), `${rows.join('\n')}\n`);
  },
});
after(() => {
  if (folder) rmSync(folder, { recursive: true });
});

const readings = async () => (await (await fetch(`${nursery.url}/api/export/air.csv`)).text()).split('\n').length;

/** @param {import('playwright-core').Page} page @returns {Promise<number | null>} */
const value = (page) =>
  page.evaluate(() => {
    const bar = /** @type {HTMLProgressElement | null} */ (document.querySelector('.work progress'));
    return bar?.hasAttribute('value') ? bar.value : null;
  });

/** Tabs to the button and presses it. @param {import('playwright-core').Page} page */
async function stopByKeyboard(page) {
  for (let i = 0; i < 60; i++) {
    await page.keyboard.press('Tab');
    if ((await page.evaluate(() => document.activeElement?.textContent)) === 'Stop it') {
      await page.keyboard.press('Enter');
      return;
    }
  }
  throw new Error('the button was never focused');
}

test('a load: progress is seen and said, stopping leaves nothing, and it can be taken after all', async () => {
  const { page, errors, violations, shot, close } = await openPage(browser);
  const before = await readings();
  await page.goto(`${nursery.url}/#/orders/load`);
  await page.locator('input[type=file]').setInputFiles(join(folder, 'air.csv'));
  const first = await until(
    () => value(page),
    (v) => v !== null && v > 0,
    'the preview’s progress',
  );
  assert.match(await page.locator('.work-words').innerText(), /air\.csv/);
  assert.deepEqual(await axe(page), []);
  await shot('load-progress');
  assert.ok(Number(first) < 100);
  await stopByKeyboard(page);
  await page.locator('.message', { hasText: 'Nothing was changed' }).waitFor();
  assert.equal(await page.locator('.work').count(), 0);
  assert.equal(await page.locator('.wrong').count(), 0);

  // Looked through to the end; what a screen reader is told is a few words, not every step.
  const said = page.evaluate(async () => {
    const heard = new Set();
    const region = () => document.querySelector('[role=status][aria-live].hidden');
    for (let i = 0; i < 1200 && !document.querySelector('main .main-button'); i++) {
      const text = region()?.textContent;
      if (text) heard.add(text);
      await new Promise((done) => setTimeout(done, 50));
    }
    return [...heard];
  });
  await page.locator('input[type=file]').setInputFiles(join(folder, 'air.csv'));
  await page.getByText('This would change').waitFor();
  const heard = await said;
  assert.ok(heard.length >= 1 && heard.length <= 8, JSON.stringify(heard));

  // Taken, stopped half way: the file holds what it held.
  await page.getByRole('button', { name: 'Take it in' }).click();
  const low = Number(
    await until(
      () => value(page),
      (v) => v !== null && v > 0,
      'the load’s progress',
    ),
  );
  await until(
    () => value(page),
    (v) => v === null || v > low,
    'it grows',
  );
  await stopByKeyboard(page);
  await page.locator('.message', { hasText: 'Nothing was changed' }).last().waitFor();
  assert.equal(await readings(), before);

  // And taken.
  await page.getByRole('button', { name: 'Take it in' }).click();
  await page.getByText('This was taken in').waitFor();
  assert.equal(await readings(), before + ROOMS * 7 * 1440);
  assert.deepEqual(errors, []);
  assert.deepEqual(await violations(), []);
  await close();
});

/** Stops the work at hand, if it is not through by itself. @param {import('playwright-core').Page} page */
async function stopIfStill(page) {
  const button = page.getByRole('button', { name: 'Stop it' });
  if ((await button.count()) > 0) await button.click({ timeout: 5000 }).catch(() => {});
}

test('another desk waits for its turn while files are taken in, and may stop waiting', async () => {
  const loader = await openPage(browser);
  const other = await openPage(browser, { size: 'phone', theme: 'dark' });
  await other.page.goto(`${nursery.url}/#/orders/weeks`);
  await other.page.getByRole('button', { name: 'Set the weeks' }).waitFor();
  await loader.page.goto(`${nursery.url}/#/orders/load`);
  await loader.page.locator('input[type=file]').setInputFiles(join(folder, 'air.csv'));
  await until(
    () => value(loader.page),
    (v) => v !== null && v > 0,
    'the load is at work',
  );
  await other.page.getByRole('button', { name: 'Set the weeks' }).click();
  await other.page.locator('.work-words', { hasText: 'Waiting for its turn' }).waitFor();
  await other.page.getByRole('button', { name: 'Stop it' }).click();
  await stopIfStill(loader.page);
  await other.page
    .locator('.message, .wrong', { hasText: /othing was changed/ })
    .first()
    .waitFor();
  const { orders } = await (
    await fetch(`${nursery.url}/api/orders?state=open`)
  )
    .json()
    .then((a) => ({ orders: a.items }));
  assert.ok(
    orders.every((/** @type {any} */ o) => !o.week),
    'no week was set',
  );

  // Once more, for the looks of waiting; axe takes its time, so the load may be through when it has looked.
  await loader.page.locator('input[type=file]').setInputFiles(join(folder, 'air.csv'));
  await until(
    () => value(loader.page),
    (v) => v !== null && v > 0,
    'the load is at work again',
  );
  await other.page.getByRole('button', { name: 'Set the weeks' }).click();
  await other.page.locator('.work-words', { hasText: 'Waiting for its turn' }).waitFor();
  await other.shot('work-waits');
  assert.deepEqual(await axe(other.page), []);
  await stopIfStill(loader.page);
  assert.deepEqual(other.errors, []);
  await other.close();
  await loader.close();
});
