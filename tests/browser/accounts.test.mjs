// SPDX-License-Identifier: MIT
// With accounts: sign in, only one's own desk's work is offered, sign out; and notices told with evidence.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { PASSWORD, begin, browser, nursery, signIn } from './begin.mjs';
import { axe, openPage, until } from './support.mjs';

begin({ people: { Ada: 'owner', Ole: 'office', Pim: 'packer' } });

test('a wrong password is refused in a sentence, what was typed stays', async () => {
  const { page, errors, violations, shot, close } = await openPage(browser);
  await page.goto(nursery.url);
  await page.getByRole('button', { name: 'Sign in' }).waitFor();
  assert.deepEqual(await axe(page), []);
  await signIn(page, 'Ada', 'not the phrase at all');
  await page.locator('.wrong').waitFor();
  await shot('signin');
  assert.equal(await page.getByLabel('Name').inputValue(), 'Ada');
  await signIn(page, 'Ada', PASSWORD);
  await page.locator('.grid tbody .code').first().waitFor();
  await page.getByRole('button', { name: 'Release these' }).waitFor();
  await page.getByRole('button', { name: 'Sign out Ada' }).click();
  await page.getByRole('button', { name: 'Sign in' }).waitFor();
  assert.deepEqual(errors, []);
  assert.deepEqual(await violations(), []);
  await close();
});

test('what is typed as a password can be shown before it is sent', async () => {
  const { page, close } = await openPage(browser);
  await page.goto(nursery.url);
  const typed = page.getByLabel('Password', { exact: true });
  await typed.fill('is this the phrase');
  assert.equal(await typed.getAttribute('type'), 'password');
  await page.getByLabel('Show what I type').check();
  assert.equal(await typed.getAttribute('type'), 'text');
  assert.equal(await typed.inputValue(), 'is this the phrase');
  await close();
});

test('a page that breaks the content policy is told when it is closed', async () => {
  const { page, violations, close } = await openPage(browser);
  await page.goto(nursery.url);
  await page.getByRole('button', { name: 'Sign in' }).waitFor();
  assert.deepEqual(await violations(), []);
  await page.evaluate(() => void (new Image().src = 'https://elsewhere.example/dot.png'));
  await until(violations, (v) => v.some((words) => words.startsWith('img-src')), 'it is told');
  await assert.rejects(close(), /content policy was broken/);
});

test('the sign-in page waits quietly', async () => {
  const { page, close } = await openPage(browser);
  let asked = 0;
  page.on('request', (r) => {
    if (r.url().includes('/api/')) asked++;
  });
  await page.goto(nursery.url);
  await page.getByRole('button', { name: 'Sign in' }).waitFor();
  await page.waitForTimeout(1500);
  assert.ok(asked <= 3, `${asked} requests`);
  await close();
});

test('from the foot of every page, before signing in too, one gets to the licences of what is in it', async () => {
  const { page, close } = await openPage(browser);
  await page.goto(nursery.url);
  for (const name of ['', 'Ole']) {
    if (name) await signIn(page, name, PASSWORD);
    if (name) await page.locator('.found a').first().waitFor();
    await page.getByRole('link', { name: 'Licences' }).click();
    await page.waitForURL('**/licences.txt');
    const text = await page.locator('body').innerText();
    for (const holder of ['the Clumpwise authors', 'Jason Miller'])
      assert.match(text, new RegExp(`Copyright \\(c\\) .*${holder}`));
    await page.goBack();
  }
  await close();
});

