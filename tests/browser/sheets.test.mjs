// SPDX-License-Identifier: MIT
// A spreadsheet of another make, by keyboard alone: cells are pasted, questions answered, a wrong cell is found and
// mended, and it is taken. Then a workbook chosen as a file, and a long sheet that is stopped.

import assert from 'node:assert/strict';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { after, test } from 'node:test';
import { begin, browser, nursery } from './begin.mjs';
import { axe, openPage, until } from './support.mjs';

/** @type {string} */
let folder;
const sheets = join(dirname(fileURLToPath(import.meta.url)), '..', 'sheets');

begin({
  ready: async () => {
    folder = mkdtempSync(join(tmpdir(), 'clumpwise-sheets-'));
  },
});
after(() => {
  if (folder) rmSync(folder, { recursive: true });
});

/**
 * Tabs until what has the focus fits.
 * @param {import('playwright-core').Page} page
 * @param {(e: {tag: string, text: string, label: string}) => boolean} fits
 */
async function tabTo(page, fits) {
  for (let i = 0; i < 120; i++) {
    await page.keyboard.press('Tab');
    const here = await page.evaluate(() => {
      const e = /** @type {any} */ (document.activeElement);
      return {
        tag: e?.tagName ?? '',
        text: e?.textContent ?? '',
        label: e?.labels?.[0]?.textContent ?? e?.getAttribute?.('aria-label') ?? '',
      };
    });
    if (fits(here)) return;
  }
  throw new Error(`never focused: ${fits}`);
}

/** Pastes cells and looks at them. @param {import('playwright-core').Page} page @param {string} text */
async function paste(page, text) {
  await page.evaluate(() => /** @type {any} */ (document.activeElement)?.blur());
  if ((await page.locator('.paste[open]').count()) === 0) {
    await tabTo(page, (e) => e.tag === 'SUMMARY' && e.text.includes('Paste cells'));
    await page.keyboard.press('Enter');
  }
  await tabTo(page, (e) => e.tag === 'TEXTAREA');
  await page.keyboard.press('Control+A');
  await page.keyboard.insertText(text);
  await tabTo(page, (e) => e.text === 'Look at it');
  await page.keyboard.press('Enter');
}

const table = async (/** @type {string} */ name) => (await fetch(`${nursery.url}/api/export/${name}.csv`)).text();

