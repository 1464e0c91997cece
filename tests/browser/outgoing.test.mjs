// SPDX-License-Identifier: MIT
// What the office does after the packing: parcels leave with their tracking numbers, claims are answered, also later.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { begin, browser, nursery } from './begin.mjs';
import { fetchJson, openPage, postJson, until, shown } from './support.mjs';

/** @type {any[]} packed parcels */
let packed;
/** @type {number} */
let wave;

begin({
  ready: async () => {
    await postJson(nursery.url, '/api/allocation', { rule: 'first-come', supply: 'counted' });
    await postJson(nursery.url, '/api/schedule', {});
    const { weeks } = await fetchJson(nursery.url, '/api/schedule');
    wave = (
      await postJson(nursery.url, '/api/waves', { week: weeks.find((/** @type {any} */ w) => w.parcels > 20).week })
    ).wave;
    const { stops } = await fetchJson(nursery.url, `/api/waves/${wave}`);
    const picks = stops.flatMap((/** @type {any} */ s) => s.picks);
    const slots = [...new Set(picks.map((/** @type {any} */ p) => p.slot))].slice(0, 4);
    const parcels = await fetchJson(nursery.url, `/api/parcels?wave=${wave}`);
    packed = parcels.filter((/** @type {any} */ p) => slots.includes(p.slot));
    for (const parcel of packed) {
      const own = picks.filter((/** @type {any} */ p) => p.slot === parcel.slot);
      await postJson(nursery.url, '/api/picks', {
        confirmations: own.map((/** @type {any} */ p) => ({ key: `pick-${p.id}`, pick: p.id, taken: p.quantity })),
      });
      await postJson(nursery.url, `/api/parcels/${parcel.id}/pack`, {
        count: own.reduce((/** @type {number} */ sum, /** @type {any} */ p) => sum + p.quantity, 0),
      });
    }
  },
});

/** @param {number} id */
const parcelOf = async (id) =>
  (await fetchJson(nursery.url, `/api/parcels?wave=${wave}`)).find((/** @type {any} */ p) => p.id === id);

/** The dialog is gone, or it says why not. @param {import('playwright-core').Page} page */
async function closed(page) {
  await until(
    async () =>
      (await page.getByRole('dialog').count()) === 0
        ? 'closed'
        : (await page.getByRole('dialog').locator('.wrong').allInnerTexts()).join(),
    (s) => s !== '',
    'the dialog closes',
  );
  assert.equal(
    await page
      .getByRole('dialog')
      .locator('.wrong')
      .allInnerTexts()
      .then((all) => all.join()),
    '',
  );
  await page.getByRole('dialog').waitFor({ state: 'detached' });
}

