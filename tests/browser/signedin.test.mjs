// SPDX-License-Identifier: MIT
// Signed in, and then: the page begins without a network, or another tab signs in anew. Nothing entered is refused for it.

import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { TODAY, openPage, root, run, startBrowser, startNursery, until } from './support.mjs';

const program = process.env.CLUMPWISE ?? join(root, 'build', 'clumpwise');
const PASSWORD = 'a long enough phrase for a test';

/** @type {Awaited<ReturnType<typeof startNursery>>} */
let nursery;
/** @type {import('playwright-core').Browser} */
let browser;

before(async () => {
  nursery = await startNursery({
    prepare: (db) => {
      run(['allocate', db, '--rule', 'first-come', '--supply', 'counted', '--commit', '--today', TODAY]);
      run(['schedule', db, '--commit', '--today', TODAY]);
      run(['pick', db, '--week', '2032-W17', '--commit', '--today', TODAY]);
      for (const [name, role] of [['Ada', 'owner'], ['Ole', 'office'], ['Pim', 'packer']]) execFileSync(program, ['user', db, 'add', name ?? '', '--role', role ?? ''], { input: `${PASSWORD}\n`, stdio: ['pipe', 'pipe', 'pipe'] });
    },
  });
  browser = await startBrowser();
});
after(async () => {
  await browser?.close();
  await nursery?.stop();
});

/** @param {import('playwright-core').Page} page @param {string} name */
async function signIn(page, name) {
  await page.getByLabel('Name').fill(name);
  await page.getByLabel('Password').fill(PASSWORD);
  await page.getByRole('button', { name: 'Sign in' }).click();
}

test('a packer who reloads without a network hands over when it is back, and the keys stay where they are', async () => {
  const { page, context, shot, close } = await openPage(browser, { size: 'phone' });
  await page.goto(nursery.url);
  await signIn(page, 'Pim');
  await page.getByText('Today’s walk').waitFor();
  // Only the desk whose work this person may do.
  assert.deepEqual(await page.locator('.twine a').allInnerTexts(), ['Cellar']);
  await page.goto(`${nursery.url}/#/cellar/walk/1`);
  const took = page.getByRole('button', { name: /^Took/ });
  await took.waitFor();
  await until(() => page.evaluate(() => Boolean(navigator.serviceWorker?.controller)), Boolean, 'the page can reload by itself');
  const left = () => page.evaluate(async () => (await (await fetch('/api/waves')).json())[0].open);
  const before = await left();
  const place = (await took.boundingBox())?.y;
  await context.setOffline(true);
  await page.locator('.offline').waitFor();
  assert.equal((await took.boundingBox())?.y, place);
  await page.reload();
  await took.waitFor();
  await took.click();
  await page.locator('.waiting').waitFor();
  await shot('signed-in-offline-phone');
  await context.setOffline(false);
  await until(() => page.locator('.waiting').count(), (n) => n === 0, 'handed over');
  assert.equal(await page.locator('.refusal').count(), 0);
  assert.ok((await left()) < before, `${before} open before`);
  await close();
});

test('signed in anew in another tab, a form in this one is still taken; not under another name', async () => {
  const { page, context, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/order/2031-0001`);
  await signIn(page, 'Ole');
  await page.getByRole('button', { name: 'Change quantity' }).first().click();
  const dialog = page.getByRole('dialog');
  await dialog.getByLabel('Divisions').fill('3');
  await dialog.getByLabel('Why').fill('The buyer rang');
  // As another tab does it: this page is not told.
  const anew = async (/** @type {string} */ name) => {
    const answer = await fetch(`${nursery.url}/api/session`, { method: 'POST', headers: { 'Content-Type': 'application/json', Origin: nursery.url }, body: JSON.stringify({ name, password: PASSWORD }) });
    const [cookie, value] = (answer.headers.get('set-cookie') ?? '').split(';')[0]?.split('=') ?? [];
    await context.addCookies([{ name: cookie ?? '', value: value ?? '', url: nursery.url, httpOnly: true, sameSite: 'Strict' }]);
  };
  await anew('Ole');
  await dialog.getByRole('button', { name: 'Change it' }).click();
  await dialog.waitFor({ state: 'detached' });
  const quantity = () => page.evaluate(async () => (await (await fetch('/api/orders/2031-0001')).json()).lines[0].quantity);
  assert.equal(await quantity(), 3);

  await page.getByRole('button', { name: 'Change quantity' }).first().click();
  await dialog.getByLabel('Divisions').fill('4');
  await dialog.getByLabel('Why').fill('The buyer rang again');
  await anew('Ada');
  await dialog.getByRole('button', { name: 'Change it' }).click();
  await page.getByRole('button', { name: 'Sign out Ada' }).waitFor();
  assert.equal(await quantity(), 3);
  await context.clearCookies();
  await close();
});