test('the office shares, tells buyers and has no release', async () => {
  const { page, errors, close } = await openPage(browser);
  await page.goto(nursery.url);
  await signIn(page, 'Ole', PASSWORD);
  await page.locator('.found a').first().waitFor();
  await page.getByRole('link', { name: 'Winter desk' }).click();
  await page.locator('.grid tbody .code').first().waitFor();
  assert.equal(await page.getByRole('button', { name: 'Release these' }).count(), 0);
  assert.equal(await page.getByRole('link', { name: 'Settings' }).count(), 0);

  await page.goto(`${nursery.url}/#/orders/order/2031-0003`);
  await page.getByRole('button', { name: 'Cancel the order' }).click();
  await page.getByRole('dialog').getByLabel('Why').fill('The buyer rang');
  await page.getByRole('dialog').getByRole('button', { name: 'Cancel it' }).click();
  await page.getByRole('dialog').waitFor({ state: 'detached' });
  await page.goto(`${nursery.url}/#/orders/notices`);
  await page.getByRole('button', { name: 'Work out what is due' }).click();
  const notice = page.locator('.notice-row').filter({ hasText: '2031-0003' }).filter({ hasText: 'Refund' });
  await notice.waitFor();
  await notice.getByRole('button', { name: 'It was sent' }).click();
  await page.getByLabel('Evidence').fill('Paid back by card, receipt 17');
  await page.getByRole('button', { name: 'Put it on record' }).click();
  await until(
    () => notice.getByRole('button').count(),
    (n) => n === 0,
    'it is told',
  );
  assert.deepEqual(errors, []);
  await close();
});

test('a packer starts in the cellar', async () => {
  const { page, errors, close } = await openPage(browser, { size: 'phone' });
  await page.goto(nursery.url);
  await signIn(page, 'Pim', PASSWORD);
  await page.getByRole('link', { name: /walk/ }).waitFor();
  assert.equal(await page.getByLabel('Who is working here?').inputValue(), 'Pim');
  await page.getByRole('link', { name: /walk/ }).click();
  await page.locator('.large-note', { hasText: 'No open walk' }).waitFor();
  assert.deepEqual(errors, []);
  await close();
});

test('the own account: a verdict while typing, other sessions ended, a new password', async () => {
  const here = await openPage(browser);
  const there = await openPage(browser);
  for (const { page } of [here, there]) {
    await page.goto(nursery.url);
    await signIn(page, 'Pim', PASSWORD);
    await page.getByRole('link', { name: 'Your account' }).waitFor();
  }
  const { page, errors, violations, shot } = here;
  await page.getByRole('link', { name: 'Your account' }).click();
  const sessions = page.locator('section', { has: page.getByRole('heading', { name: 'Where you are signed in' }) });
  await until(
    () => sessions.locator('li').count(),
    (n) => n === 3,
    'these two and the one of the test before are listed',
  );
  assert.equal(await sessions.locator('li', { hasText: 'this one' }).count(), 1);
  const own = sessions.getByLabel('Your own password');
  await own.fill('not the phrase at all');
  assert.equal(await own.getAttribute('type'), 'password');
  await sessions.getByLabel('Show my own password').check();
  assert.equal(await own.getAttribute('type'), 'text');
  assert.equal(await own.inputValue(), 'not the phrase at all');
  await sessions.getByLabel('Show my own password').uncheck();
  await sessions.getByRole('button', { name: 'End', exact: true }).click();
  await sessions.locator('.wrong').waitFor();
  await sessions.getByLabel('Your own password').fill(PASSWORD);
  await sessions.getByRole('button', { name: 'End', exact: true }).click();
  await until(
    () => sessions.locator('li').count(),
    (n) => n === 1,
    'only this one is left',
  );
  await there.page.reload();
  await there.page.getByRole('button', { name: 'Sign in' }).waitFor();

  const change = page.locator('section', { has: page.getByRole('heading', { name: 'Password' }) });
  await change.getByLabel('New password').fill('password2032!');
  await change.getByText('is guessed within', { exact: false }).waitFor();
  await shot('account');
  assert.deepEqual(await axe(page), []);
  await change.getByLabel('New password').fill('seven green tubers in May');
  await change.getByLabel('Show what I type').check();
  assert.equal(await change.getByLabel('New password').getAttribute('type'), 'text');
  await change.getByText('is good', { exact: false }).waitFor();
  await change.getByLabel('Your own password').fill(PASSWORD);
  await change.getByRole('button', { name: 'Set the password' }).click();
  await page.getByRole('button', { name: 'Sign in' }).waitFor();
  await signIn(page, 'Pim', 'seven green tubers in May');
  await page.getByRole('link', { name: 'Your account' }).waitFor();
  assert.deepEqual(errors, []);
  assert.deepEqual(await violations(), []);
  await here.close();
  await there.close();
});