test('parcels leave by keyboard alone: type or scan the number, Enter', async () => {
  const { page, errors, violations, shot, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/parcels`);
  await page.locator('.parcel-row').nth(3).waitFor();
  await page.getByLabel('Carrier').fill('The cart');
  await shot('outgoing-desktop');
  await page.getByLabel(`Tracking number of ${packed[0].order}`).focus();
  await page.keyboard.type('T-0001');
  await page.keyboard.press('Enter');
  await page.locator('.message', { hasText: 'it has left' }).waitFor();
  const gone = await parcelOf(packed[0].id);
  assert.deepEqual(
    [gone.state, gone.carrier, gone.tracking, gone.shipped_on],
    ['shipped', 'The cart', 'T-0001', '2032-02-20'],
  );
  await until(
    () => page.locator('.parcel-row').count(),
    (n) => n === 3,
    'it leaves the list',
  );
  await page.getByRole('button', { name: 'shipped' }).click();
  await page.getByText('T-0001').waitFor();
  assert.deepEqual(errors, []);
  assert.deepEqual(await violations(), []);
  await close();
});

test('no number, or one of another order, is asked about; scanned parcel first; put right on record', async () => {
  const { page, errors, shot, close } = await openPage(browser, { size: 'phone' });
  await page.goto(`${nursery.url}/#/orders/parcels`);
  const row = (/** @type {any} */ p) => page.locator('.parcel-row', { hasText: p.order });
  await row(packed[2]).waitFor();
  const scan = (/** @type {string} */ text) =>
    page.evaluate((t) => {
      const to = document.activeElement ?? document.body;
      for (const key of [...t, 'Enter'])
        to.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true, cancelable: true }));
    }, text);
  // A number with no parcel before it.
  await scan('T-0001');
  await page.locator('.message', { hasText: 'Scan the parcel first' }).waitFor();
  assert.equal((await parcelOf(packed[2].id)).state, 'packed');
  // The parcel, then a number that another order has; it is not taken, until it is said that this is meant.
  await scan(`P${packed[2].id}`); // as its slip has it in bars
  await until(
    () => page.evaluate(() => document.activeElement?.getAttribute('data-parcel')),
    (id) => id === String(packed[2].id),
    'its field has the focus',
  );
  await scan('T-0001');
  await row(packed[2]).locator('.parcel-asks', { hasText: packed[0].order }).waitFor();
  await shot('number-twice-phone');
  assert.equal((await parcelOf(packed[2].id)).state, 'packed');
  await row(packed[2]).getByRole('button', { name: 'Both went under this number' }).click();
  await until(
    () => parcelOf(packed[2].id),
    (p) => p.tracking === 'T-0001',
    'it left under it',
  );
  // An empty field: asked first.
  await row(packed[3])
    .getByRole('button', { name: /^It has left/ })
    .click();
  await row(packed[3]).locator('.parcel-asks', { hasText: 'no tracking number' }).waitFor();
  assert.equal((await parcelOf(packed[3].id)).state, 'packed');
  await row(packed[3]).getByRole('button', { name: 'It left without a number' }).click();
  await until(
    () => parcelOf(packed[3].id),
    (p) => p.state === 'shipped' && p.tracking === null,
    'it left without',
  );

  // Put right: the number, with the reason; then that it left at all.
  await page.getByRole('button', { name: 'shipped' }).click();
  await row(packed[2]).getByRole('button', { name: 'Put right' }).click();
  const dialog = page.getByRole('dialog');
  await dialog.getByLabel('Tracking number').fill('T-0033');
  await dialog.getByLabel('Why').fill('The label of the other one was read');
  await shot('put-right-phone');
  await dialog.getByRole('button', { name: 'Put it right' }).click();
  await closed(page);
  assert.equal((await parcelOf(packed[2].id)).tracking, 'T-0033');
  await row(packed[3]).getByRole('button', { name: 'It has not left' }).click();
  await dialog.getByLabel('Why').fill('It stood behind the door');
  await dialog.getByRole('button', { name: 'It has not left' }).click();
  await closed(page);
  assert.equal((await parcelOf(packed[3].id)).state, 'packed');
  const audit = await fetchJson(nursery.url, '/api/audit');
  for (const action of ['parcel put right', 'parcel not left'])
    assert.ok(
      audit.some((/** @type {any} */ a) => a.action === action),
      action,
    );
  assert.deepEqual(errors, []);
  await close();
});

test('on the order’s sheet, phone: a parcel is opened again, packed again, and leaves', async () => {
  const { page, errors, shot, close } = await openPage(browser, { size: 'phone' });
  const parcel = packed[1];
  await page.goto(`${nursery.url}/#/orders/order/${parcel.order}`);
  await page.getByRole('button', { name: 'Open it again' }).click();
  await page.getByRole('dialog').getByLabel('Why').fill('A label fell off');
  await page.getByRole('dialog').getByRole('button', { name: 'Open it again' }).click();
  await closed(page);
  await until(
    () => parcelOf(parcel.id),
    (p) => p.state === 'open',
    'open again',
  );
  await postJson(nursery.url, `/api/parcels/${parcel.id}/pack`, {
    count: parcel.taken || (await parcelOf(parcel.id)).taken,
  });
  await page.getByRole('button', { name: 'It has left' }).click();
  await page.getByRole('dialog').getByLabel('Tracking number').fill('T-0002');
  await shot('ship-phone');
  await page.getByRole('dialog').getByRole('button', { name: 'It has left' }).click();
  await closed(page);
  assert.equal((await parcelOf(parcel.id)).tracking, 'T-0002');
  await page.locator('.order-parts', { hasText: 'T-0002' }).waitFor();
  assert.deepEqual(errors, []);
  await close();
});

