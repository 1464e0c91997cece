// SPDX-License-Identifier: MIT
// An order taken by phone: what is left stands beside each line, a refusal loses nothing, and neither does a session that ends.

import assert from 'node:assert/strict';
import { before, test } from 'node:test';
import { begin, browser, nursery, offerAll, signIn } from './begin.mjs';
import { axe, fillAtOnce, openPage, until } from './support.mjs';

begin({ prepare: offerAll, people: { Ada: 'owner', Ole: 'office' } });

/** Asked with the page's own session. @param {import('playwright-core').Page} page @param {string} path @returns {Promise<any>} */
function ask(page, path) {
  return page.evaluate(async (p) => (await fetch(p)).json(), path);
}

test('what a browser fills in at once stands in every field', async () => {
  const { page, errors, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders`);
  await signIn(page, 'Ole');
  await page.getByRole('link', { name: 'Take an order' }).click();
  const said = { Buyer: 'Ann Example', 'Street and number': '1 Mill Lane', Postcode: '45001', Town: 'Oddham' };
  const fields = Object.entries(said).map(([label, text]) => ({ at: page.getByLabel(label, { exact: true }), text }));
  await fillAtOnce(page, fields);
  for (const { at, text } of fields) assert.equal(await at.inputValue(), text);
  await page.getByRole('button', { name: 'Drop what is typed' }).click();
  for (const { at } of fields) assert.equal(await at.inputValue(), '');
  assert.deepEqual(errors, []);
  await close();
});

test('an order by phone, by keyboard; refused, it keeps what was typed', async () => {
  const { page, errors, violations, shot, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders`);
  await signIn(page, 'Ole');
  await page.getByRole('link', { name: 'Take an order' }).click();
  await page.getByLabel('Buyer', { exact: true }).waitFor();
  assert.match(await page.title(), /^Take an order/);
  const rows = await ask(page, '/api/availability');
  const varieties = await ask(page, '/api/varieties');
  const some = rows.filter((/** @type {any} */ r) => r.left > 5);
  const gone = rows.find((/** @type {any} */ r) => r.left === 0);
  const [a, b] = some.map((/** @type {any} */ r) => varieties.find((/** @type {any} */ v) => v.code === r.variety));

  await page.getByLabel('Buyer', { exact: true }).fill('Ann Example');
  await page.getByLabel('Code or name').fill(a.name.toLowerCase());
  await page.getByText(`${some[0].left} left`).waitFor();
  assert.equal(await page.getByLabel('Price apiece').inputValue(), a.price);
  await page.getByRole('button', { name: 'Another line' }).press('Enter');
  // The cursor stands in the new line.
  await page.keyboard.type(gone.variety);
  await page.getByText('· 0 left').waitFor();
  await page.getByRole('button', { name: 'Take the order' }).press('Enter');
  await page.locator('.wrong', { hasText: gone.variety }).waitFor();
  assert.equal((await page.locator('.wrong').innerText()).split(gone.variety).length, 2, 'said once');
  assert.equal(await page.getByLabel('Buyer', { exact: true }).inputValue(), 'Ann Example');

  await page.getByLabel('Code or name').nth(1).fill('no such');
  await page.getByRole('button', { name: 'Take the order' }).press('Enter');
  await page.locator('.wrong', { hasText: 'Line 2: there is no variety “no such”' }).waitFor();
  await page.getByLabel('Code or name').nth(1).fill(b.code);
  await page.getByLabel('Divisions').nth(1).fill('2');
  await shot('new-order');
  await page.getByRole('button', { name: 'Take the order' }).press('Enter');
  await page.locator('.order h1', { hasText: 'T-0001' }).waitFor();
  const sheet = await ask(page, '/api/orders/T-0001');
  assert.equal(sheet.order.customer, 'Ann Example');
  assert.deepEqual(
    sheet.lines.map((/** @type {any} */ l) => [l.variety, l.quantity, l.unit_price]),
    [
      [a.code, 1, a.price],
      [b.code, 2, b.price],
    ],
  );
  const later = (await ask(page, '/api/availability')).find((/** @type {any} */ r) => r.variety === a.code);
  assert.equal(later.left, some[0].left - 1);
  // The next one has the next number, and an empty form.
  await page.getByRole('link', { name: 'Take an order' }).click();
  await until(
    () => page.getByLabel('Order number').getAttribute('placeholder'),
    (n) => n === 'T-0002',
    'the next number',
  );
  assert.equal(await page.getByLabel('Buyer', { exact: true }).inputValue(), '');
  assert.deepEqual(errors, []);
  assert.deepEqual(await violations(), []);
  await close();
});

