// SPDX-License-Identifier: MIT
// At a phone's width nothing scrolls sideways and all that can be pressed has room for a thumb: 44 CSS pixels, as success
// criterion 2.5.5 (target size, enhanced) of WCAG 2.2 asks. Links among words are exempt there; here what can be hit of them is
// larger than what is seen. At a desk's width the page does not scroll sideways either; a wide table may, in its own frame, since
// how wide its words are hangs on the machine's fonts.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { begin, browser, nursery, screens } from './begin.mjs';
import { openPage, settled, until } from './support.mjs';
import { lookOver } from './screens.mjs';

begin({ screens: true });

for (const [size, thumbs] of /** @type {const} */ ([
  ['phone', true],
  ['desktop', false],
])) {
  test(`${size}: nothing is wider than the screen${thumbs ? ', all has room for a thumb' : ''}`, async () => {
    const { page, errors, close } = await openPage(browser, { size });
    if (!thumbs) await page.setViewportSize({ width: 1280, height: 800 });
    /** @type {string[]} */
    const wrong = [];
    for (const [name, hash] of screens) {
      // From nothing on the phone, as it is opened there; at the desk from one screen to the next.
      if (thumbs) await page.goto('about:blank');
      await page.goto(`${nursery.url}/${hash}`);
      await settled(page);
      await page.evaluate(() =>
        document
          .querySelectorAll('main details')
          .forEach((d) => /** @type {HTMLDetailsElement} */ (d).setAttribute('open', '')),
      );
      await settled(page);
      for (const what of await page.evaluate(lookOver, thumbs)) wrong.push(`${name}: ${what}`);
    }
    assert.deepEqual(wrong, []);
    assert.deepEqual(errors, []);
    await close();
  });
}

test('the pages of a desk stand under their question; on a phone they are one line that unfolds, and folds when one is chosen', async () => {
  const desk = await openPage(browser);
  await desk.page.goto(`${nursery.url}/#/winter/records`);
  const pages = desk.page.getByRole('navigation', { name: 'Pages of this desk' });
  await pages.getByRole('link', { name: 'How to begin' }).waitFor();
  assert.deepEqual(await pages.getByRole('link').allInnerTexts(), [
    'Quantities',
    'Store',
    'Seasons',
    'Records',
    'Settings',
    'Lists',
    'On record',
    'Print and export',
    'How to begin',
  ]);
  await pages.getByRole('link', { name: 'Store' }).press('Enter');
  await desk.page.waitForURL(/#\/winter\/cutting$/);
  await desk.close();

  const { page, close } = await openPage(browser, { size: 'phone' });
  await page.goto(`${nursery.url}/#/winter/records`);
  const folded = page.getByRole('navigation', { name: 'Pages of this desk' });
  await folded.getByText('Records › Lists').press('Enter');
  const links = (/** @type {number} */ n) =>
    until(
      () => folded.getByRole('link').count(),
      (now) => now === n,
      `${n} links`,
    );
  await links(15);
  await folded.getByRole('link', { name: 'On record' }).press('Enter');
  await page.waitForURL(/#\/winter\/record$/);
  await links(0);
  await until(
    () => page.evaluate(() => document.activeElement?.tagName),
    (tag) => tag === 'SUMMARY',
    'the focus on the line',
  );
  await close();
});

test('on a phone each figure of a substitute stands beside its head', async () => {
  const { page, close } = await openPage(browser, { size: 'phone' });
  await page.goto(`${nursery.url}/#/orders/substitutes`);
  const row = page.getByRole('region', { name: 'Substitutes within consent' }).locator('tbody tr:has(td)').first();
  await row.waitFor();
  const heads = await row
    .locator('td')
    .evaluateAll((cells) => cells.map((c) => getComputedStyle(c, '::before').content.replaceAll('"', '')));
  assert.deepEqual(heads.slice(0, 6), ['Order', 'Wanted', 'Short', 'Proposed', 'Buyer allows', 'Extra cost']);
  assert.deepEqual(heads.slice(6), ['none', 'none']); // a sentence and a button say what they are
  await close();
});

test('waves, frost holds, refunds and the mass balance are narrowed by what is typed', async () => {
  const { page, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/weeks`);
  await page.getByLabel('Find by wave, week, state').fill('no such wave');
  await page.getByText('0 of 1', { exact: false }).first().waitFor();
  await page.goto(`${nursery.url}/#/orders/trace`);
  await page.getByText('Mass balance of the season').click();
  const balance = page.getByRole('region', { name: 'Mass balance of the season' });
  await balance.locator('tbody tr').first().waitFor();
  await page.getByLabel('Narrow by any word of a row').fill('BRUCA');
  assert.equal(await balance.locator('tbody tr').count(), 1);
  await page.goto(`${nursery.url}/#/orders/notices`);
  await page.getByText('Refunds owed').click();
  const refunds = page.getByRole('region', { name: /Refunds owed/ });
  const first = (await refunds.locator('tbody tr').first().innerText()).match(/2031-\d+/)?.[0] ?? '';
  await page.getByLabel('Find by order, buyer, variety, words').fill(first);
  for (const row of await refunds.locator('tbody tr').allInnerTexts()) assert.ok(row.includes(first), row);
  await close();
});