test('the owner takes a person out: looks first, says the password, and the order stays', async () => {
  const { page, errors, violations, shot, close } = await openPage(browser);
  await page.goto(nursery.url);
  await signIn(page, 'Ada', PASSWORD);
  await page.getByRole('button', { name: 'Release these' }).waitFor();
  await page.goto(`${nursery.url}/#/orders/order/2031-0003`); // cancelled by the office above
  const sheet = page.locator('main');
  await sheet.getByText('2031-0003').first().waitFor();
  await page.goto(`${nursery.url}/#/orders/forget`);
  await page.getByLabel('Whom').fill('2031-0003');
  await page.getByRole('button', { name: 'Show what would go' }).click();
  await page.locator('.rows li', { hasText: '2031-0003' }).waitFor();
  await shot('forget');
  assert.deepEqual(await axe(page), []);
  await page.getByLabel('Your own password').fill(PASSWORD);
  await page.getByRole('button', { name: 'Remove this buyer’s data', exact: true }).click();
  await page.getByText('Removed from 1 order.').waitFor();
  await page.getByLabel('Whom').fill('nobody of this name');
  await page.getByRole('button', { name: 'Show what would go' }).click();
  await page.locator('.wrong').waitFor();
  await page.getByLabel('Or all whose last order is before').fill('2031-05-01'); // the demo season's orders are later
  await page.getByRole('button', { name: 'Show what would go' }).click();
  await page.getByRole('heading', { name: '0 orders' }).waitFor();
  assert.deepEqual(errors, []);
  assert.deepEqual(await violations(), []);
  await close();
});

test('the owner sets a person to another desk, shuts them out, lets them in; keys are made and revoked', async () => {
  const { page, errors, violations, shot, close } = await openPage(browser);
  await page.goto(nursery.url);
  await signIn(page, 'Ada', PASSWORD);
  await page.locator('.grid tbody .code').first().waitFor();
  await page.goto(`${nursery.url}/#/winter/settings`);
  const dialog = page.getByRole('dialog');
  /** @param {string} act @param {string} save */
  const change = async (act, save) => {
    await page.getByRole('button', { name: act, exact: true }).click();
    if (act.startsWith('Change')) await dialog.getByLabel('Desk').selectOption('cellar');
    await dialog.getByLabel('Your own password').fill(PASSWORD);
    await shot(`people-${save.toLowerCase().replaceAll(' ', '-')}`);
    await dialog.getByRole('button', { name: save, exact: true }).click();
    await dialog.waitFor({ state: 'detached' });
  };
  const row = page.locator('.person').filter({ hasText: 'Pim' });
  await change('Change desk of Pim', 'Save');
  await until(
    () => row.innerText(),
    (s) => s.includes('cellar'),
    'another desk',
  );
  await change('Shut out Pim', 'Shut out');
  await until(
    () => row.innerText(),
    (s) => s.includes('shut out'),
    'shut out',
  );
  assert.deepEqual(await axe(page), []);
  await change('Allow to sign in: Pim', 'Allow to sign in');
  // The last owner cannot be shut out: said in a sentence, the dialog stays.
  await page.getByRole('button', { name: 'Shut out Ada' }).click();
  await dialog.getByLabel('Your own password').fill(PASSWORD);
  await dialog.getByRole('button', { name: 'Shut out', exact: true }).click();
  await dialog.locator('.wrong', { hasText: 'last owner' }).waitFor();
  await page.keyboard.press('Escape');
  await page.keyboard.press('Escape'); // something was typed
  await dialog.waitFor({ state: 'detached' });

  const keys = page.locator('section.sheet').filter({ has: page.getByRole('heading', { name: 'Keys for programs' }) });
  await keys.getByLabel('What is the key for?').fill('Till');
  await keys.getByLabel('Last good day').fill('2032-06-30');
  await keys.getByLabel('Your own password').fill(PASSWORD);
  await keys.getByRole('button', { name: 'Make a key' }).click();
  await keys.locator('code').waitFor();
  await keys.getByRole('button', { name: 'Revoke the key Till' }).click();
  await until(
    () => keys.locator('.person').innerText(),
    (s) => s.includes('revoked') && s.includes('2032'),
    'revoked',
  );
  await shot('people');
  assert.deepEqual(errors, []);
  assert.deepEqual(await violations(), []);
  await close();
});

