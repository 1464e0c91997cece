// SPDX-License-Identifier: MIT
// The cellar's entries on a phone, and the scanner.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { begin, browser, nursery, scan } from './begin.mjs';
import { axe, fetchJson, openPage, postJson, until } from './support.mjs';

begin();

/** @param {import('playwright-core').Page} page @param {string} number */
async function keys(page, number) {
  for (const digit of number) await page.locator('.key', { hasText: new RegExp(`^${digit}$`) }).click();
}

for (const size of /** @type {const} */ (['phone', 'desktop'])) {
  test(`a dividing session, ${size}`, async () => {
    const { page, errors, violations, shot, close } = await openPage(browser, { size });
    const lots = await fetchJson(nursery.url, '/api/lots');
    const lot = lots.find((/** @type {any} */ l) => l.clumps > 12 && !l.held);
    await page.goto(`${nursery.url}/#/cellar/dividing`);
    await page.locator('.choose input').fill(lot.lot.toLowerCase());
    await page.locator('.choices button').first().click();
    await keys(page, String(lot.clumps + 1));
    await page.locator('.wrong').waitFor();
    await page.getByRole('button', { name: 'Clear' }).click();
    await keys(page, '5');
    await page.getByRole('button', { name: 'Next' }).click();
    await keys(page, '1');
    await page.getByRole('button', { name: 'Next' }).click();
    await keys(page, '17');
    await shot(`dividing-${size}`);
    await page.getByRole('button', { name: 'Next' }).click();
    await keys(page, '4');
    await page.getByRole('button', { name: 'Next' }).click();
    await page.getByRole('button', { name: 'Leave the place open' }).click();
    await page.getByText('Minutes it took').first().waitFor();
    await keys(page, '25');
    await page.getByRole('button', { name: 'Next' }).click();
    await page.getByText('How many people cut?').first().waitFor();
    await page.getByRole('button', { name: 'Next' }).click(); // one, unless it is said
    await shot(`dividing-right-${size}`);
    await page.getByRole('button', { name: 'Yes, keep it' }).click();
    await page.getByText(`${lot.lot}: 5 clumps into 17 divisions`).first().waitFor();
    const tags = await page.getByRole('link', { name: 'Print the tags of these divisions' }).getAttribute('href');
    const after = await until(
      () => fetchJson(nursery.url, '/api/lots').then((all) => all.find((/** @type {any} */ l) => l.lot === lot.lot)),
      (l) => l.divisions === lot.divisions + 17,
      'the ledger has it',
    );
    assert.equal(after.clumps, lot.clumps - 5);
    const session = (await fetchJson(nursery.url, `/api/lots/${lot.lot}`)).sessions.at(-1);
    assert.deepEqual([session.minutes, session.people], [25, 1]);
    const paper = await (await fetch(nursery.url + tags)).text();
    assert.ok(paper.includes(lot.lot) && /<dd[^>]*>17<\/dd>/.test(paper), 'a tag with its 17 divisions');
    assert.deepEqual(errors, []);
    assert.deepEqual(await violations(), []);
    await close();
  });
}

test('yesterday’s sheet: the day is chosen once, said, and stays for the next entry', async () => {
  const { page, errors, shot, close } = await openPage(browser, { size: 'phone' });
  const checked = async (/** @type {string} */ lot) =>
    (await fetchJson(nursery.url, `/api/lots/${lot}`)).checks.map((/** @type {any} */ c) => [c.day, c.inspected]);
  // Tapped before the page knows the nursery's today: its yesterday is meant, not that of this device's clock.
  let know = () => {};
  const known = new Promise((resolve) => (know = () => resolve(undefined)));
  await page.route('**/api/nursery', async (asked) => {
    await known;
    await asked.continue().catch(() => {}); // the page may be closed by then
  });
  await page.goto(`${nursery.url}/#/cellar/check`);
  await page.getByRole('button', { name: 'Yesterday' }).click();
  know();
  await page.getByText('Everything here is entered for').waitFor();
  await shot('yesterday-phone');
  for (const [lot, n] of [
    ['L0006', '11'],
    ['L0007', '12'],
  ]) {
    await page.locator('.choose input').fill(lot ?? '');
    await page.locator('.choices button').first().click();
    await page.getByRole('button', { name: 'clumps' }).click();
    await keys(page, n ?? '');
    await page.getByRole('button', { name: 'Next' }).click();
    await keys(page, '0');
    await page.getByRole('button', { name: 'Next' }).click();
    await page.getByRole('button', { name: 'no', exact: true }).click(); // nothing seemed wrong
    await page.getByRole('button', { name: 'Yes, keep it' }).click();
    await until(
      () => checked(lot ?? ''),
      (all) => all.some(([day, inspected]) => day === '2032-02-19' && inspected === Number(n)),
      `the check of ${lot} is of yesterday`,
    );
  }
  await page.getByRole('button', { name: 'Another day' }).click();
  await page.locator('.day-choice input').fill('2032-02-21');
  await page.locator('.wrong', { hasText: 'Not later than today' }).waitFor();
  await page.getByRole('button', { name: 'Today' }).click();
  await until(
    () => page.getByText('Everything here is entered for').count(),
    (n) => n === 0,
    'today needs no words',
  );
  assert.deepEqual(errors, []);
  await close();
});

