// SPDX-License-Identifier: MIT
// A big order from the bench to the road: several slots, several boxes, a number for each, on a phone. All data are invented.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { begin, browser, nursery, offerAll, scan } from './begin.mjs';
import { axe, fetchJson, openPage, postJson, until } from './support.mjs';

/** @type {number} */
let wave;
/** @type {any[]} */
let parcels;

begin({
  prepare: offerAll,
  ready: async () => {
    await fetch(`${nursery.url}/api/settings`, {
      method: 'PATCH',
      headers: { 'Content-Type': 'application/json' },
      body: JSON.stringify({ divisions_per_slot: '5' }),
    });
    const short = await fetchJson(nursery.url, '/api/short?supply=counted');
    const offered = await fetchJson(nursery.url, '/api/availability');
    const [one, two] = offered.filter(
      (/** @type {any} */ v) => v.left > 20 && !short.some((/** @type {any} */ s) => s.variety === v.variety),
    );
    for (const order of ['X-1', 'X-2'])
      await postJson(nursery.url, '/api/orders', {
        order,
        customer: `${order} Invented`,
        email: `${order.toLowerCase()}@example.org`,
        country: 'US',
        zone: 'z5',
        lines: [one, two].map((v, i) => ({
          line: i + 1,
          variety: v.variety,
          quantity: order === 'X-1' ? 4 : 1,
          unit_price: '7.00',
        })),
      });
    await postJson(nursery.url, '/api/allocation', { rule: 'first-come', supply: 'counted' });
    await postJson(nursery.url, '/api/schedule', {});
    const { week } = (await fetchJson(nursery.url, '/api/orders/X-1')).order;
    wave = (await postJson(nursery.url, '/api/waves', { week, orders: ['X-1', 'X-2'] })).wave;
    parcels = await fetchJson(nursery.url, `/api/parcels?wave=${wave}`);
  },
});

const parcelOf = async (/** @type {string} */ order) =>
  (await fetchJson(nursery.url, `/api/parcels?wave=${wave}`)).find((/** @type {any} */ p) => p.order === order);

test('one tile of several slots, two boxes with their weights, a number for each by scans alone', async () => {
  const { stops } = await fetchJson(nursery.url, `/api/waves/${wave}`);
  const picks = stops.flatMap((/** @type {any} */ s) => s.picks);
  const big = picks.filter((/** @type {any} */ p) => p.order === 'X-1');
  const lies = [...new Set(big.map((/** @type {any} */ p) => p.slot))].sort((a, b) => a - b);
  assert.ok(lies.length > 1, `slots ${lies}`);
  assert.ok(picks.every((/** @type {any} */ p) => p.order === 'X-1' || !lies.includes(p.slot)));
  await postJson(nursery.url, '/api/picks', {
    confirmations: picks.map((/** @type {any} */ p) => ({ key: `box-${p.id}`, pick: p.id, taken: p.quantity })),
  });
  const { page, errors, violations, shot, close } = await openPage(browser, { size: 'phone' });
  await page.goto(`${nursery.url}/#/cellar/parcels/${wave}`);
  const tile = page.locator('.parcel-list .parcel', { hasText: 'X-1' });
  await tile.waitFor();
  assert.equal(await page.locator('.parcel-list .parcel').count(), 2);
  assert.equal(await tile.locator('.slot-number').innerText(), lies.join(', '));
  await scan(page, `SLOT ${lies[1]}`);
  await page.getByRole('heading', { name: `Slot ${lies.join(', ')}, order X-1` }).waitFor();
  await page.getByRole('button', { name: 'Another box' }).click();
  await page.getByLabel('Weight of box 1').fill('1200');
  await page.getByLabel('Weight of box 2').fill('800');
  await shot('boxes-phone');
  assert.deepEqual(await axe(page), []);
  await page.locator('.keypad-value').fill('8');
  await page.getByRole('button', { name: 'Right, parcel closed' }).click();
  await until(
    () => parcelOf('X-1'),
    (p) => p.state === 'packed' && p.boxes === 2 && p.weight_g === 1200,
    'closed in two boxes',
  );
  const [other] = parcels.filter((p) => p.order === 'X-2');
  await postJson(nursery.url, `/api/parcels/${other.id}/pack`, { count: 2 });

  // On its way: the slip, the number of the first box, the number of the second.
  await page.goto(`${nursery.url}/#/orders/parcels`);
  const row = page.locator('.parcel-row', { hasText: 'X-1' });
  await row.getByLabel('Tracking number of X-1, box 2').waitFor();
  await scan(page, `P${(await parcelOf('X-1')).id}`);
  await until(
    () => page.evaluate(() => document.activeElement?.getAttribute('aria-label')),
    (label) => label === 'Tracking number of X-1, box 1',
    'the first box waits for its number',
  );
  await scan(page, 'B-100');
  await until(
    () => page.evaluate(() => document.activeElement?.getAttribute('aria-label')),
    (label) => label === 'Tracking number of X-1, box 2',
    'the second box waits for its number',
  );
  assert.equal((await parcelOf('X-1')).state, 'packed');
  await shot('box-numbers-phone');
  await scan(page, 'B-200');
  await until(
    () => parcelOf('X-1'),
    (p) => p.state === 'shipped' && p.tracking === 'B-100' && p.more_tracking === 'B-200',
    'both numbers are on record',
  );
  // The other one proved to need a second box when it was labelled; of that one the number is not known: asked first.
  const second = page.locator('.parcel-row', { hasText: 'X-2' });
  await second.getByRole('button', { name: 'Another box for X-2' }).click();
  await second.getByLabel('Tracking number of X-2, box 1').fill('B-300');
  await second.getByLabel('Tracking number of X-2, box 2').fill('B-200');
  await second.getByLabel('Tracking number of X-2, box 2').press('Enter');
  await second.locator('.parcel-asks', { hasText: 'X-1' }).waitFor(); // that number stands on the other order
  assert.equal((await parcelOf('X-2')).state, 'packed');
  await second.getByLabel('Tracking number of X-2, box 2').fill('B-400');
  await second.getByLabel('Tracking number of X-2, box 2').press('Enter');
  await until(
    () => parcelOf('X-2'),
    (p) => p.state === 'shipped' && p.more_tracking === 'B-400',
    'it left',
  );
  // Both stand on the order's sheet, and the search finds either.
  await page.goto(`${nursery.url}/#/orders/order/X-1`);
  await page.locator('.order-parts', { hasText: 'B-100 · B-200' }).waitFor();
  assert.deepEqual(errors, []);
  assert.deepEqual(await violations(), []);
  await close();
});