test('pasted cells, by keyboard: a question, a wrong cell, taken', async () => {
  const { page, errors, violations, shot, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/load`);
  await page.getByText('Drop files here').waitFor();
  await paste(page, 'Sorte;Farbe;Preis\nNachtfalter Neu;lila;9,50\nMondviole Neu;blau;viel\n');
  await page.locator('.fit .wrong').waitFor();
  assert.match(await page.locator('.fit .wrong').innerText(), /row 3, Preis.*viel.*no number/s);
  assert.deepEqual(await axe(page), []);
  await shot('sheet-wrong');
  assert.equal(await page.getByRole('button', { name: 'Take it in' }).isDisabled(), true);
  // The problem leads to its cell.
  await tabTo(page, (e) => e.tag === 'BUTTON' && e.text === 'row 3, Preis');
  await page.keyboard.press('Enter');
  assert.match(await page.evaluate(() => document.activeElement?.textContent ?? ''), /^viel/);
  assert.ok(!(await table('varieties')).includes('Nachtfalter Neu'));

  await paste(page, 'Sorte;Farbe;Preis\nNachtfalter Neu;lila;9,50\nMondviole Neu;blau;8,75\n');
  await page.getByText('This would change').waitFor();
  await shot('sheet-ready');
  assert.deepEqual(await axe(page), []);
  await tabTo(page, (e) => e.tag === 'BUTTON' && e.text === 'Take it in');
  await page.keyboard.press('Enter');
  await page.getByText('This was taken in').waitFor();
  assert.match(await table('varieties'), /NACNE,Nachtfalter Neu,,,lila,,9\.50/);

  // Dates that nothing decides are asked; the answer is chosen by keyboard.
  const lot = (await table('lots')).split('\n')[1].split(',')[0];
  await tabTo(page, (e) => e.text === 'Done');
  await page.keyboard.press('Enter');
  await paste(page, `Lot;Date;Kg\n${lot};1/5/2032;1,2\n`);
  await page.locator('.fit-doubts').waitFor();
  assert.match(await page.locator('.fit-doubts').innerText(), /which is the day/);
  await tabTo(page, (e) => e.tag === 'SELECT' && e.label.includes('which is the day'));
  await page.keyboard.press('ArrowDown');
  await page.keyboard.press('ArrowDown'); // the month first: the day first would lie after today
  await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await page.getByText('This would change').waitFor();
  await tabTo(page, (e) => e.tag === 'BUTTON' && e.text === 'Take it in');
  await page.keyboard.press('Enter');
  await page.getByText('This was taken in').waitFor();
  assert.match(await table('weighings'), new RegExp(`${lot},${lot},2032-01-05,1\\.2000`));
  assert.deepEqual(errors, []);
  assert.deepEqual(await violations(), []);
  await close();
});

test('files of another make are fitted one after the other; a column is told otherwise; what is kept can be forgotten', async () => {
  const { page, errors, close } = await openPage(browser, { size: 'phone', theme: 'dark' });
  await page.goto(`${nursery.url}/#/orders/load`);
  const picture = join(folder, 'photo.csv');
  writeFileSync(picture, Buffer.from([0x89, 0x50, 0x4e, 0x47, 0, 0, 0, 1, 2, 3]));
  await page.locator('input[type=file]').setInputFiles(picture);
  await page.locator('.wrong', { hasText: 'neither text nor an .xlsx workbook' }).waitFor();
  await page.locator('input[type=file]').setInputFiles([join(sheets, 'racks.csv'), join(sheets, 'zonen.csv')]);
  await page.locator('.fit h2', { hasText: 'racks.csv' }).waitFor();
  await page.getByText('This would change').waitFor();
  assert.deepEqual(await axe(page), []);
  // The cellar is not the room, says the owner: then the room is asked for.
  await page.getByLabel('Column B, Cellar, is').selectOption('');
  await page.locator('.fit-doubts', { hasText: 'room' }).waitFor();
  await page.locator('.fit-doubts input').fill('new house');
  await page.locator('.fit-doubts input').press('Enter');
  await page.getByText('This would change').waitFor();
  await page.getByRole('button', { name: 'Take it in' }).click();
  await page.getByText('This was taken in').waitFor();
  assert.match(await table('places'), /N-02,new house,20/);
  await page.getByRole('button', { name: 'Done' }).click();
  await page.locator('.fit h2', { hasText: 'zonen.csv' }).waitFor();
  await page.getByRole('button', { name: 'Leave it' }).click();
  await page.reload();
  const kept = page.locator('details', { hasText: 'known by' });
  await kept.locator('summary').click();
  const n = await kept.locator('li').count();
  await page.getByRole('button', { name: 'What it says: racks.csv' }).click();
  assert.match(await kept.locator('ol').innerText(), /Place/);
  await page.getByRole('button', { name: 'Rename racks.csv' }).click();
  await page.getByLabel('New name').fill('autumn shelves');
  await page.getByRole('button', { name: 'Rename', exact: true }).click();
  assert.deepEqual(await axe(page), []);
  await page.getByRole('button', { name: 'Forget autumn shelves' }).click();
  await until(
    () => kept.locator('li').count(),
    (c) => c === n - 1,
    'it is forgotten',
  );
  assert.deepEqual(errors, []);
  await close();
});

test('a long sheet shows how far it is, and can be stopped', async () => {
  const { page, errors, close } = await openPage(browser);
  const rows = ['Bestellnummer;Datum;Kunde;Sorte;Anzahl;Preis'];
  for (let i = 0; i < 100_000; i++)
    rows.push(`X${i};25.01.2032 10:00;Jo ${i % 999};Nachtfalter Neu;${1 + (i % 5)};9,50`);
  const long = join(folder, 'long.csv');
  writeFileSync(long, `${rows.join('\n')}\n`);
  await page.goto(`${nursery.url}/#/orders/load`);
  await page.locator('input[type=file]').setInputFiles(long);
  await page.locator('.work progress').waitFor();
  await page.getByRole('button', { name: 'Stop it' }).click();
  await page.locator('.message', { hasText: 'Nothing was changed' }).waitFor();
  assert.ok(!(await table('orders')).includes('X99999'));
  assert.deepEqual(errors, []);
  await close();
});
