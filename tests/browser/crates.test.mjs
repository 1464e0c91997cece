// SPDX-License-Identifier: MIT
// The cellar, place by place: what is shown, the day, damper air, a place's lots, the table; on a desk, on a phone, with 2,000 places.

import assert from 'node:assert/strict';
import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { begin, browser, nursery } from './begin.mjs';
import { axe, fetchJson, openPage, startNursery, until } from './support.mjs';

begin();

for (const size of /** @type {const} */ (['desktop', 'phone'])) {
  test(`rooms, the day, damper air, a place and its lots, ${size}`, async () => {
    const { page, errors, violations, shot, close } = await openPage(browser, { size });
    const cellar = await fetchJson(nursery.url, '/api/cellar');
    await page.goto(`${nursery.url}/#/winter/cellar`);
    await page.locator('.crates .crate').first().waitFor();
    assert.equal(await page.locator('.crates .crate').count(), cellar.places.length);
    assert.equal(await page.locator('.room').count(), 3);
    assert.ok(await page.getByRole('slider').isDisabled(), 'what lies there undivided is known for today only');
    await page.getByRole('button', { name: 'Rot', exact: true }).click();
    const first = cellar.places.findIndex((/** @type {any} */ p) => p.rot_4 > p.rot_0 + 0.02);
    const crate = page.locator('.crates .crate').nth(first);
    const percent = (/** @type {number} */ v) => `${Math.round(v * 100)} %`;
    const says = (/** @type {number} */ rot) =>
      until(
        () => crate.innerText(),
        (text) => text.includes(percent(rot)),
        `rot of ${percent(rot)}`,
      );
    await says(cellar.places[first].rot_0);
    await page.getByRole('slider').press('End');
    await says(cellar.places[first].rot_4);
    await page.getByRole('button', { name: 'Drying', exact: true }).click();
    await shot(`crates-${size}`);
    const south = page.locator('.room', { hasText: 'south' }).first();
    await south.getByRole('combobox').selectOption('2');
    const row = (await fetchJson(nursery.url, '/api/cellar/damper?room=south&points=2'))[0];
    await south.getByText(`About ${Math.round(row.saved)} divisions saved`).waitFor();
    assert.deepEqual(await axe(page), []);
    await crate.click();
    const dialog = page.getByRole('dialog');
    await dialog.locator('li').first().waitFor();
    assert.equal(await dialog.locator('li').count(), cellar.places[first].lots);
    await page.keyboard.press('Escape');
    await page.getByText('The same as a table').click();
    await page.locator('table.plain tbody tr').first().waitFor();
    assert.equal(await page.locator('table.plain tbody tr').count(), cellar.places.length);
    assert.deepEqual(await axe(page), []);
    assert.deepEqual([errors, await violations()], [[], []]);
    await close();
  });
}

test('2,000 places', async () => {
  const season = mkdtempSync(join(tmpdir(), 'clumpwise-places-'));
  const places = Array.from({ length: 2000 }, (_, i) => `P${i},room ${Math.floor(i / 400)},${i}`);
  const lots = Array.from({ length: 2000 }, (_, i) => `L${i},V${i % 100},2031-10-20,12,P${i}`);
  const varieties = Array.from({ length: 100 }, (_, i) => `V${i},Variety ${i}`);
  writeFileSync(join(season, 'varieties.csv'), `code,name\n${varieties.join('\n')}\n`);
  writeFileSync(join(season, 'places.csv'), `place,room,walk_order\n${places.join('\n')}\n`);
  writeFileSync(join(season, 'lots.csv'), `lot,variety,dug_on,clumps,place\n${lots.join('\n')}\n`);
  const large = await startNursery({ season });
  const { page, errors, close } = await openPage(browser, { size: 'desktop' });
  try {
    await page.goto(`${large.url}/#/winter/cellar`);
    await page.locator('.crates .crate').nth(1999).waitFor();
    await page.getByRole('button', { name: 'Rot', exact: true }).click();
    const last = page.locator('.crates .crate').nth(1999);
    const was = await last.innerText();
    await page.getByRole('slider').press('End');
    await until(
      () => last.innerText(),
      (text) => text !== was,
      'the day moves all of them',
    );
    assert.deepEqual(errors, []);
  } finally {
    await close();
    await large.stop();
  }
});
