// SPDX-License-Identifier: MIT
// Pictures for the README (scripts/screens): the real program on the demo season, small.

import { execFileSync } from 'node:child_process';
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { fetchJson, openPage, postJson, root, startBrowser, startNursery } from './support.mjs';

const out = join(root, 'web', 'pictures');
mkdirSync(out, { recursive: true });
const nursery = await startNursery();
const browser = await startBrowser();
try {
  await postJson(nursery.url, '/api/releases', { confidence: 0.9, why: 'The catalogue opens' });
  await postJson(nursery.url, '/api/allocation', { rule: 'first-come', supply: 'counted' });
  await postJson(nursery.url, '/api/schedule', {});
  const { weeks } = await fetchJson(nursery.url, '/api/schedule');
  const week = weeks.find((/** @type {any} */ w) => w.parcels > 100).week;
  const { wave } = await postJson(nursery.url, '/api/waves', { week });
  await fetchJson(nursery.url, '/api/plan/curve');
  const pictures = /** @type {const} */ ([
    ['winter-desk', '#/winter', 'desktop', 'light', '.curve'],
    ['variety', '#/winter/variety/BRUDO', 'desktop', 'light', '.chart'],
    ['order-desk', '#/orders/short/QUISP', 'desktop', 'light', '.rules-table td'],
    ['cellar', `#/cellar/walk/${wave}`, 'phone', 'dark', '.step'],
  ]);
  for (const [name, address, size, theme, there] of pictures) {
    const { page, close } = await openPage(browser, { size, theme });
    await page.goto(`${nursery.url}/${address}`);
    await page.locator(there).first().waitFor();
    await page.waitForTimeout(1200);
    const path = join(out, `${name}.png`);
    await page.screenshot({ path });
    // Flat colours: a palette keeps every letter sharp at a third of the size.
    execFileSync('pngquant', ['--force', '--strip', '--speed', '1', '--nofs', '--output', path, '64', path]);
    await close();
  }
} finally {
  await browser.close();
  await nursery.stop();
}
