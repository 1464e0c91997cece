// SPDX-License-Identifier: MIT
// Names put right on the page: a code that changes, two codes that are one variety, a lot of another variety, a file in which a code
// changed. Each is shown first, done, and taken back; with the keyboard alone, and on a phone.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { begin, browser, nursery } from './begin.mjs';
import { TODAY, axe, fetchJson, fillAtOnce, focused, openPage, run, tabTo, until } from './support.mjs';

begin();

const codes = () =>
  fetchJson(nursery.url, '/api/varieties').then((all) => all.map((/** @type {any} */ v) => v.code ?? v.variety));
const formers = () => fetchJson(nursery.url, '/api/former-codes');
/** @param {import('playwright-core').Page} page */
const dialog = (page) => page.locator('dialog[open]');

test('a code, keyboard only: looked at, changed, found by both, taken back', async () => {
  const { page, errors, violations, close } = await openPage(browser, {});
  const code = (await codes())[0];
  await page.goto(`${nursery.url}/#/winter/variety/${code}`);
  await page.getByRole('button', { name: 'Change the code…' }).waitFor();
  await tabTo(page, /^button: Change the code/);
  await page.keyboard.press('Enter');
  await dialog(page).waitFor();
  assert.match(await focused(page), /New code/);
  await page.keyboard.type('KEYED-1');
  await page.keyboard.press('Tab');
  await page.keyboard.type('typed wrong');
  await tabTo(page, /^button: Show what it changes/);
  await page.keyboard.press('Enter');
  await dialog(page).locator('tbody tr').first().waitFor();
  assert.match(await dialog(page).innerText(), new RegExp(`${code}.* becomes KEYED-1`));
  assert.ok((await codes()).includes(code), 'a look changes nothing');
  assert.deepEqual(await axe(page), []);
  await tabTo(page, /^button: Put it right/);
  await page.keyboard.press('Enter');
  await until(codes, (c) => c.includes('KEYED-1') && !c.includes(code), 'the code is changed');
  await until(
    () => page.evaluate(() => location.hash),
    (h) => h.endsWith('/KEYED-1'),
    'its page',
  );
  assert.equal((await formers())[0].code, code);
  await page.getByRole('button', { name: 'Undo' }).click();
  await until(codes, (c) => c.includes(code) && !c.includes('KEYED-1'), 'taken back');
  // Escape closes an empty dialog and gives the focus back.
  await until(
    () => page.evaluate(() => location.hash),
    (h) => h.endsWith(`/${code}`),
    'its page again',
  );
  await page.getByRole('button', { name: 'Change the code…' }).focus();
  await page.keyboard.press('Enter');
  await dialog(page).waitFor();
  await page.keyboard.press('Escape');
  await until(
    () => dialog(page).count(),
    (n) => n === 0,
    'closed',
  );
  assert.match(await focused(page), /Change the code/);
  assert.deepEqual(errors, []);
  assert.deepEqual(await violations(), []);
  await close();
});