test('a claim is taken now and answered later', async () => {
  const { page, errors, shot, close } = await openPage(browser);
  const { order } = packed[0];
  const { stops } = await fetchJson(nursery.url, `/api/waves/${wave}`);
  const received = stops
    .flatMap((/** @type {any} */ s) => s.picks)
    .find((/** @type {any} */ p) => p.slot === packed[0].slot && p.taken > 0);
  await page.goto(`${nursery.url}/#/orders/order/${order}`);
  await page
    .locator('.line')
    .filter({ hasText: received.variety })
    .getByRole('button', { name: 'Claim' })
    .first()
    .click();
  const dialog = page.getByRole('dialog');
  await dialog.getByLabel('What the buyer gets').selectOption('open');
  await dialog.getByLabel('Why').fill('Arrived soft');
  await dialog.getByRole('button', { name: 'Record the claim' }).click();
  await closed(page);
  const [claim] = await fetchJson(nursery.url, '/api/claims?answer=open');
  assert.equal(claim.order, order);

  await page.getByRole('link', { name: 'Claims', exact: true }).click();
  await page.getByLabel('Find by order, buyer').fill('soft');
  await shot('claims');
  await page.getByRole('button', { name: `Answer the claim on ${order}` }).click();
  await dialog.getByLabel('What the buyer gets').selectOption('refused');
  await dialog.getByRole('button', { name: 'Put the answer' }).click();
  assert.equal(await dialog.count(), 1); // a refusal needs words
  await dialog.getByLabel('What the buyer gets').selectOption('refund');
  await dialog.getByLabel('Answer to the buyer').fill('Paid back with our regrets');
  await dialog.getByRole('button', { name: 'Put the answer' }).click();
  await closed(page);
  const answered = (await fetchJson(nursery.url, '/api/claims')).find(
    (/** @type {any} */ c) => c.claim === claim.claim,
  );
  assert.deepEqual([answered.answer, answered.reply], ['refund', 'Paid back with our regrets']);
  await page.locator('.claim-row', { hasText: 'our regrets' }).waitFor();
  assert.deepEqual(errors, []);
  await close();
});

test('a wave not begun is dropped, with the reason', async () => {
  const { page, errors, close } = await openPage(browser);
  const { weeks } = await fetchJson(nursery.url, '/api/schedule');
  const later = weeks.filter((/** @type {any} */ w) => w.parcels > 0).at(-1).week;
  const made = await postJson(nursery.url, '/api/waves', { week: later });
  await page.goto(`${nursery.url}/#/orders/weeks`);
  await page.getByRole('button', { name: `Drop it: wave ${made.wave}` }).click();
  await page.getByRole('dialog').getByLabel('Why').fill('Frost is forecast');
  await page.getByRole('dialog').getByRole('button', { name: 'Drop it' }).click();
  await closed(page);
  const waves = await fetchJson(nursery.url, '/api/waves');
  assert.notEqual(waves.find((/** @type {any} */ w) => w.wave === made.wave)?.state, 'open');
  assert.deepEqual(errors, []);
  await close();
});

test('the owner gives leave to sell more, and takes it back at once', async () => {
  const { page, errors, shot, close } = await openPage(browser);
  const short = await fetchJson(nursery.url, '/api/short?supply=projected&confidence=0.9');
  const { variety } = short[0];
  await page.goto(`${nursery.url}/#/orders/short/${variety}`);
  await page.getByText('wait for it').waitFor();
  const waiting = await fetchJson(nursery.url, `/api/waitlist?variety=${variety}`);
  await page.getByText('wait for it').click();
  assert.ok((await page.locator('details li').first().innerText()).includes(shown(waiting[0].sentence)));
  await shot('waitlist');
  await page.getByRole('button', { name: 'Sell more than offered' }).click();
  const dialog = page.getByRole('dialog');
  await dialog.getByLabel('How many more divisions').fill('3');
  await dialog.getByLabel('Why').fill('A neighbour promised stock');
  await dialog.getByRole('button', { name: 'Allow it' }).click();
  await closed(page);
  const records = await fetchJson(nursery.url, '/api/audit');
  assert.ok(records.some((/** @type {any} */ a) => JSON.stringify(a).includes('A neighbour promised stock')));
  await page.locator('.message', { hasText: variety }).getByRole('button', { name: 'Undo' }).click();
  await until(
    () => page.locator('.message').allInnerTexts(),
    (all) => all.some((s) => s.includes('taken back')),
    'the undo is said',
  );
  assert.deepEqual(errors, []);
  await close();
});