test('a session that ends in the middle loses nothing, and shows nothing to the next', async () => {
  const { page, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/new`);
  await signIn(page, 'Ole');
  await page.getByLabel('Buyer', { exact: true }).fill('Bea Example');
  const end = () => page.context().clearCookies();
  await end();
  await page.getByRole('button', { name: 'Sign in' }).waitFor();
  await signIn(page, 'Ole');
  await until(
    () => page.getByLabel('Buyer', { exact: true }).inputValue(),
    (v) => v === 'Bea Example',
    'typed words are back',
  );
  await end();
  await page.getByRole('button', { name: 'Sign in' }).waitFor();
  await signIn(page, 'Ada');
  await page.getByLabel('Buyer', { exact: true }).waitFor();
  assert.equal(await page.getByLabel('Buyer', { exact: true }).inputValue(), '');
  await close();
});

test('who ordered before is found by three letters: the order of two lines takes twenty-five keys', async () => {
  const { page, errors, shot, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/new`);
  await signIn(page, 'Ole');
  await page.getByLabel('Buyer', { exact: true }).waitFor();
  const varieties = (await ask(page, '/api/availability')).filter((/** @type {any} */ r) => r.left > 9);
  const [a, b] = varieties.map((/** @type {any} */ r) => r.variety);
  // She ordered last week, with all that a parcel needs.
  const made = await page.evaluate(
    async (variety) =>
      (
        await fetch('/api/orders', {
          method: 'POST',
          headers: {
            'Content-Type': 'application/json',
            'X-CSRF-Token': (await (await fetch('/api/session')).json()).csrf,
          },
          body: JSON.stringify({
            order: 'K-1',
            customer: 'Quilla Known',
            email: 'quilla@example.org',
            phone: '555 0100',
            street: '9 Oak Row',
            town: 'Nowhere',
            postcode: '55000',
            country: 'US',
            zone: 'z5',
            lines: [{ line: 1, variety, quantity: 1, unit_price: '5.00' }],
          }),
        })
      ).status,
    a,
  );
  assert.equal(made, 201);
  let keys = 0;
  /** @param {string} key */
  const press = async (key) => {
    await page.keyboard.press(key);
    keys++;
  };
  /** @param {string} text */
  const type = async (text) => {
    await page.keyboard.type(text);
    keys += text.length;
  };
  await page.getByLabel('Buyer', { exact: true }).focus();
  await type('qui');
  const known = page.getByRole('group', { name: 'Buyers who ordered before' });
  await known.getByRole('button', { name: /Quilla Known/ }).waitFor();
  await shot('known-buyer');
  assert.deepEqual(await axe(page), []);
  await press('Tab');
  await press('Enter');
  await until(
    () => page.getByLabel('Street').inputValue(),
    (street) => street === '9 Oak Row',
    'the address is filled in',
  );
  await type(a);
  await press('Tab');
  await type('2');
  await press('Tab');
  await press('Tab');
  await press('Enter');
  await type(b);
  await press('Tab');
  await type('3');
  await press('Enter');
  await page.locator('.order h1', { hasText: 'T-' }).waitFor();
  console.log(`a phone order of two lines, buyer known: ${keys} keys, codes of ${a.length} and ${b.length}`);
  assert.ok(keys <= 25, `${keys} keys`);
  const number = (await page.locator('.order h1 .figure').innerText()).trim();
  const sheet = await ask(page, `/api/orders/${number}`);
  assert.deepEqual(
    [sheet.order.customer, sheet.order.email, sheet.order.street, sheet.order.zone],
    ['Quilla Known', 'quilla@example.org', '9 Oak Row', 'z5'],
  );
  assert.deepEqual(
    sheet.lines.map((/** @type {any} */ l) => [l.variety, l.quantity]),
    [
      [a, 2],
      [b, 3],
    ],
  );
  assert.deepEqual(errors, []);
  await close();
});
