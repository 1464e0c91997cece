// SPDX-License-Identifier: MIT
// What hands do without meaning it: a slash inside a field, a double click. (A device's wrong clock: web/shared/net/outbox.test.js.)

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { begin, browser, nursery } from './begin.mjs';
import { fetchJson, openPage, until } from './support.mjs';

begin();

test('a slash inside a field is a slash', async () => {
  const { page, errors, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/order/2031-0061`);
  await page.getByRole('button', { name: 'Change quantity' }).first().click();
  const why = page.getByRole('dialog').getByLabel('Why');
  await why.click();
  await page.keyboard.type('rang / wrote');
  assert.equal(await why.inputValue(), 'rang / wrote');
  await page.goto('about:blank');
  await page.goto(`${nursery.url}/#/orders`);
  await page.locator('.found a').first().waitFor();
  await page.keyboard.press('/');
  await page.keyboard.type('12/7');
  assert.equal(await page.evaluate(() => /** @type {HTMLInputElement} */ (document.activeElement)?.value), '12/7');
  assert.deepEqual(errors, []);
  await close();
});

test('a double click writes once', async () => {
  const { page, errors, close } = await openPage(browser);
  const { week } = (await fetchJson(nursery.url, '/api/schedule')).weeks[0];
  await page.goto(`${nursery.url}/#/orders/weeks`);
  await page.getByText('Holds: frost, place, carrier').click();
  await page.getByLabel('Zone').last().fill('z7');
  await page.getByLabel('From week').selectOption(week);
  await page.getByLabel('To week').selectOption(week);
  await page.getByRole('button', { name: 'Hold back' }).dblclick();
  const lift = page.getByRole('button', { name: 'Lift the hold on z7' });
  await lift.first().waitFor();
  await until(
    () => page.getByLabel('Zone').last().inputValue(),
    (text) => text === '',
    'the form is empty again',
  );
  assert.equal((await fetchJson(nursery.url, '/api/frost-holds')).length, 1);
  assert.equal(await lift.count(), 1);
  await lift.dblclick();
  await lift.waitFor({ state: 'detached' });
  assert.deepEqual(
    errors.filter((e) => !/404/.test(e)),
    [],
  );
  assert.equal(await page.getByRole('alert').count(), 0);
  await close();
});
