// SPDX-License-Identifier: MIT
// The first hour: an empty file leads, and everything can be typed with the keyboard alone; what is wrong is told at its cell; each desk
// opens on what wants doing.

import assert from 'node:assert/strict';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, test } from 'node:test';
import { begin, browser, nursery } from './begin.mjs';
import { axe, fetchJson, openPage, postJson, startNursery, tabTo, until } from './support.mjs';

/** @type {Awaited<ReturnType<typeof startNursery>>} */
let empty;
const nothing = mkdtempSync(join(tmpdir(), 'clumpwise-nothing-'));

begin({
  ready: async () => {
    empty = await startNursery({ season: nothing });
  },
});
after(async () => {
  await empty?.stop();
  rmSync(nothing, { recursive: true });
});

/** Types cells, a Tab between them. @param {import('playwright-core').Page} page @param {string[]} cells */
async function typeCells(page, cells) {
  for (const [i, text] of cells.entries()) {
    if (i > 0) await page.keyboard.press('Tab');
    await page.keyboard.type(text);
  }
}

test('an empty file leads from varieties to the first figures, by keyboard alone', async () => {
  const { page, errors, close } = await openPage(browser);
  await page.goto(`${empty.url}/#/winter`);
  await page.getByRole('heading', { name: 'How to begin' }).waitFor();
  assert.equal(await page.locator('[aria-current=step] h2').innerText(), '○ Varieties next');
  assert.deepEqual(await axe(page), []);

  await tabTo(page, /: Type it in/);
  await page.keyboard.press('Enter');
  await page.getByRole('heading', { name: 'lists' }).waitFor();
  await tabTo(page, /: Add a row/);
  await page.keyboard.press('Enter');
  await typeCells(page, ['EMBER', 'Early Ember', 'ball', 'small', 'orange', 'tall']);
  await page.keyboard.press('Enter'); // another row below, in its first cell
  await typeCells(page, ['MILKY', 'Milky Lane']);
  await tabTo(page, /: Save 2 changes/);
  await page.keyboard.press('Enter');

  // What is wrong stands at its cell, and the cursor, too; nothing was taken.
  const wrong = page.locator('[aria-invalid=true]');
  await wrong.waitFor();
  assert.equal(await wrong.inputValue(), 'tall');
  assert.match(await page.locator('.records-wrong').innerText(), /whole number.*tall/);
  assert.equal(await page.evaluate(() => document.activeElement?.getAttribute('aria-label')), 'Height (cm), EMBER');
  assert.deepEqual(await axe(page), []);
  assert.equal((await fetchJson(empty.url, '/api/varieties')).length, 0);
  await page.keyboard.press('Control+A');
  await page.keyboard.type('110');
  await tabTo(page, /: Save 2 changes/);
  await page.keyboard.press('Enter');
  await page.getByText('2 changes are saved.').waitFor();

  await page.goto(`${empty.url}/#/winter/records/places`);
  await page.getByPlaceholder('S01-1…S01-12').focus();
  await page.keyboard.type('A-1…A-3');
  await page.keyboard.press('Tab');
  await page.keyboard.type('cellar');
  await page.keyboard.press('Enter');
  await tabTo(page, /: A-3, turn 3/);
  await page.keyboard.press('ArrowUp');
  assert.match(String(await page.evaluate(() => document.activeElement?.getAttribute('aria-label'))), /^A-3, turn 2/);
  await tabTo(page, /: Save 3 changes/);
  await page.keyboard.press('Enter');
  await page.getByText('3 changes are saved.').waitFor();
  assert.deepEqual(
    (await fetchJson(empty.url, '/api/places')).map((/** @type {any} */ p) => p.place),
    ['A-1', 'A-3', 'A-2'],
  );

  await page.goto(`${empty.url}/#/winter/records/lots`);
  await page.getByRole('button', { name: 'Add a row' }).focus();
  await page.keyboard.press('Enter');
  await typeCells(page, ['L1', 'EMBER', '10202031']); // a date field takes month, day, year
  await tabTo(page, /: Clumps, L1/);
  await page.keyboard.type('40');
  await tabTo(page, /: Save 1 change/);
  await page.keyboard.press('Enter');
  await page.getByText('1 change is saved.').waitFor();

  // As soon as there is something to project there are figures, and what has been done is ticked.
  await page.goto(`${empty.url}/#/winter`);
  await page.locator('.plan-table').waitFor();
  await page.goto(`${empty.url}/#/winter/start`);
  await page.getByText('1 variety has stock').waitFor();
  const done = (await page.locator('.start-done h2').allInnerTexts()).map((s) => s.replace(/\s+/g, ' '));
  assert.deepEqual(done, [
    '✓ Done: Varieties 2 on record',
    '✓ Done: Places 3 on record',
    '✓ Done: Lots dug 1 on record',
  ]);
  assert.deepEqual(errors.filter((e) => !/422/.test(e)), []); // prettier-ignore
  await close();
});

