// SPDX-License-Identifier: MIT
// Signed in, and then: the page begins without a network, or another tab signs in anew. Nothing entered is refused for it.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { PASSWORD, begin, browser, nursery, signIn } from './begin.mjs';
import { TODAY, openPage, run, until } from './support.mjs';

begin({
  prepare: (db) => {
    run(['allocate', db, '--rule', 'first-come', '--supply', 'counted', '--commit', '--today', TODAY]);
    run(['schedule', db, '--commit', '--today', TODAY]);
    run(['pick', db, '--week', '2032-W17', '--commit', '--today', TODAY]);
  },
  people: { Ada: 'owner', Ole: 'office', Pim: 'packer' },
});

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
  await until(
    () => page.evaluate(() => Boolean(navigator.serviceWorker?.controller)),
    Boolean,
    'the page can reload by itself',
  );
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
  await until(
    () => page.locator('.waiting').count(),
    (n) => n === 0,
    'handed over',
  );
  assert.equal(await page.locator('.refusal').count(), 0);
  assert.ok((await left()) < before, `${before} open before`);
  await close();
});

/** Headers of a session of one's own, beside the browser. @param {string} name */
async function beside(name) {
  const answer = await fetch(`${nursery.url}/api/session`, {
    method: 'POST',
    headers: { 'Content-Type': 'application/json', Origin: nursery.url },
    body: JSON.stringify({ name, password: PASSWORD }),
  });
  const { csrf } = await answer.json();
  return {
    'Content-Type': 'application/json',
    Origin: nursery.url,
    Cookie: (answer.headers.get('set-cookie') ?? '').split(';')[0] ?? '',
    'X-CSRF-Token': csrf,
  };
}

test('what a packer entered without a network waits for them, or is handed over by name', async () => {
  const { page, context, shot, errors, close } = await openPage(browser, { size: 'phone' });
  const owner = await beside('Ada');
  const ask = async (/** @type {string} */ path) => (await fetch(nursery.url + path, { headers: owner })).json();
  const answered = async () =>
    (await ask('/api/waves/1')).stops
      .flatMap((/** @type {any} */ s) => s.picks)
      .filter((/** @type {any} */ p) => p.state === 'done');
  const waiting = async () => Number((await page.locator('.waiting').innerText()).match(/\d+/)?.[0]);
  /** Pim answers a step without a network; then the session has ended. Gives how many entries wait. */
  const answerAndEnd = async () => {
    await page.goto(`${nursery.url}/#/cellar/walk/1`);
    await page.getByRole('button', { name: /^Took/ }).waitFor();
    await context.setOffline(true);
    await page.getByRole('button', { name: /^Took/ }).click();
    await page.locator('.waiting').waitFor();
    await page.waitForTimeout(500);
    const n = await waiting();
    await context.clearCookies();
    await context.setOffline(false);
    await page.locator('.whose-wait').waitFor();
    return n;
  };
  await page.goto(nursery.url);
  await signIn(page, 'Pim');
  await page.getByText('Today’s walk').waitFor();
  const before = (await answered()).length;
  const n = await answerAndEnd();
  assert.match(await page.locator('.whose-wait').innerText(), new RegExp(`${n} entr(y|ies) of Pim wait`));
  await shot('whose-wait-phone');

  // Somebody else signs in: nothing of it goes, not by itself and not by a press.
  await signIn(page, 'Ole');
  await page.locator('.whose-wait').waitFor({ state: 'detached' });
  await page.goto(`${nursery.url}/#/cellar/waiting`);
  await page.getByRole('heading', { name: /of Pim wait/ }).waitFor();
  await shot('waiting-of-another-phone');
  await page.waitForTimeout(3000);
  assert.equal((await answered()).length, before);
  assert.equal(await page.getByRole('button', { name: 'Try now' }).count(), 0);
  await page.goto(`${nursery.url}/#/cellar`);
  assert.equal(await page.getByLabel('Who is working here?').inputValue(), 'Ole');

  // Its author signs in: it goes at once, under that name.
  await page.getByRole('button', { name: 'Sign out Ole' }).click();
  await page.locator('.whose-wait').waitFor();
  await signIn(page, 'Pim');
  await until(answered, (all) => all.length === before + n, 'handed over');
  assert.deepEqual([...new Set((await answered()).map((/** @type {any} */ p) => p.answered_by))], ['Pim']);

  // Again; and this time the author's account is disabled: somebody else takes them over, and that is on record.
  const more = await answerAndEnd();
  const off = await fetch(`${nursery.url}/api/people/Pim`, {
    method: 'PATCH',
    headers: owner,
    body: JSON.stringify({ disabled: true, current: PASSWORD }),
  });
  assert.ok(off.ok, await off.text());
  await signIn(page, 'Ole');
  await page.locator('.whose-wait').waitFor({ state: 'detached' });
  await page.goto(`${nursery.url}/#/cellar/waiting`);
  await page.getByRole('button', { name: /^Take (it|them) over/ }).click();
  await shot('take-over-phone');
  await page.getByRole('dialog').getByRole('button', { name: 'Take over as Ole' }).click();
  await until(answered, (all) => all.length === before + n + more, 'taken over');
  await until(
    () => page.locator('.waiting').count(),
    (left) => left === 0,
    'nothing waits',
  );
  const over = (await ask('/api/audit')).filter((/** @type {any} */ a) => a.action === 'take over');
  assert.deepEqual(
    over.map((/** @type {any} */ a) => [a.actor, a.subject]),
    Array(more).fill(['Ole', 'entry of Pim']),
  );
  assert.deepEqual([...new Set((await answered()).map((/** @type {any} */ p) => p.answered_by))], ['Pim']);
  const moved = (await ask('/api/movements?day=2032-02-20')).filter((/** @type {any} */ m) => m.cause === 'pick');
  assert.equal(new Set(moved.map((/** @type {any} */ m) => m.cause_id)).size, moved.length);
  assert.deepEqual(errors, []);
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
    const answer = await fetch(`${nursery.url}/api/session`, {
      method: 'POST',
      headers: { 'Content-Type': 'application/json', Origin: nursery.url },
      body: JSON.stringify({ name, password: PASSWORD }),
    });
    const [cookie, value] = (answer.headers.get('set-cookie') ?? '').split(';')[0]?.split('=') ?? [];
    await context.addCookies([
      { name: cookie ?? '', value: value ?? '', url: nursery.url, httpOnly: true, sameSite: 'Strict' },
    ]);
  };
  await anew('Ole');
  await dialog.getByRole('button', { name: 'Change it' }).click();
  await dialog.waitFor({ state: 'detached' });
  const quantity = () =>
    page.evaluate(async () => (await (await fetch('/api/orders/2031-0001')).json()).lines[0].quantity);
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
