// SPDX-License-Identifier: MIT
// The whole main job by keyboard alone: release, share out, make a wave, pull it. Every step says where the focus is.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { begin, browser, nursery } from './begin.mjs';
import { fetchJson, focused, openPage, tabTo, until } from './support.mjs';

begin();

test('from the plan to the pull by keyboard alone', async () => {
  const { page, errors, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/winter`);
  await page.locator('.grid tbody .code').first().waitFor();

  // Winter desk: more sure, then the release.
  await tabTo(page, /sure, variety by variety/);
  await page.keyboard.press('ArrowLeft');
  await tabTo(page, /button: Release these/);
  await page.keyboard.press('Enter');
  await page.getByRole('dialog').waitFor();
  await tabTo(page, /Why now/);
  await page.keyboard.type('Catalogue opens');
  await tabTo(page, /button: Release \d+/);
  await page.keyboard.press('Enter');
  await page.getByRole('dialog').waitFor({ state: 'detached' });
  await until(
    () => fetchJson(nursery.url, '/api/availability'),
    (a) => a.some((/** @type {any} */ v) => v.offered > 0),
    'released',
  );
  assert.match(await focused(page), /Release these/, 'the focus is back where it was');

  // Order desk: share the most harmed variety out, from what is counted.
  await tabTo(page, /^a: Order desk/);
  await page.keyboard.press('Enter');
  await tabTo(page, /^a: Short/);
  await page.keyboard.press('Enter');
  await tabTo(page, /button: counted/);
  await page.keyboard.press('Enter');
  await tabTo(page, /Share out/);
  await page.keyboard.press('Enter');
  await page.locator('.rules-table tbody tr').first().waitFor();
  await tabTo(page, /First come/);
  await page.keyboard.press('ArrowDown');
  await page.locator('.rule-chosen', { hasText: 'Pro rata' }).waitFor();
  await page.keyboard.press('ArrowUp');
  await page.locator('.rule-chosen', { hasText: 'First come' }).waitFor();
  await tabTo(page, /button: Make “First come” firm/);
  await page.keyboard.press('Enter');
  await page.locator('.message', { hasText: 'Firm:' }).waitFor();

  // Ship weeks: set, and the first one's wave.
  await tabTo(page, /^a: Ship weeks/, 'Shift+Tab');
  await page.keyboard.press('Enter');
  await tabTo(page, /button: Set the weeks/);
  await page.keyboard.press('Enter');
  await page.locator('.message', { hasText: 'has its week' }).waitFor();
  const firm = (await fetchJson(nursery.url, '/api/orders?state=open')).items.length;
  assert.ok(firm > 0);
  const { orders } = await fetchJson(nursery.url, '/api/schedule');
  const promised = new Set();
  for (const run of ['counted'])
    for (const l of (await fetchJson(nursery.url, `/api/allocation?supply=${run}&variety=WIZBO`)).lines)
      if (l.firm > 0) promised.add(l.order);
  const week = orders.find((/** @type {any} */ o) => promised.has(o.order))?.week;
  assert.ok(week, 'something is promised');
  await tabTo(page, new RegExp(`button: .*Week ${Number(week.slice(-2))} `));
  await page.keyboard.press('Enter');
  await tabTo(page, /button: Make its wave/);
  await page.keyboard.press('Enter');
  const [wave] = await until(
    () => fetchJson(nursery.url, '/api/waves'),
    (w) => w.length > 0,
    'the wave',
  );
  if ((await page.getByRole('dialog').count()) > 0) await page.keyboard.press('Escape');

  // Cellar: the walk.
  await tabTo(page, /^a: Cellar/, 'Shift+Tab');
  await page.keyboard.press('Enter');
  await tabTo(page, /^a: Today’s walk/);
  await page.keyboard.press('Enter');
  await tabTo(page, /Wave/);
  await page.keyboard.press('Enter');
  await tabTo(page, /button: Took/);
  await page.keyboard.press('Enter');
  await until(
    () => fetchJson(nursery.url, `/api/waves/${wave.wave}`),
    (w) => w.stops.some((/** @type {any} */ s) => s.picks.some((/** @type {any} */ p) => p.state === 'done')),
    'pulled',
  );
  assert.deepEqual(errors, []);
  await close();
});