test('a sign-out, a session that ends elsewhere, and one that nobody uses clear the screen and what was kept', async () => {
  const { page, violations, close } = await openPage(browser);
  await page.goto(nursery.url);
  await signIn(page, 'Ole', PASSWORD);
  await page.locator('.found a').first().waitFor();
  await page.goto(`${nursery.url}/#/cellar/parcels`);
  const kept = () =>
    page.evaluate(
      () =>
        new Promise((resolve, reject) => {
          const open = indexedDB.open('clumpwise');
          open.onerror = () => reject(open.error);
          open.onsuccess = () => {
            const of = open.result.transaction(['kept', 'outbox']);
            const copies = of.objectStore('kept').getAllKeys();
            const waiting = of.objectStore('outbox').getAllKeys();
            of.oncomplete = () => {
              open.result.close();
              resolve({ copies: copies.result, waiting: waiting.result });
            };
          };
        }),
    );
  /** @param {{copies: string[]}} k */
  const waves = (k) => k.copies.some((c) => c.startsWith('/api/waves'));
  await until(kept, waves, 'a copy is kept');
  await page.getByRole('button', { name: 'Sign out Ole' }).click();
  await page.getByRole('button', { name: 'Sign in' }).waitFor();
  await until(
    kept,
    (k) => k.copies.every((/** @type {string} */ c) => !c.startsWith('/')),
    'copies go with the session',
  );
  await signIn(page, 'Ole', PASSWORD);
  await until(kept, waves, 'a copy is kept again');
  // What waits to be sent, and what was answered on a walk, outlive the session.
  await page.evaluate(
    () =>
      new Promise((resolve, reject) => {
        const open = indexedDB.open('clumpwise');
        open.onsuccess = () => {
          const put = open.result.transaction(['kept', 'outbox'], 'readwrite');
          put.objectStore('kept').put({ 7: 'taken' }, 'answers.1');
          put.objectStore('outbox').put({
            key: 'a-pick-that-waits',
            order: 1,
            path: '/api/picks',
            body: {},
            label: 'a pick',
            at: '2032-02-20T10:00:00Z',
            state: 'refused',
            detail: 'for this test',
          });
          put.oncomplete = () => (open.result.close(), resolve(null));
          put.onerror = () => reject(put.error);
        };
      }),
  );
  await page.context().clearCookies();
  await page.getByRole('button', { name: 'Sign in' }).waitFor();
  assert.equal(await page.locator('.frame, .sheet .rows').count(), 0);
  const left = await until(
    kept,
    (k) => k.copies.every((/** @type {string} */ c) => !c.startsWith('/')),
    'copies are gone',
  );
  assert.deepEqual(left, { copies: ['answers.1'], waiting: ['a-pick-that-waits'] });
  assert.equal(await page.evaluate(() => localStorage.getItem('clumpwise.session')?.includes('"Ole"') ?? false), false);

  // Nobody touches it: the page polls on, and ends the session all the same after the setting's time (here 36 s).
  await page.goto(`${nursery.url}/#/orders`);
  await signIn(page, 'Ada', PASSWORD);
  await page.locator('.found a').first().waitFor();
  const set = await page.evaluate(async () => {
    const me = await (await fetch('/api/session')).json();
    return (
      await fetch('/api/settings', {
        method: 'PATCH',
        headers: { 'Content-Type': 'application/json', 'X-CSRF-Token': me.csrf },
        body: '{"session_hours":"0.01"}',
      })
    ).status;
  });
  assert.equal(set, 200);
  await page.reload();
  await page.locator('.found a').first().waitFor();
  await page.getByRole('button', { name: 'Sign in' }).waitFor();
  assert.equal(await page.locator('.found a').count(), 0);
  assert.deepEqual(await violations(), []);
  await close();
});
