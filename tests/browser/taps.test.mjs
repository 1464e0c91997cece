// SPDX-License-Identifier: MIT
// What a packer does all day on a phone, and the office after it, by as few taps as it can be: each task counts its own. A scan is none.
// All data are invented.

import assert from 'node:assert/strict';
import { after, test } from 'node:test';
import { begin, browser, nursery } from './begin.mjs';
import { fetchJson, openPage, postJson, run, TODAY, until } from './support.mjs';

const MANY = 8; // orders that wait for one crate
const FILES = {
  varieties: 'code,name,price\nAMB,Amber Lantern,6.50\nBRI,Briar Song,8.00\n',
  places: 'place,room,walk_order\nC1,north cellar,10\nC2,south cellar,20\n',
  lots: 'lot,variety,dug_on,clumps,place\nL1,AMB,2031-10-20,0,C1\nL2,BRI,2031-10-21,0,C2\n',
  counts: 'lot,counted_on,stage,count\nL1,2032-01-20,division,40\nL2,2032-01-20,division,40\n',
  zones: 'zone,first_week\nz7,2032-W16\n',
  orders: [
    'order,received_at,line,variety,quantity,unit_price,customer,country,zone',
    ...Array.from(
      { length: MANY },
      (_, i) => `T-${i + 1},2032-01-0${i + 1}T10:00:00Z,1,AMB,1,6.50,Buyer ${i + 1},US,z7`,
    ),
    ...Array.from({ length: 2 }, (_, i) => `T-${i + 1},2032-01-0${i + 1}T10:00:00Z,2,BRI,2,8.00,Buyer ${i + 1},US,z7`),
    '',
  ].join('\n'),
};

begin({
  prepare: (db) => {
    for (const code of ['AMB', 'BRI'])
      run(['offer', db, '--variety', code, '--quantity', '30', '--commit', '--why', 'list', '--today', TODAY]);
    run(['allocate', db, '--rule', 'first-come', '--supply', 'counted', '--commit', '--today', TODAY]);
    run(['pick', db, '--week', '2032-W16', '--today', TODAY]);
  },
  files: FILES,
});

/** Taps that a task took; typing and scans are not counted. Nothing may have to be scrolled to: what is tapped lies on the screen. */
function counter() {
  let taps = 0;
  return {
    /** @param {import('playwright-core').Locator} what */
    async tap(what) {
      await what.click();
      taps++;
    },
    get taps() {
      return taps;
    },
  };
}

const wave = () => fetchJson(nursery.url, '/api/waves/1');
/** @param {any} w */
const picksOf = (w) => w.stops.flatMap((/** @type {any} */ s) => s.picks);

test('a short pick: the slots that are filled are ticked, one is left; three taps and it is told, whoever joined by none', async () => {
  const { page, errors, close } = await openPage(browser, { size: 'phone' });
  await page.goto(`${nursery.url}/#/cellar/walk/1`);
  await page.locator('.step').waitFor();
  const slots = page.locator('.slots .slot');
  await until(
    () => slots.count(),
    (n) => n === MANY,
    'a slot for each order',
  );
  // With all its slots the button that confirms is on the screen.
  const main = await page.getByRole('button', { name: /^Took/ }).boundingBox();
  assert.ok(main && main.y >= 0 && main.y + main.height <= 844, JSON.stringify(main));
  for (let i = 0; i < MANY - 1; i++) {
    await slots.nth(i).click(); // the work itself: a tick a slot as it is filled
    await until(
      () => page.locator('.slots .slot[aria-pressed="true"]').count(),
      (n) => n === i + 1,
      'ticked',
    );
  }
  const short = counter();
  await short.tap(page.getByRole('button', { name: 'Not all here' }));
  await short.tap(page.getByText('rotten', { exact: true }));
  await short.tap(page.getByRole('button', { name: `Took ${MANY - 1}, rest rotten` }));
  await until(
    wave,
    (w) => {
      const of = picksOf(w).filter((/** @type {any} */ p) => p.lot === 'L1');
      const left = of.filter((/** @type {any} */ p) => p.short_reason === 'rotten');
      return of.every((/** @type {any} */ p) => p.state === 'done') && left.length === 1 && left[0].slot === MANY;
    },
    'the slot that was left goes without, the others are full',
  );
  assert.equal(short.taps, 3);
  assert.deepEqual(errors, []);
  await close();
});

