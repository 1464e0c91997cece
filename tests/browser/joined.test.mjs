// SPDX-License-Identifier: MIT
// One thing more on an order, two orders of one buyer: merged or in one parcel, by as few clicks as it can be, each with its way back.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { begin, browser, nursery, offerAll } from './begin.mjs';
import { axe, fetchJson, openPage, postJson, settled, until } from './support.mjs';

/** @type {any} */
let variety;

begin({
  prepare: offerAll,
  ready: async () => {
    const short = await fetchJson(nursery.url, '/api/short?supply=counted');
    const offered = await fetchJson(nursery.url, '/api/availability');
    variety = offered.find(
      (/** @type {any} */ v) => v.left > 20 && !short.some((/** @type {any} */ s) => s.variety === v.variety),
    ).variety;
    const buyer = {
      customer: 'Wren Invented',
      email: 'wren@example.org',
      street: '4 Elm Row',
      postcode: '55000',
      country: 'US',
      zone: 'z5',
    };
    for (const order of ['J-1', 'J-2'])
      await postJson(nursery.url, '/api/orders', {
        order,
        ...buyer,
        lines: [{ line: 1, variety, quantity: 2, unit_price: '7.00', consent: 'same' }],
      });
    await postJson(nursery.url, '/api/allocation', { rule: 'first-come', supply: 'counted' });
    await postJson(nursery.url, '/api/schedule', {});
  },
});

/** Clicks that a task took; typing is not counted. */
function counter() {
  let clicks = 0;
  return {
    /** @param {import('playwright-core').Locator} what */
    async click(what) {
      await what.click();
      clicks++;
    },
    get clicks() {
      return clicks;
    },
  };
}

/** @param {string} order */
const sheet = (order) => fetchJson(nursery.url, `/api/orders/${order}`);