for (const size of /** @type {const} */ (['desktop', 'phone'])) {
  test(`two codes, ${size}: shown what both have, made one, parted again`, async () => {
    const { page, errors, violations, shot, close } = await openPage(browser, { size });
    const [one, other] = await codes();
    const lots = async (/** @type {string} */ code) =>
      (await fetchJson(nursery.url, '/api/lots')).filter((/** @type {any} */ l) => l.variety === code).length;
    const had = [await lots(one), await lots(other)];
    await page.goto(`${nursery.url}/#/winter/variety/${one}`);
    await page.getByRole('button', { name: 'It is the same as another…' }).click();
    await dialog(page).getByLabel('Code of the variety that stays').fill(other);
    await dialog(page).getByLabel('Why').fill('the same plant');
    await dialog(page).getByRole('button', { name: 'Show what it changes' }).click();
    await dialog(page).locator('tbody tr').first().waitFor();
    for (const part of ['clumps on hand', 'lines of orders', 'past seasons', 'kept for planting'])
      assert.ok((await dialog(page).innerText()).includes(part), part);
    // Nothing hangs out of a narrow screen.
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    assert.ok(wide <= 0, `${wide} px too wide`);
    assert.deepEqual(await axe(page), []);
    await shot(`naming-merge-${size}`);
    // Another name than the one that was shown is looked at again first.
    await dialog(page).getByLabel('Code of the variety that stays').fill(`${other}x`);
    await dialog(page).getByRole('button', { name: 'Show what it changes' }).click();
    await dialog(page).locator('.wrong').waitFor();
    assert.ok((await codes()).includes(one));
    await dialog(page).getByLabel('Code of the variety that stays').fill(other);
    await dialog(page).getByRole('button', { name: 'Put it right' }).click();
    await until(codes, (c) => !c.includes(one), 'one variety');
    assert.equal(await lots(other), had[0] + had[1]);
    const part = page.getByRole('button', { name: 'Two varieties again…' });
    await part.waitFor();
    await part.click();
    await dialog(page).getByLabel('Why').fill('two after all');
    await dialog(page).getByRole('button', { name: 'Show what it changes' }).click();
    await dialog(page).getByRole('button', { name: 'Put it right' }).click();
    await until(codes, (c) => c.includes(one), 'two again');
    assert.deepEqual([await lots(one), await lots(other)], had);
    assert.deepEqual(errors, []);
    assert.deepEqual(await violations(), []);
    await close();
  });

  test(`a lot, ${size}: another variety, what it reaches, taken back at once`, async () => {
    const { page, errors, close } = await openPage(browser, { size });
    const lot = (await fetchJson(nursery.url, '/api/lots')).find((/** @type {any} */ l) => l.clumps > 4 && !l.held);
    const to = (await codes()).find((/** @type {string} */ c) => c !== lot.variety);
    const variety = async () => (await fetchJson(nursery.url, `/api/lots/${lot.lot}`)).lot.variety;
    await page.goto(`${nursery.url}/#/cellar/lot/${lot.lot}`);
    await page.getByRole('button', { name: 'It is another variety…' }).click();
    await dialog(page).getByLabel('Code of the true variety').fill(to);
    await dialog(page).getByLabel('Why').fill('the stake');
    await dialog(page).getByRole('button', { name: 'Show what it changes' }).click();
    await dialog(page).locator('tbody tr').first().waitFor();
    assert.ok((await dialog(page).innerText()).includes('promised firm and not sent'));
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    assert.ok(wide <= 0, `${wide} px too wide`);
    assert.deepEqual(await axe(page), []);
    assert.equal(await variety(), lot.variety);
    await dialog(page).getByRole('button', { name: 'Put it right' }).click();
    await until(variety, (v) => v === to, 'relabelled');
    await page.getByRole('button', { name: 'Undo' }).click();
    await until(variety, (v) => v === lot.variety, 'taken back');
    assert.deepEqual(errors, []);
    await close();
  });
}

for (const size of /** @type {const} */ (['desktop', 'phone'])) {
  test(`a part of a lot, ${size}: looked at, a lot of its own, taken back`, async () => {
    const { page, errors, violations, close } = await openPage(browser, { size });
    const all = () => fetchJson(nursery.url, '/api/lots');
    const lot = (await all()).find((/** @type {any} */ l) => l.clumps > 4 && l.divisions === 0 && !l.held);
    const to = (await codes()).find((/** @type {string} */ c) => c !== lot.variety);
    const part = async () => (await all()).find((/** @type {any} */ l) => l.lot === `P-${size}`);
    const left = async () => (await all()).find((/** @type {any} */ l) => l.lot === lot.lot).clumps;
    await page.goto(`${nursery.url}/#/cellar/lot/${lot.lot}`);
    await page.getByRole('button', { name: 'A part is another variety…' }).click();
    await fillAtOnce(page, [
      { at: dialog(page).getByLabel('Code of the true variety'), text: to },
      { at: dialog(page).getByLabel('Code of the new lot'), text: `P-${size}` },
      { at: dialog(page).getByLabel('Clumps of it'), text: '3' },
      { at: dialog(page).getByLabel('Why'), text: 'other eyes' },
    ]);
    await dialog(page).getByRole('button', { name: 'Show what it changes' }).click();
    await dialog(page).getByText('clumps that change their name').waitFor();
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    assert.ok(wide <= 0, `${wide} px too wide`);
    assert.deepEqual(await axe(page), []);
    assert.equal(await part(), undefined);
    // What is changed after it was shown is shown again.
    await dialog(page).getByLabel('Clumps of it').fill('2');
    await dialog(page).getByRole('button', { name: 'Show what it changes' }).click();
    await dialog(page).getByRole('button', { name: 'Put it right' }).click();
    await until(part, (p) => p?.clumps === 2 && p.variety === to, 'a lot of its own');
    assert.equal(await left(), lot.clumps - 2);
    await page.getByText(`became lot P-${size}, ${to}`).waitFor();
    await page.getByRole('button', { name: 'Undo' }).click();
    await until(left, (n) => n === lot.clumps, 'taken back');
    assert.deepEqual(errors, []);
    assert.deepEqual(await violations(), []);
    await close();
    run(['check', nursery.db]);
  });
}