test('what a carrier gives back is shown, taken once, and taken back; so is a file of holds', async () => {
  const { page, errors, violations, shot, close } = await openPage(browser);
  const last = packed[packed.length - 1];
  const was = await parcelOf(last.id);
  assert.equal(was.state, 'packed');
  await page.goto(`${nursery.url}/#/orders/load`);
  /** A file of another make, chosen and looked at. @param {string} name @param {string} text */
  const choose = async (name, text) => {
    await page.locator('input[type=file]').setInputFiles({ name, mimeType: 'text/csv', buffer: Buffer.from(text) });
    await page.getByRole('heading', { name, exact: true }).waitFor();
  };
  const take = page.getByRole('button', { name: 'Take it in' });
  const enabled = () => until(() => take.isEnabled().catch(() => false), Boolean, 'it may be taken');
  const manifest = `Reference;Tracking number;Carrier;Dispatch date\n${last.order};T-7001;The cart;18/02/2032\n`;
  await choose('manifest.csv', manifest);
  await enabled();
  await page.getByText('Rows of tracking: 4 of 4 columns fit.').waitFor();
  assert.deepEqual(await violations(), []);
  await shot('carrier-back-desktop');
  assert.equal((await parcelOf(last.id)).state, 'packed', 'shown first');
  await take.click();
  await page.getByText('This was taken in').waitFor();
  const gone = await parcelOf(last.id);
  assert.deepEqual(
    [gone.state, gone.carrier, gone.tracking, gone.shipped_on],
    ['shipped', 'The cart', 'T-7001', '2032-02-18'],
  );
  await page.getByRole('button', { name: 'Done', exact: true }).click();
  // The same once more changes nothing.
  await choose('manifest.csv', manifest);
  await enabled();
  await take.click();
  await page.getByText('This was taken in').waitFor();
  await page.getByRole('button', { name: 'Done', exact: true }).click();
  assert.equal((await fetchJson(nursery.url, '/api/load/brought')).length, 1);
  // Another number for it is named, and nothing can be taken.
  await choose('wrong.csv', `Reference;Tracking number\n${last.order};T-7002\n`);
  await page.getByText(/left under T-7001, and the file says T-7002/).waitFor();
  assert.equal(await take.isEnabled(), false);
  await page.getByRole('button', { name: 'Leave it', exact: true }).click();
  await page.getByText('Holds and tracking numbers by file: 1').click();
  await page.getByRole('button', { name: 'Take manifest.csv back' }).click();
  await page.getByRole('dialog').getByLabel('Why').fill('of another nursery');
  await page.getByRole('dialog').getByRole('button', { name: 'Take back' }).click();
  await closed(page);
  await page.getByText(/of another nursery$/).waitFor();
  assert.equal((await parcelOf(last.id)).state, 'packed');

  // A plant-health notice, and a carrier.
  await choose('weather.csv', 'Country;Carrier;Valid from;Until;Warning\nFrance;;2032-03-01;2032-03-14;beetle zone\n');
  await enabled();
  await take.click();
  await page.getByText('This was taken in').waitFor();
  const [hold] = await fetchJson(nursery.url, '/api/frost-holds');
  assert.deepEqual(
    [hold.country, hold.first_week, hold.last_week, hold.why],
    ['FR', '2032-W10', '2032-W11', 'beetle zone'],
  );
  await page.getByRole('button', { name: 'Done', exact: true }).click();
  await page.getByRole('button', { name: 'Take weather.csv back' }).click();
  await page.getByRole('dialog').getByLabel('Why').fill('over');
  await page.getByRole('dialog').getByRole('button', { name: 'Take back' }).click();
  await closed(page);
  assert.equal((await fetchJson(nursery.url, '/api/frost-holds')).length, 0);
  await page.goto(`${nursery.url}/#/orders/weeks`);
  const { weeks } = await fetchJson(nursery.url, '/api/schedule');
  await page.locator('select', { has: page.locator('option[value=carrier]') }).selectOption('carrier');
  await page.getByRole('textbox', { name: 'Carrier' }).fill('The cart');
  await page.getByLabel('From week').selectOption(weeks[0].week);
  await page.getByLabel('To week').selectOption(weeks[0].week);
  await page.getByRole('button', { name: 'Hold back' }).click();
  const lift = page.getByRole('button', { name: 'Lift the hold on The cart' });
  await lift.waitFor();
  await lift.click();
  await lift.waitFor({ state: 'detached' });
  assert.deepEqual(
    errors.filter((e) => !/422|409/.test(e)),
    [],
  );
  await close();
});