test('a line is added by two clicks and the typing, promised at once, and taken back by one', async () => {
  const { page, errors, violations, shot, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/order/J-1`);
  const task = counter();
  await task.click(page.getByRole('button', { name: 'Add a line' }));
  const dialog = page.getByRole('dialog');
  await dialog.getByLabel('Code or name').fill(variety.toLowerCase());
  await dialog.getByText(/\d+ left/).waitFor();
  await dialog.getByLabel('Divisions').fill('3');
  assert.equal(await dialog.getByLabel('If it falls short, the buyer allows').inputValue(), 'same');
  await shot('add-line');
  assert.deepEqual(await axe(page), []);
  await task.click(dialog.getByRole('button', { name: 'Add it' }));
  await dialog.waitFor({ state: 'detached' });
  assert.ok(task.clicks <= 3, `${task.clicks} clicks`);
  const said = page.locator('.message', { hasText: 'Line 2 is added.' });
  await said.waitFor();
  const added = (await sheet('J-1')).lines[1];
  assert.equal(added.quantity, 3);
  assert.equal(added.firm + (/waits for the next sharing/.test(await said.innerText()) ? 3 : 0), 3);
  await said.getByRole('button', { name: 'Take it back' }).click();
  await until(
    () => sheet('J-1'),
    (s) => s.lines[1].quantity === 0,
    'taken back',
  );
  assert.deepEqual(errors, []);
  assert.deepEqual(await violations(), []);
  await close();
});

for (const size of /** @type {const} */ (['desktop', 'phone']))
  test(`a second order is put into the first by one click, and taken out by one, ${size}`, async () => {
    const { page, errors, shot, close } = await openPage(browser, { size });
    await page.goto(`${nursery.url}/#/orders/order/J-1`);
    const task = counter();
    await task.click(page.getByRole('button', { name: 'Put into this order: J-2' }));
    await page.locator('.message', { hasText: 'of order J-2 stands in order J-1 now' }).waitFor();
    assert.ok(task.clicks <= 3);
    await shot(`merged-${size}`);
    const [first, second] = [await sheet('J-1'), await sheet('J-2')];
    assert.deepEqual([second.order.state, second.order.merged_into, second.lines.length], ['cancelled', 'J-1', 0]);
    assert.equal(first.lines.at(-1).quantity, 2);
    await page.getByRole('link', { name: 'J-2', exact: true }).click();
    await page.getByRole('link', { name: 'Its lines stand in order J-1 now' }).click();
    await page.getByRole('button', { name: 'Take it out again: J-2' }).click();
    await page.getByRole('button', { name: 'Put into this order: J-2' }).waitFor();
    assert.equal((await sheet('J-2')).order.state, 'open');
    assert.deepEqual(await axe(page), []);
    assert.deepEqual(errors, []);
    await close();
  });

test('both go in one parcel by one click: one slot, one number', async () => {
  const { page, errors, shot, close } = await openPage(browser);
  const { week } = (await sheet('J-1')).order;
  await page.goto(`${nursery.url}/#/orders/order/J-1`);
  const task = counter();
  await task.click(page.getByRole('button', { name: 'One parcel for both: J-2' }));
  await page.locator('.message', { hasText: 'Order J-2 goes in one parcel' }).waitFor();
  assert.ok(task.clicks <= 3);
  await page.locator('.besides', { hasText: 'goes in one parcel with this one' }).waitFor();
  await shot('one-parcel');
  const { wave } = await postJson(nursery.url, '/api/waves', { week, orders: ['J-1', 'J-2'] });
  const parcels = await fetchJson(nursery.url, `/api/parcels?wave=${wave}`);
  assert.deepEqual(
    parcels.map((/** @type {any} */ p) => [p.order, p.slot, p.joined]),
    [
      ['J-1', 1, 'J-2'],
      ['J-2', 1, 'J-1'],
    ],
  );
  // A packer's list knows one slot; counted, closed and sent as one.
  const { stops } = await fetchJson(nursery.url, `/api/waves/${wave}`);
  const picks = stops.flatMap((/** @type {any} */ s) => s.picks);
  assert.deepEqual([...new Set(picks.map((/** @type {any} */ p) => p.slot))], [1]);
  await postJson(nursery.url, '/api/picks', {
    confirmations: picks.map((/** @type {any} */ p) => ({ key: `joined-${p.id}`, pick: p.id, taken: p.quantity })),
  });
  await postJson(nursery.url, `/api/parcels/${parcels[0].id}/pack`, { count: 4 });
  await postJson(nursery.url, `/api/parcels/${parcels[1].id}/ship`, { tracking: 'T-77' });
  for (const order of ['J-1', 'J-2']) {
    const gone = await sheet(order);
    assert.deepEqual([gone.order.state, gone.parcels[0].tracking], ['shipped', 'T-77']);
  }
  assert.deepEqual(errors, []);
  await close();
});

test('at the bench a tile a slot: a scan of the slip opens it, the labels close it, without a tap', async () => {
  const email = 'bench@example.org';
  for (const order of ['B-1', 'B-2', 'B-3'])
    await postJson(nursery.url, '/api/orders', {
      order,
      customer: order === 'B-3' ? 'Other Invented' : 'Bench Invented',
      email: order === 'B-3' ? 'other@example.org' : email,
      zone: 'z5',
      country: 'US',
      lines: [{ line: 1, variety, quantity: 1, unit_price: '7.00' }],
    });
  await postJson(nursery.url, '/api/allocation', { rule: 'first-come', supply: 'counted' });
  await postJson(nursery.url, '/api/schedule', {});
  await postJson(nursery.url, '/api/orders/B-1/together', { other: 'B-2' });
  const { week } = (await sheet('B-1')).order;
  const { wave } = await postJson(nursery.url, '/api/waves', { week, orders: ['B-1', 'B-2', 'B-3'] });
  const { stops } = await fetchJson(nursery.url, `/api/waves/${wave}`);
  const picks = stops.flatMap((/** @type {any} */ s) => s.picks);
  const first = picks.filter((/** @type {any} */ p) => p.order !== 'B-3');
  await postJson(nursery.url, '/api/picks', {
    confirmations: first.map((/** @type {any} */ p) => ({ key: `bench-${p.id}`, pick: p.id, taken: 1 })),
  });
  const { page, errors, shot, close } = await openPage(browser, { size: 'phone' });
  await page.goto(`${nursery.url}/#/cellar/parcels/${wave}`);
  const tiles = page.locator('.parcel-list .parcel');
  await until(
    () => tiles.allInnerTexts(),
    (all) =>
      all.length === 2 &&
      /B-1 \+ B-2/.test(all[0] ?? '') &&
      /complete: 2 divisions/.test(all[0] ?? '') &&
      /waits for stop/.test(all[1] ?? ''),
    'one tile for both, complete, and one that waits',
  );
  await shot('slot-board');
  assert.deepEqual(await axe(page), []);
  const scan = (/** @type {string} */ text) =>
    page.evaluate((code) => {
      for (const key of [...code, 'Enter'])
        document.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true, cancelable: true }));
    }, text);
  await scan('B-2');
  await page.getByRole('heading', { name: /B-1 \+ B-2/ }).waitFor();
  await scan('NOLOT AMB');
  await page.getByText('Lot NOLOT does not belong in this parcel.').waitFor();
  await scan(`${first[0].lot} ${variety}`);
  await page.getByText(/1 of \d scanned/).waitFor();
  await scan(`${first[1].lot} ${variety}`);
  await until(
    () => fetchJson(nursery.url, `/api/parcels?wave=${wave}`),
    (list) => list.filter((/** @type {any} */ p) => p.state === 'packed').length === 2,
    'both are closed',
  );
  await until(
    () => tiles.first().innerText(),
    (text) => /packed/.test(text),
    'the tile says so',
  );
  assert.deepEqual(errors, []);
  await close();
});

test('paid, unpaid by one click each; a whole parcel claimed by two and a word', async () => {
  const { page, errors, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/order/J-1`);
  await settled(page);
  await page.route('**/api/orders/J-1', async (route) => {
    if (route.request().method() === 'GET') await new Promise((resolve) => setTimeout(resolve, 1500));
    await route.continue().catch(() => {}); // no longer waited for by then
  });
  const paid = counter();
  await paid.click(page.getByRole('button', { name: 'It is paid' }));
  await until(
    () => sheet('J-1'),
    (s) => s.order.paid === true,
    'paid',
  );
  assert.equal(paid.clicks, 1);
  // The page still shows what stood before, for a while: that it wrote the other itself is no clash with anybody.
  await page.getByRole('button', { name: 'It is not paid' }).click();
  await until(
    () => sheet('J-1'),
    (s) => s.order.paid === false,
    'unpaid',
  );
  assert.equal(await page.getByRole('dialog').count(), 0);
  await page.unroute('**/api/orders/J-1');
  await page.getByRole('button', { name: 'It is not paid' }).waitFor({ state: 'detached' });
  const claim = counter();
  await claim.click(page.getByRole('button', { name: 'All of it failed' }));
  const dialog = page.getByRole('dialog');
  await dialog.getByLabel('Why').fill('frozen through');
  await claim.click(dialog.getByRole('button', { name: 'Record the claim' }));
  await dialog.waitFor({ state: 'detached' });
  assert.equal(claim.clicks, 2);
  const claims = await fetchJson(nursery.url, '/api/claims?answer=refund');
  assert.ok(claims.some((/** @type {any} */ c) => c.order === 'J-1'));
  assert.deepEqual(errors, []);
  await close();
});
