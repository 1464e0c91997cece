// SPDX-License-Identifier: MIT
// Every spreadsheet of tests/sheets, the whole way and by keyboard alone: chosen, looked at, its questions answered, taken, on record.

import assert from 'node:assert/strict';
import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { after, test } from 'node:test';
import { begin, browser, nursery } from './begin.mjs';
import { axe, openPage, tabTo } from './support.mjs';

const sheets = join(dirname(fileURLToPath(import.meta.url)), '..', 'sheets');

/** The file; the table and what must stand there; what is asked, by what the answer's choice says, or what is typed. */
const FILES = /** @type {const} */ ([
  ['sorten.csv', 'varieties', /BERNS,Bernsteinlaterne,Ball,,orange,90,9\.95/],
  ['winterlager.txt', 'lots', /NACHT-2,NACHT,2031-10-26,8,,0,K2/],
  ['shop-export.csv', 'orders', /#1001,2032-01-20T20:30:00Z,2,CIN,1,8\.50/],
  ['commandes.csv', 'orders', /2002,2032-01-22T18:00:00Z,1,BRI,1,8\.00/],
  ['bestellingen.tsv', 'orders', /B-2,2032-01-21T12:00:00Z,1,DOV,4,6\.00/, { choice: /Dove Grey/ }],
  ['klima.csv', 'air', /north,2032-01-30T18:00:00Z,5\.25,86\.50/, { typed: 'north' }],
  ['stocktake.csv', 'counts', /L2,2032-01-05,clump,28/, { choice: /month/ }],
  ['verkoop.csv', 'past_sales', /2030,DOV,310,2031-02-12/],
  ['racks.csv', 'places', /S-01,South cellar/],
  ['wiegen.csv', 'weighings', /L1,L1,2032-01-20,1\.2105/],
  ['pays.csv', 'destinations', /CH,,block,pas de passeport/],
  ['wishes.txt', 'orders', /S23F39945F7,2032-02-01T12:00:00Z,3,DOV,3,6\.50/],
  ['order-form.csv', 'orders', /M-2,2032-01-21T12:00:00Z,2,DOV,4,7\.00/, { choice: /Dove Grey/ }],
  ['ventes-par-variete.csv', 'past_sales', /2029,PETPH,1040/, { choice: /yes, a column each/ }],
  ['zonen.csv', 'zones', /Küste,2032-W15/],
  ['rodung-zwei-koepfe.csv', 'lots', /R-12,BRI,2031-10-12,25,,0,A2/],
  ['preorders.csv', 'orders', /P-1,2032-01-15T12:00:00Z,2,CIN,1,7\.25/, { choice: /received_at/ }],
  ['controles.csv', 'checks', /L2,2032-01-26,clump,15,0/, { typed: 'clump' }],
  ['telling.csv', 'counts', /L1,2031-12-22,clump,38/],
]);

const ON_ITS_SIDE = 'kaarten.csv';

const season = mkdtempSync(join(tmpdir(), 'clumpwise-messy-'));

for (const [name, text] of [
  [
    'varieties.csv',
    'code,name,colour,price\nAMB,Amber Lantern,orange,6.50\nBRI,Briar Song,pink,8\nCIN,Cinder,red,7.25\nDOV,Dove Grey,white,6\n',
  ],
  ['places.csv', 'place,room,walk_order\nA1,north,10\nA2,north,20\n'],
  ['lots.csv', 'lot,variety,dug_on,clumps,place\nL1,AMB,2031-10-20,40,A1\nL2,BRI,2031-10-21,30,A2\n'],
])
  writeFileSync(join(season, name ?? ''), text ?? '');

begin({ season, timezone: 'UTC', currency: 'EUR' });
after(() => {
  rmSync(season, { recursive: true });
});

/**
 * Answers the first question with what has the focus in it, as the keys do it.
 * @param {import('playwright-core').Page} page
 * @param {{choice?: RegExp, typed?: string}} answer
 */
async function answerIt(page, { choice, typed }) {
  const inQuestion = (/** @type {string} */ tag) =>
    page.evaluate((t) => {
      const e = document.activeElement;
      return e?.tagName === t && Boolean(e.closest('.fit-doubts'));
    }, tag);
  const tabInto = async (/** @type {string} */ tag) => {
    for (let i = 0; i < 120 && !(await inQuestion(tag)); i++) await page.keyboard.press('Tab');
    assert.ok(await inQuestion(tag), `a ${tag} of the question has the focus`);
  };
  await tabInto(choice ? 'SELECT' : 'INPUT');
  if (typed) await page.keyboard.type(typed);
  if (choice) {
    const options = await page.evaluate(() =>
      [.../** @type {HTMLSelectElement} */ (document.activeElement).options].map((o) => o.text),
    );
    const at = options.findIndex((o, i) => i > 0 && choice.test(o));
    assert.ok(at > 0, options.join(' | '));
    for (let i = 0; i < at; i++) await page.keyboard.press('ArrowDown');
  }
  await tabInto('BUTTON');
  await page.keyboard.press('Enter');
}

test('each sheet of the tests is tried', () => {
  const there = readdirSync(sheets).filter((f) => f !== 'README.md');
  assert.deepEqual([...FILES.map(([name]) => name), ON_ITS_SIDE].sort(), there.sort());
});

for (const [name, table, row, answer] of FILES)
  test(`${name}: chosen, looked at, fitted and taken by keyboard alone`, async () => {
    const { page, errors, close } = await openPage(browser);
    const asked = page.waitForEvent('filechooser'); // listened for before the page is there: the key must not come first
    await page.goto(`${nursery.url}/#/orders/load`);
    await page.getByText('Drop files here').waitFor();
    await tabTo(page, /^input: Drop files here/);
    await page.keyboard.press('Space');
    await (await asked).setFiles(join(sheets, name));
    await page.locator('.fit h2', { hasText: name }).waitFor();
    if (answer) {
      await page.locator('.fit-doubts').waitFor();
      assert.deepEqual(await axe(page), []);
      await answerIt(page, answer);
    }
    await page.getByText('This would change').waitFor();
    assert.equal(await page.locator('.fit-doubts').count(), 0);
    await tabTo(page, /button: Take it in/);
    await page.keyboard.press('Enter');
    await page.getByText('This was taken in').waitFor();
    const text = await (await fetch(`${nursery.url}/api/export/${table}.csv`)).text();
    assert.match(text, row);
    assert.deepEqual(errors, []);
    await close();
  });

test('a sheet that lies on its side is told what to do, and nothing of it is taken', async () => {
  const { page, errors, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/load`);
  await page.locator('input[type=file]').setInputFiles(join(sheets, ON_ITS_SIDE));
  await page.getByText('turn rows and columns round').waitFor();
  assert.equal(await page.getByRole('button', { name: 'Take it in' }).isEnabled(), false);
  assert.deepEqual(errors, []);
  await close();
});