test('thumb-size targets', async () => {
  const { page, close } = await openPage(browser, { size: 'phone' });
  await page.goto(`${nursery.url}/#/cellar/check`);
  await page.locator('.choose input').fill('L0002');
  await page.locator('.choices button').first().click();
  await page.getByRole('button', { name: 'clumps' }).waitFor();
  for (const button of await page.locator('main button, main a').all()) {
    const box = await button.boundingBox();
    assert.ok(box && box.height >= 56, `${await button.innerText()}: ${box?.height} px high`);
  }
  await close();
});

test('a scan picks the lot, another crate is refused loudly, a field keeps its text', async () => {
  const { page, close } = await openPage(browser, { size: 'phone' });
  await page.goto(`${nursery.url}/#/cellar/check`);
  await page.locator('.choose input').waitFor();
  await until(
    async () => {
      await scan(page, 'L0002 N01-1');
      return page.locator('.tag', { hasText: 'Lot L0002' }).count();
    },
    (n) => n === 1,
    'the scan picks the lot',
  );
  await page.getByRole('button', { name: 'clumps' }).click();
  await keys(page, '9');
  await scan(page, 'L0003');
  assert.match(await page.locator('.refusal').innerText(), /L0003.*L0002/s);
  assert.equal(await page.locator('.keypad-value').inputValue(), '9');
  await scan(page, 'L0002');
  await until(
    () => page.locator('.refusal').count(),
    () => true,
    '',
  );
  await close();
});

test('what the server refuses is kept with its reason', async () => {
  const { page, shot, close } = await openPage(browser, { size: 'phone' });
  await page.goto(`${nursery.url}/#/cellar/check`);
  await page.locator('.choose input').fill('L0005');
  await page.locator('.choices button').first().click();
  await page.getByRole('button', { name: 'clumps' }).click();
  await keys(page, '9999');
  await page.getByRole('button', { name: 'Next' }).click();
  await keys(page, '9999');
  await page.getByRole('button', { name: 'Next' }).click();
  await page.getByRole('button', { name: 'no', exact: true }).click();
  await page.getByRole('button', { name: 'Yes, keep it' }).click();
  await page.getByRole('alert').filter({ hasText: 'L0005' }).getByRole('link').click();
  await page.locator('.refusal', { hasText: 'The server said no' }).waitFor();
  await shot('refused-phone');
  assert.match(await page.locator('.refusal').innerText(), /L0005/);
  await page.getByRole('button', { name: 'I have read it' }).click();
  await until(
    () => page.locator('.refusal').count(),
    (n) => n === 0,
    'read',
  );
  await close();
});

test('a lot, phone: an entry is taken back by a counter-entry; moved; held and let go', async () => {
  const { page, errors, violations, shot, close } = await openPage(browser, { size: 'phone' });
  const lotOf = async (/** @type {string} */ code) =>
    (await fetchJson(nursery.url, '/api/lots')).find((/** @type {any} */ l) => l.lot === code);
  const before = (await fetchJson(nursery.url, '/api/lots')).filter(
    (/** @type {any} */ l) => l.clumps > 12 && !l.held,
  )[3];
  await postJson(nursery.url, '/api/dividing', { lot: before.lot, clumps: 6, saleable: 20, blind: 1, rotten: 0 });
  await page.goto(`${nursery.url}/#/cellar`);
  await page.getByRole('link', { name: /Look at a lot/ }).click();
  await page.locator('.choose input').fill(before.lot.toLowerCase());
  await page.locator('.choices button').first().click();
  const entry = page.locator('.entered', { hasText: '6 clumps into 20 divisions' });
  await entry.waitFor();
  await shot('lot-phone');
  assert.deepEqual(await axe(page), []);
  await entry.getByRole('button', { name: 'Take back' }).click();
  await page.getByRole('dialog').getByLabel('Why').fill('The other crate');
  await page.getByRole('dialog').getByRole('button', { name: 'Take back' }).click();
  await page.getByRole('dialog').waitFor({ state: 'detached' });
  await until(
    () => entry.innerText(),
    (s) => s.includes('taken back'),
    'it says so',
  );
  assert.deepEqual(
    [(await lotOf(before.lot)).clumps, (await lotOf(before.lot)).divisions],
    [before.clumps, before.divisions],
  );

  await page.getByRole('button', { name: 'Hold it back' }).click();
  await page.getByRole('dialog').getByLabel('Why').fill('Looks mislabelled');
  await page.getByRole('dialog').getByRole('button', { name: 'Hold it back' }).click();
  await page.locator('.refusal', { hasText: 'Looks mislabelled' }).waitFor();
  assert.equal((await lotOf(before.lot)).held, 'Looks mislabelled');
  await shot('lot-held-phone');
  await page.getByRole('button', { name: 'Lift the hold' }).click();
  await until(
    () => lotOf(before.lot),
    (l) => !l.held,
    'let go',
  );

  // One crate's clumps to another place.
  const place = (await fetchJson(nursery.url, '/api/places')).find(
    (/** @type {any} */ p) => !before.places.includes(p.place),
  ).place;
  await page.getByRole('link', { name: 'Move' }).click();
  await page.locator('.choose input').fill(place);
  await page.locator('.choices button').first().click();
  await keys(page, '2');
  await page.getByRole('button', { name: 'Next' }).click();
  await page.getByRole('button', { name: 'Next' }).click();
  await page.getByRole('button', { name: 'Yes, keep it' }).click();
  await page.getByRole('link', { name: 'Look at this lot' }).click();
  await until(
    () => page.locator('.lot-places').innerText(),
    (s) => s.includes(place),
    'it lies there',
  );
  assert.deepEqual(errors, []);
  assert.deepEqual(await violations(), []);
  await close();
});
