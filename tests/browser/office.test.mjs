// SPDX-License-Identifier: MIT
// What the office does every day, by as few clicks as it can be: each task counts its own.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { begin, browser, nursery } from './begin.mjs';
import { axe, fetchJson, fillAtOnce, openPage, postJson, until } from './support.mjs';

/** @type {any} */
let wave;
/** @type {any[]} */
let picks;

begin({
  ready: async () => {
    await postJson(nursery.url, '/api/allocation', { rule: 'first-come', supply: 'counted' });
    await postJson(nursery.url, '/api/schedule', {});
    const { weeks } = await fetchJson(nursery.url, '/api/schedule');
    ({ wave } = await postJson(nursery.url, '/api/waves', {
      week: weeks.find((/** @type {any} */ w) => w.parcels > 20).week,
    }));
    const { stops } = await fetchJson(nursery.url, `/api/waves/${wave}`);
    picks = stops.flatMap((/** @type {any} */ s) => s.picks);
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

test('a name, an address, a wish: two clicks and the typing, on record', async () => {
  const { page, errors, violations, shot, close } = await openPage(browser);
  const { items } = await fetchJson(nursery.url, '/api/orders?state=open');
  const order = items.find((/** @type {any} */ o) => !picks.some((p) => p.order === o.order)).order;
  await page.goto(`${nursery.url}/#/orders/order/${order}`);
  const task = counter();
  await task.click(page.getByRole('button', { name: 'Put name, address, wish right' }));
  const dialog = page.getByRole('dialog');
  assert.equal(await dialog.getByRole('button', { name: 'Put it right' }).isDisabled(), true, 'nothing is changed');
  await fillAtOnce(page, [
    { at: dialog.getByLabel('Buyer', { exact: true }), text: 'Wren Otherwise' },
    { at: dialog.getByLabel('Street'), text: '4 Elm Row' },
  ]);
  await dialog.getByLabel('If it falls short, the buyer allows').selectOption('none');
  await shot('correct-desktop');
  assert.deepEqual(await axe(page), []);
  await task.click(dialog.getByRole('button', { name: 'Put it right' }));
  await dialog.waitFor({ state: 'detached' });
  assert.equal(task.clicks, 2);
  await page.locator('.order-who', { hasText: 'Wren Otherwise' }).waitFor();
  const sheet = await fetchJson(nursery.url, `/api/orders/${order}`);
  assert.deepEqual([sheet.order.customer, sheet.order.street], ['Wren Otherwise', '4 Elm Row']);
  assert.ok(sheet.lines.every((/** @type {any} */ l) => !l.variety || l.consent === 'none'));
  const event = sheet.events.find((/** @type {any} */ e) => e.kind === 'corrected');
  assert.match(event.after, /customer Wren Otherwise; street 4 Elm Row/);
  assert.deepEqual(errors, []);
  assert.deepEqual(await violations(), []);
  await close();
});

test('an older page is asked before it overwrites', async () => {
  const { page, close } = await openPage(browser);
  const { items } = await fetchJson(nursery.url, '/api/orders?state=open');
  const { order } = items[3];
  await page.goto(`${nursery.url}/#/orders/order/${order}`);
  await page.getByRole('button', { name: 'Put name, address, wish right' }).click();
  const answer = await fetch(`${nursery.url}/api/orders/${order}`, {
    method: 'PATCH',
    headers: { 'Content-Type': 'application/json' },
    body: JSON.stringify({ customer: 'Typed Elsewhere' }),
  });
  assert.equal(answer.status, 200);
  await page.getByRole('dialog').getByLabel('Buyer', { exact: true }).fill('Typed Here');
  await page.getByRole('button', { name: 'Put it right' }).click();
  await page.getByText('Typed Elsewhere').waitFor();
  await page.getByRole('button', { name: /mine|here/i }).click();
  await until(
    () => fetchJson(nursery.url, `/api/orders/${order}`),
    (s) => s.order.customer === 'Typed Here',
    'what was chosen stands',
  );
  await close();
});

for (const size of /** @type {const} */ (['desktop', 'phone']))
  test(`an order in a wave is cancelled in one dialog that says what comes off, ${size}`, async () => {
    const { page, errors, shot, close } = await openPage(browser, { size });
    const parcels = await fetchJson(nursery.url, `/api/parcels?wave=${wave}&state=open`);
    const { order, slot } = parcels[size === 'desktop' ? 0 : 1];
    const [first] = picks.filter((p) => p.order === order);
    await postJson(nursery.url, '/api/picks', {
      confirmations: [{ key: `pick-${first.id}`, pick: first.id, taken: first.quantity }],
    });
    await page.goto(`${nursery.url}/#/orders/order/${order}`);
    const task = counter();
    await task.click(page.getByRole('button', { name: 'Cancel the order' }));
    const dialog = page.getByRole('dialog');
    await dialog.getByText(`slot ${slot}: ${first.quantity} of ${first.variety} go back to`).waitFor();
    await dialog.getByLabel('Why').fill('rang');
    await shot(`cancel-in-wave-${size}`);
    await task.click(dialog.getByRole('button', { name: 'Cancel it' }));
    await dialog.waitFor({ state: 'detached' });
    assert.equal(task.clicks, 2);
    const sheet = await fetchJson(nursery.url, `/api/orders/${order}`);
    assert.equal(sheet.order.state, 'cancelled');
    // The packer is told which slot to empty, and says so by one tap.
    await page.goto(`${nursery.url}/#/cellar/walk/${wave}`);
    const back = page.getByRole('region', { name: 'Put these back' });
    await back.getByText(`Order ${order} was cancelled`).waitFor();
    await shot(`put-back-${size}`);
    await back.getByRole('button', { name: `All of it is back from slot ${slot}` }).click();
    await until(
      () => fetchJson(nursery.url, `/api/waves/${wave}`),
      (w) => w.put_back.length === 0,
      'it is back',
    );
    assert.deepEqual(errors, []);
    await close();
  });

test('orders whose shorts will not come are closed and refunded together: four clicks and a word', async () => {
  const { page, errors, shot, close } = await openPage(browser);
  const all = await fetchJson(nursery.url, '/api/rests');
  const short = all[0].what.split(' of ')[1].split(',')[0];
  const rests = all.filter((/** @type {any} */ r) => r.what.includes(short));
  assert.ok(rests.length > 3);
  const owed = rests.reduce((/** @type {number} */ sum, /** @type {any} */ r) => sum + Math.round(r.refund * 100), 0);
  await page.goto(`${nursery.url}/#/orders/short`);
  const task = counter();
  await task.click(page.locator('summary', { hasText: 'what may not come' }));
  await page.getByPlaceholder('Find by order, buyer, variety').fill(short);
  await task.click(page.getByLabel(`tick all ${rests.length} shown`));
  await shot('rests-desktop');
  await task.click(page.getByRole('button', { name: `rest of ${rests.length} orders` }));
  await shot('rests-dialog');
  assert.deepEqual(await axe(page), []);
  await task.click(page.getByRole('dialog').getByRole('button', { name: 'Close and refund' }));
  await page.getByRole('dialog').waitFor({ state: 'detached' });
  assert.equal(task.clicks, 4);
  const left = await fetchJson(nursery.url, '/api/rests');
  assert.equal(left.length, all.length - rests.length);
  await postJson(nursery.url, '/api/notices/make', {});
  const due = await fetchJson(nursery.url, '/api/notices');
  const refunds = due.filter((/** @type {any} */ n) => n.kind === 'refund');
  const sum = refunds.reduce((/** @type {number} */ a, /** @type {any} */ n) => a + Math.round(n.amount * 100), 0);
  assert.ok(sum >= owed, `${sum} of ${owed}`);
  assert.deepEqual(errors, []);
  await close();
});

test('all notices are told of at once: three clicks, one evidence', async () => {
  const { page, errors, shot, close } = await openPage(browser);
  const due = await fetchJson(nursery.url, '/api/notices');
  assert.ok(due.length > 5);
  await page.goto(`${nursery.url}/#/orders/notices`);
  await page.locator('.notice-row').first().waitFor();
  const task = counter();
  await task.click(page.getByLabel(/tick all [\d,]+ shown/));
  await shot('notices-ticked');
  await task.click(page.getByRole('button', { name: /[\d,]+ notices were sent/ }));
  await page.getByLabel('Evidence').fill('mail merge of Tuesday');
  await task.click(page.getByRole('button', { name: 'Put it on record' }));
  await until(
    () => fetchJson(nursery.url, '/api/notices'),
    (list) => list.length === 0,
    'none is due',
  );
  assert.equal(task.clicks, 3);
  const sent = await fetchJson(nursery.url, '/api/notices?state=sent');
  assert.ok(sent.every((/** @type {any} */ n) => n.evidence === 'mail merge of Tuesday'));
  assert.deepEqual(errors, []);
  await close();
});