test('cells are pasted, a place is renamed, a row goes', async () => {
  const { page, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/winter/records/zones`);
  await page.getByRole('button', { name: 'Add a row' }).click();
  const paste = (/** @type {string} */ text) =>
    page.evaluate((t) => {
      const data = new DataTransfer();
      data.setData('text/plain', t);
      document.activeElement?.dispatchEvent(
        new ClipboardEvent('paste', { clipboardData: data, bubbles: true, cancelable: true }),
      );
    }, text);
  await paste('y1\t2032-W17\ny2\t2032-W18\n');
  await page.getByLabel('Delete z9').click();
  await page.getByRole('button', { name: 'Save 3 changes' }).click();
  await page.getByText('3 changes are saved.').waitFor();
  const zones = await page.request.get(`${nursery.url}/api/export/zones.csv`);
  assert.equal(
    (await zones.text()).replaceAll('\r', ''),
    'zone,first_week\ny1,2032-W17\ny2,2032-W18\nz3,2032-W21\nz4,2032-W20\n' +
      'z5,2032-W19\nz6,2032-W18\nz7,2032-W16\nz8,2032-W15\n',
  );

  await page.goto(`${nursery.url}/#/winter/records/places`);
  const first = page.getByLabel('Place, N01-1', { exact: true });
  await first.fill('N99-1');
  await page.getByRole('button', { name: 'Save 1 change' }).click();
  await page.getByRole('button', { name: 'Save 1 change' }).waitFor({ state: 'detached' });
  const places = await fetchJson(nursery.url, '/api/places');
  assert.equal(places[0].place, 'N99-1');

  // What goes and what comes stand or fall together.
  await page.goto(`${nursery.url}/#/winter/records/zones`);
  await page.getByLabel('Delete z3').click();
  await page.getByRole('button', { name: 'Add a row' }).click();
  await typeCells(page, ['z0', 'soon']);
  await page.getByRole('button', { name: 'Save 2 changes' }).click();
  assert.match(await page.locator('td .records-wrong').innerText(), /soon/);
  assert.match(await (await page.request.get(`${nursery.url}/api/export/zones.csv`)).text(), /z3,2032-W21/);
  await page.getByLabel('First week, z0').fill('2032-W20');
  // Somebody else changed a row meanwhile: it is not written over.
  await page.getByLabel('First week, z4').fill('2032-W23');
  await postJson(nursery.url, '/api/records/zones', {
    rows: [{ was: { zone: 'z4', first_week: '2032-W20' }, now: { zone: 'z4', first_week: '2032-W22' } }],
  });
  await page.getByRole('button', { name: 'Save 3 changes' }).click();
  await page.locator('td .records-wrong', { hasText: 'changed meanwhile' }).waitFor();
  assert.equal(
    await page.evaluate(() => document.activeElement?.getAttribute('aria-label')),
    'First week, z4',
    'the cursor stands in the cell that clashes',
  );
  assert.match(await (await page.request.get(`${nursery.url}/api/export/zones.csv`)).text(), /z4,2032-W22/);
  await page.getByRole('button', { name: 'Drop the changes' }).click();

  // A lot that was typed wrong is put right while nothing has been done with it.
  await page.goto(`${nursery.url}/#/winter/records/lots`);
  await page.getByRole('button', { name: 'Add a row' }).click();
  await typeCells(page, ['L9999', 'BRUCA', '10202031']);
  await page.getByLabel('Clumps, L9999').fill('40');
  await page.getByRole('button', { name: 'Save 1 change' }).click();
  await page.getByRole('button', { name: 'Save 1 change' }).waitFor({ state: 'detached' });
  await page.getByPlaceholder('Find in this list').fill('L9999');
  await page.getByLabel('Clumps, L9999').fill('44');
  await page.getByRole('button', { name: 'Save 1 change' }).click();
  await until(
    () => fetchJson(nursery.url, '/api/lots'),
    (lots) => lots.some((/** @type {any} */ l) => l.lot === 'L9999' && l.clumps === 44),
    'the lot has 44 clumps',
  );
  assert.equal(await page.getByLabel('Delete L9999').count(), 0);

  // Stock has lain there: it is told, and stays.
  await page.goto(`${nursery.url}/#/winter/records/places`);
  await page.getByLabel('Delete N99-1').click();
  await page.getByRole('button', { name: 'Save 1 change' }).click();
  await page.locator('.wrong').getByText('rename it instead').waitFor();
  await close();
});

test('today is told worst first, leads on, and follows what others do without taking the focus', async () => {
  const { page, errors, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/winter`);
  const today = page.getByRole('region', { name: 'Today' });
  await today.waitFor();
  const { totals } = await fetchJson(nursery.url, '/api/plan');
  await today.getByText(`${totals.too_far} varieties are sold beyond what is sure`).waitFor();
  await today.getByRole('link', { name: /sold beyond/ }).press('Enter');
  await page.getByText(`${totals.too_far} varieties`, { exact: true }).waitFor();

  await page.goto(`${nursery.url}/#/orders`);
  const line = page.getByRole('link', { name: /open orders have no ship week/ });
  await line.focus();
  assert.match(await line.innerText(), /^894 /);
  await postJson(nursery.url, '/api/oversell', { variety: 'BRUCA', quantity: 9, why: 'late lots' });
  await postJson(nursery.url, '/api/orders', {
    order: 'T-9',
    lines: [{ variety: 'BRUCA', quantity: 1, unit_price: '8.75' }],
  });
  await page.getByText('895 open orders have no ship week').waitFor();
  assert.match(await page.evaluate(() => document.activeElement?.textContent ?? ''), /^895 /);
  await page.keyboard.press('Enter');
  await page.waitForURL(/#\/orders\/weeks/);
  assert.deepEqual(errors, []);
  await close();
});

test('the phone order takes an address, and the table of postcodes tells the zone', async () => {
  const { page, close } = await openPage(browser, { size: 'phone' });
  await page.goto(`${nursery.url}/#/orders/new`);
  const typed = {
    Buyer: 'Ada Fern',
    'Company, or second line': 'Fern Shed',
    'Street and number': '1 Mill Lane',
    Postcode: '45001',
    Town: 'Oddham',
    'Country, by name or code': 'US',
    'Code or name': 'BRUCA',
  };
  for (const [label, text] of Object.entries(typed)) await page.getByLabel(label, { exact: true }).fill(text);
  await page.getByRole('button', { name: 'Take the order' }).click();
  await page.getByText('z4, by postcode').waitFor();
  const who = await page.locator('.order-who').innerText();
  for (const part of ['Ada Fern', 'Fern Shed', '1 Mill Lane', '45001 Oddham US']) assert.ok(who.includes(part), who);
  assert.deepEqual(await axe(page), []);
  await close();
});

test('? opens the help of the screen, back returns; it is searched, and leads everywhere', async () => {
  const { page, errors, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/weeks`);
  await page.getByRole('heading', { level: 1 }).first().waitFor();
  await page.keyboard.press('?');
  await page.getByRole('heading', { name: 'Ship weeks', level: 1 }).waitFor();
  assert.equal(await page.evaluate(() => document.activeElement?.textContent), 'Ship weeks');
  assert.deepEqual(await axe(page), []);
  await page.getByPlaceholder('Find in the help').fill('knife line');
  await page.getByText(/^2 of|^3 of/).waitFor();
  await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await page.getByText('The lying silhouette is the signature picture').waitFor();
  await page.goBack();
  await page.goBack();
  await page.waitForURL(/#\/orders\/weeks/);

  // The help of one thing leads back to that thing; chosen from the list of pages, it leads to the list of things.
  await page.goto(`${nursery.url}/#/winter/variety/BRUCA`);
  await page.locator('.variety').waitFor();
  await page.keyboard.press('?');
  await page.getByRole('link', { name: 'Back to One variety' }).click();
  await page.waitForURL(/#\/winter\/variety\/BRUCA$/);
  await page.locator('.variety').waitFor();
  await page.goto(`${nursery.url}/#/help/winter/variety`);
  await page.getByRole('link', { name: 'Back to Varieties' }).click();
  await page.getByRole('grid', { name: 'Varieties' }).waitFor();

  // Who types a question mark asks for nothing.
  await page.goto(`${nursery.url}/#/orders`);
  await page.getByPlaceholder('Number, name, e-mail, postcode').pressSequentially('what?');
  assert.match(page.url(), /#\/orders$/);
  assert.deepEqual(errors, []);
  await close();
});

test('back finds the search, the rows and the focus as they were; a new visit begins anew', async () => {
  const { page, errors, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/winter`);
  const find = page.getByPlaceholder('Find by code, name, form, colour');
  await find.fill('a');
  const grid = page.getByRole('grid', { name: 'Varieties' });
  await grid.getByRole('row').nth(1).waitFor();
  const frame = page.locator('.grid-frame');
  await frame.evaluate((e) => (e.scrollTop = 900));
  await page.waitForTimeout(400);
  const cell = grid.locator('td[data-at]').filter({ hasText: /./ }).nth(60);
  await cell.focus();
  const at = await cell.getAttribute('data-at');
  const top = await frame.evaluate((e) => e.scrollTop);
  await page.waitForTimeout(400);
  await page.keyboard.press('Home');
  const first = await page.evaluate(() => document.activeElement?.getAttribute('data-at'));
  await page.keyboard.press('Enter');
  await page.waitForURL(/#\/winter\/variety\//);
  await page.getByRole('heading', { level: 1 }).waitFor();
  await page.goBack();
  await grid.getByRole('row').nth(1).waitFor();
  assert.equal(await find.inputValue(), 'a');
  await page.waitForFunction((want) => document.activeElement?.getAttribute('data-at') === want, first);
  assert.ok(Math.abs((await frame.evaluate((e) => e.scrollTop)) - top) < 60, `${at}`);

  await page.getByRole('link', { name: 'What changed' }).click();
  await page.getByRole('heading', { name: 'What moved, and why' }).waitFor();
  await page.getByRole('navigation', { name: 'Pages' }).getByRole('link', { name: 'Varieties' }).click();
  await find.waitFor();
  assert.equal(await find.inputValue(), '');
  assert.deepEqual(errors, []);
  await close();
});

test('what changed begins with the largest, since a day that is chosen; noise is folded', async () => {
  const { page, close } = await openPage(browser);
  const list = await fetchJson(nursery.url, '/api/changes?since=2032-01-23');
  const news = list.filter((/** @type {any} */ c) => !c.noise);
  assert.ok(news.length > 0 && news.length < list.length, `${news.length} of ${list.length}`);
  // The page comes before the season is known: yesterday is counted from the nursery's day all the same.
  await page.route('**/api/nursery', async (asked) => {
    await new Promise((resolve) => setTimeout(resolve, 700));
    await asked.continue().catch(() => {}); // the page may be closed by then
  });
  await page.goto(`${nursery.url}/#/winter/changes`);
  assert.equal(await page.getByLabel('Since').inputValue(), '2032-02-19');
  await page.getByRole('button', { name: '28 days' }).press('Enter');
  await page.getByText(new RegExp(`^${list.length - news.length} more ha(s|ve) hardly moved`)).waitFor();
  const slips = page.locator('main > .slips .slip');
  assert.equal(await slips.count(), news.length);
  assert.ok((await slips.first().innerText()).includes(news[0].variety));
  assert.deepEqual(await axe(page), []);
  await close();
});