test('a frost hold is put and lifted again', async () => {
  const { page, errors, close } = await openPage(browser);
  const { weeks } = await fetchJson(nursery.url, '/api/schedule');
  const { week } = weeks[0];
  await page.goto(`${nursery.url}/#/orders/weeks`);
  await page.getByText('Holds: frost, place, carrier').click();
  await page.getByLabel('Zone').last().fill('z7');
  await page.getByLabel('From week').selectOption(week);
  await page.getByLabel('To week').selectOption(week);
  await page.getByRole('button', { name: 'Hold back' }).click();
  const lift = page.getByRole('button', { name: 'Lift the hold on z7' });
  await lift.waitFor();
  assert.equal((await fetchJson(nursery.url, '/api/frost-holds')).length, 1);
  // Zone, week and reason are what a hold is found by; the other one is not found by them.
  await page.getByLabel('Zone').last().fill('z3');
  await page.getByRole('textbox', { name: 'Why' }).last().fill('Late thaw');
  await page.getByRole('button', { name: 'Hold back' }).click();
  const other = page.getByRole('button', { name: 'Lift the hold on z3' });
  await other.waitFor();
  const find = page.getByLabel('Find by zone, order, place, carrier, week, reason');
  for (const [typed, n7, n3] of [
    ['z7', 1, 0],
    ['late TH', 0, 1],
    [week.slice(0, 4), 1, 1],
    ['z7 thaw', 0, 0],
    ['', 1, 1],
  ]) {
    await find.fill(String(typed));
    await until(
      () => Promise.all([lift.count(), other.count()]),
      ([a, b]) => a === n7 && b === n3,
      `holds found by "${typed}"`,
    );
    if (typed !== '') await page.getByText(`${Number(n7) + Number(n3)} of 2`, { exact: false }).waitFor();
  }
  await other.click();
  await other.waitFor({ state: 'detached' });
  await lift.click();
  await lift.waitFor({ state: 'detached' });
  // A place, by any name of its country.
  await page.locator('select', { has: page.locator('option[value=place]') }).selectOption('place');
  await page.getByLabel('Country').last().fill('Deutschland');
  await page.getByLabel('Postcodes from').fill('20');
  await page.getByLabel('Postcodes to').fill('29');
  await page.getByRole('button', { name: 'Hold back' }).click();
  const place = page.getByRole('button', { name: 'Lift the hold on DE 20–29' });
  await place.waitFor();
  await place.click();
  await place.waitFor({ state: 'detached' });
  assert.equal((await fetchJson(nursery.url, '/api/frost-holds')).length, 0);
  assert.deepEqual(errors, []);
  await close();
});

test('a hold on what is in a wave is told at once, marked on the order, overruled on record, and lifted', async () => {
  const { page, errors, close } = await openPage(browser);
  const { week } = (await fetchJson(nursery.url, '/api/waves')).find((/** @type {any} */ w) => w.wave === wave);
  const parcel = (await fetchJson(nursery.url, `/api/parcels?wave=${wave}`)).find(
    (/** @type {any} */ p) => p.state === 'open',
  );
  await page.goto(`${nursery.url}/#/orders/weeks`);
  await page.locator('select:has(option[value="order"])').last().selectOption('order');
  await page.getByLabel('Order number').last().fill(parcel.order);
  await page.getByLabel('From week').selectOption(week);
  await page.getByLabel('To week').selectOption(week);
  await page.getByRole('button', { name: 'Hold back' }).click();
  const dialog = page.getByRole('dialog', { name: 'The hold keeps 1 parcel' });
  await dialog.getByRole('link', { name: parcel.order, exact: true }).waitFor();
  await page.keyboard.press('Escape');
  await dialog.waitFor({ state: 'detached' });
  await page.getByText('It keeps 1 order that is in a wave').waitFor();
  const { stops } = await fetchJson(nursery.url, `/api/waves/${wave}`);
  assert.ok(
    stops
      .flatMap((/** @type {any} */ s) => s.picks)
      .every((/** @type {any} */ p) => (p.order === parcel.order) === (p.frost !== null)),
  );
  await page.goto(`${nursery.url}/#/orders/order/${encodeURIComponent(parcel.order)}`);
  await page.getByText('Held back: frost hold').waitFor();
  await page.getByRole('button', { name: 'Send it all the same' }).click();
  await page.getByRole('dialog').getByLabel('Why').fill('It goes by car');
  await page.getByRole('dialog').getByRole('button', { name: 'Send it all the same' }).click();
  await closed(page);
  await page.getByText('It goes by car').first().waitFor();
  await page.getByRole('button', { name: 'Keep it back again' }).click();
  await page.getByText('Held back: frost hold').waitFor();
  await page.goto(`${nursery.url}/#/orders/weeks`);
  await page.getByRole('button', { name: `Lift the hold on ${parcel.order}` }).click();
  await until(
    () => fetchJson(nursery.url, '/api/frost-holds'),
    (all) => all.length === 0,
    'the hold is lifted',
  );
  assert.deepEqual(errors, []);
  await close();
});