test('one crate short for many: settled by two clicks, with names and sentences', async () => {
  // The other crate proves empty, for both who wait for it.
  const picks = picksOf(await wave()).filter((/** @type {any} */ p) => p.lot === 'L2');
  await postJson(nursery.url, '/api/picks', {
    confirmations: picks.map((/** @type {any} */ p) => ({
      key: `taps-${p.id}`,
      pick: p.id,
      taken: 0,
      reason: 'rotten',
    })),
  });
  const shorts = await fetchJson(nursery.url, '/api/shorts?wave=1');
  assert.ok(shorts.length >= 3);
  const { page, errors, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/short`);
  const settle = counter();
  await settle.tap(page.getByRole('button', { name: `Settle all ${shorts.length}` }));
  const dialog = page.getByRole('dialog');
  await dialog.waitFor();
  for (const s of shorts) {
    const row = dialog.locator('li', { hasText: s.order }).first();
    assert.match(await row.innerText(), new RegExp(s.customer));
  }
  await settle.tap(dialog.getByRole('button', { name: `Settle all ${shorts.length}` }));
  await dialog.waitFor({ state: 'detached' });
  await until(
    () => fetchJson(nursery.url, '/api/shorts?wave=1'),
    (left) => left.length === 0,
    'settled',
  );
  assert.equal(settle.taps, 2);
  assert.deepEqual(errors, []);
  await close();
});

test('what is said and shaken is by choice; where the walk goes next is told', async () => {
  const { page, errors, close } = await openPage(browser, { size: 'phone' });
  await page.addInitScript(() => {
    const told = /** @type {string[]} */ ([]);
    /** @type {any} */ (window).told = told;
    Object.defineProperty(navigator, 'vibrate', { value: () => told.push('shaken') });
    Object.defineProperty(window, 'SpeechSynthesisUtterance', {
      value: class {
        /** @param {string} text */
        constructor(text) {
          this.text = text;
        }
      },
    });
    Object.defineProperty(window, 'speechSynthesis', {
      value: { cancel() {}, speak: (/** @type {any} */ said) => told.push(said.text) },
    });
  });
  const told = () => page.evaluate(() => /** @type {any} */ (window).told.splice(0));
  await postJson(nursery.url, '/api/orders', {
    order: 'T-90',
    customer: 'Late Invented',
    country: 'US',
    zone: 'z7',
    lines: ['AMB', 'BRI'].map((variety, i) => ({ line: i + 1, variety, quantity: 1, unit_price: '7.00' })),
  });
  const { firm } = (await fetchJson(nursery.url, '/api/orders/T-90')).lines[0];
  if (firm === 0) await postJson(nursery.url, '/api/allocation', { rule: 'first-come', supply: 'counted' });
  const { wave: second } = await postJson(nursery.url, '/api/waves', { week: '2032-W16', orders: ['T-90'] });
  for (const chosen of [false, true]) {
    await page.goto('about:blank');
    await page.goto(`${nursery.url}/#/cellar/walk/${second}`);
    await page.locator('.step').waitFor();
    const speech = page.getByLabel('Say each stop aloud');
    const shakes = page.getByLabel('Shake at ticks and at each yes and no');
    if (chosen) {
      await speech.check();
      await shakes.check();
      await page.reload();
      await page.locator('.step').waitFor();
    } else assert.deepEqual([await speech.isChecked(), await shakes.isChecked()], [false, false]);
    await page.locator('.walk-then', { hasText: 'Then on to C2, south cellar' }).waitFor();
    if (chosen)
      await until(
        () => page.evaluate(() => /** @type {any} */ (window).told.join()),
        (all) => /C1\. 1 of Amber Lantern/.test(all),
        'the stop is said aloud',
      );
    await told();
    const key = [...`WRONG ${second}`, 'Enter'];
    await page.evaluate((keys) => {
      for (const k of keys)
        document.body.dispatchEvent(new KeyboardEvent('keydown', { key: k, bubbles: true, cancelable: true }));
    }, key);
    await page.locator('.refusal', { hasText: 'not on this walk' }).waitFor();
    assert.equal((await told()).includes('shaken'), chosen, 'a wrong crate shakes only who chose it');
  }
  assert.deepEqual(errors, []);
  await close();
});