test('a part of a lot begins at the nursery’s own today, also where that is known late', async () => {
  const { page, errors, close } = await openPage(browser, {});
  const lot = (await fetchJson(nursery.url, '/api/lots')).find((/** @type {any} */ l) => l.clumps > 4 && !l.held);
  let known = () => {};
  const held = new Promise((resolve) => (known = () => resolve(undefined)));
  await page.route('**/api/nursery', (r) => held.then(() => r.continue()));
  await page.goto(`${nursery.url}/#/cellar/lot/${lot.lot}`);
  await page.getByRole('button', { name: 'A part is another variety…' }).click();
  const from = dialog(page).locator('input[type=date]');
  assert.notEqual(await from.inputValue(), TODAY);
  known();
  await until(
    () => from.inputValue(),
    (day) => day === TODAY,
    'the nursery’s own today',
  );
  assert.deepEqual(errors, []);
  await close();
});

test('a file in which a code changed asks, and the answer is taken', async () => {
  const { page, errors, close } = await openPage(browser, {});
  const first = (await fetchJson(nursery.url, '/api/varieties'))[0];
  const code = first.code ?? first.variety;
  await page.goto(`${nursery.url}/#/orders/load`);
  const file = {
    name: 'varieties.csv',
    mimeType: 'text/csv',
    buffer: Buffer.from(`code,name\nCHANGED,${first.name}\n`),
  };
  await page.locator('.drop input').setInputFiles(file);
  await page.getByText(`CHANGED has the same name as ${code}`).first().waitFor();
  assert.deepEqual(await axe(page), []);
  await page.getByRole('button', { name: 'New codes of the varieties on record' }).click();
  await page.getByRole('button', { name: 'Take it in' }).click();
  await until(codes, (c) => c.includes('CHANGED') && !c.includes(code), 'the code is changed');
  assert.ok((await formers()).some((/** @type {any} */ f) => f.code === code && f.variety === 'CHANGED'));
  // Another file asks anew.
  await page.locator('.drop input').setInputFiles({
    name: 'varieties.csv',
    mimeType: 'text/csv',
    buffer: Buffer.from(`code,name\nAGAIN,${first.name}\n`),
  });
  await page.getByText('AGAIN has the same name as CHANGED').first().waitFor();
  await page.getByRole('button', { name: 'New varieties with the same name' }).click();
  await page.getByRole('button', { name: 'Take it in' }).click();
  await until(codes, (c) => c.includes('AGAIN') && c.includes('CHANGED'), 'a second variety');
  assert.deepEqual(errors, []);
  await close();
  run(['check', nursery.db]);
});

test('a sheet of another make asks the same, and is taken by either answer', async () => {
  const { page, errors, close } = await openPage(browser, {});
  const known = async () =>
    (await fetchJson(nursery.url, '/api/varieties')).map((/** @type {any} */ v) => [v.code, v.name]);
  const rows = await known();
  const [code, name] = rows.find(
    ([, /** @type {string} */ n]) => rows.filter((/** @type {any} */ r) => r[1] === n).length === 1,
  );
  await page.goto(`${nursery.url}/#/orders/load`);
  const sheet = async (/** @type {string} */ to) => {
    await page.locator('.drop input').setInputFiles({
      name: 'sorten.csv',
      mimeType: 'text/csv',
      buffer: Buffer.from(`Code;Sorte;Preis\n${to};${name};9,50\n`),
    });
    await page.getByText(`${to} has the same name as`).first().waitFor();
  };
  await sheet('SHEET1');
  assert.deepEqual(await axe(page), []);
  assert.equal(await page.getByRole('button', { name: 'Take it in' }).isDisabled(), true);
  await page.getByRole('button', { name: 'New codes of the varieties on record' }).click();
  await page.getByText('This would change').waitFor();
  await page.getByRole('button', { name: 'Take it in' }).click();
  await page.getByText('This was taken in').waitFor();
  assert.ok((await formers()).some((/** @type {any} */ f) => f.code === code && f.variety === 'SHEET1'));
  await page.getByRole('button', { name: 'Done' }).click();
  // Another sheet asks anew.
  await sheet('SHEET2');
  await page.getByRole('button', { name: 'New varieties with the same name' }).click();
  await page.getByText('This would change').waitFor();
  await page.getByRole('button', { name: 'Take it in' }).click();
  await page.getByText('This was taken in').waitFor();
  const now = await codes();
  assert.ok(now.includes('SHEET1') && now.includes('SHEET2'));
  assert.deepEqual(errors, []);
  await close();
  run(['check', nursery.db]);
});
