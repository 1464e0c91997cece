// SPDX-License-Identifier: MIT
// Every screen in both themes at three widths, and at twice the text size: no finding of axe-core, no breach of the
// content policy, nothing wider than the window.

import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { axe, fetchJson, openPage, postJson, startBrowser, startNursery, SIZES } from './support.mjs';

/** @type {Awaited<ReturnType<typeof startNursery>>} */
let nursery;
/** @type {import('playwright-core').Browser} */
let browser;
/** @type {[string, string][]} name and address */
const screens = [
  ['winter', '#/winter'],
  ['variety', '#/winter/variety/BRUCA'],
  ['changes', '#/winter/changes'],
  ['hindsight', '#/winter/hindsight'],
  ['air', '#/winter/air'],
  ['whatif', '#/winter/whatif'],
  ['record', '#/winter/record'],
  ['print', '#/winter/print'],
  ['settings', '#/winter/settings'],
  ['find', '#/orders'],
  ['order', '#/orders/order/2031-0002'],
  ['short', '#/orders/short'],
  ['rules', '#/orders/short/WIZBO'],
  ['substitutes', '#/orders/substitutes'],
  ['notices', '#/orders/notices'],
  ['weeks', '#/orders/weeks'],
  ['parcels', '#/orders/parcels'],
  ['claims', '#/orders/claims'],
  ['trace', '#/orders/trace?lot=L0001'],
  ['load', '#/orders/load'],
  ['cellar', '#/cellar'],
  ['walks', '#/cellar/walk'],
  ['dividing', '#/cellar/dividing'],
  ['dividing-clumps', '#/cellar/dividing?lot=L0002'],
  ['check', '#/cellar/check'],
  ['count', '#/cellar/count'],
  ['lot', '#/cellar/lot/L0002'],
  ['move', '#/cellar/move?lot=L0002'],
  ['other', '#/cellar/other?lot=L0002'],
  ['waiting', '#/cellar/waiting'],
];

before(async () => {
  nursery = await startNursery();
  browser = await startBrowser();
  await fetchJson(nursery.url, '/api/plan/curve');
  await fetchJson(nursery.url, '/api/hindsight');
  try {
    await postJson(nursery.url, '/api/allocation', { rule: 'first-come', supply: 'counted' });
    await postJson(nursery.url, '/api/schedule', {});
    await postJson(nursery.url, '/api/notices/make', {});
    const { weeks } = await fetchJson(nursery.url, '/api/schedule');
    const week = weeks.find((/** @type {any} */ w) => w.parcels > 0).week;
    const wave = await postJson(nursery.url, '/api/waves', { week });
    screens.push(['walk', `#/cellar/walk/${wave.wave}`], ['parcels', `#/cellar/parcels/${wave.wave}`]);
  } catch (e) {
    assert.fail(`the season could not be prepared: ${e}`);
  }
});
after(async () => {
  await browser?.close();
  await nursery?.stop();
});

/** @param {import('playwright-core').Page} page */
async function settled(page) {
  await page.locator('main').waitFor();
  await page.waitForTimeout(250);
  for (let i = 0; i < 100 && (await page.locator('.loading').count()) > 0; i++) await page.waitForTimeout(150);
}

for (const theme of /** @type {const} */ (['light', 'dark'])) {
  for (const size of /** @type {(keyof typeof SIZES)[]} */ (Object.keys(SIZES))) {
    test(`all screens, ${theme}, ${size}`, async () => {
      const { page, errors, violations, shot, close } = await openPage(browser, { size, theme });
      /** @type {string[]} */
      const found = [];
      for (const [name, address] of screens) {
        await page.goto(`${nursery.url}/${address}`);
        await settled(page);
        if ((theme === 'light') === (size !== 'tablet')) await shot(`${name}-${size}-${theme}`);
        found.push(...(await axe(page)).map((f) => `${name}: ${f}`));
        found.push(...(await page.locator('.wrong').allInnerTexts()).map((text) => `${name}: says ${text}`));
        const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
        if (wide > 1) found.push(`${name}: ${wide} px wider than the window`);
      }
      assert.deepEqual(found, []);
      assert.deepEqual(errors, []);
      assert.deepEqual(await violations(), []);
      await close();
    });
  }
}

test('twice the text size', async () => {
  const { page, context, close } = await openPage(browser);
  // The reader's own text size: what a browser's setting does to the root.
  const debug = await context.newCDPSession(page);
  await debug.send('Emulation.setDeviceMetricsOverride', { width: SIZES.desktop.width / 2, height: SIZES.desktop.height / 2, deviceScaleFactor: 2, mobile: false });
  const found = [];
  for (const [name, address] of screens) {
    await page.goto(`${nursery.url}/${address}`);
    await settled(page);
    found.push(...(await axe(page)).map((f) => `${name}: ${f}`));
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
    if (wide > 1) found.push(`${name}: ${wide} px wider than the window`);
  }
  assert.deepEqual(found, []);
  await close();
});
