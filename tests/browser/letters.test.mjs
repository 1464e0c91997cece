// SPDX-License-Identifier: MIT
// Letters leave from the page: the account, the test letter, what is ticked, what the server refuses; against a real mail server.

import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { after, test } from 'node:test';
import { fileURLToPath } from 'node:url';
import { begin, browser, nursery } from './begin.mjs';
import { axe, fetchJson, openPage, postJson, until } from './support.mjs';

/** @type {import('node:child_process').ChildProcess} */
let mail;
let port = '';
const folder = mkdtempSync(join(tmpdir(), 'clumpwise-mail-'));

begin({
  ready: async () => {
    const script = join(dirname(fileURLToPath(import.meta.url)), '..', 'http', 'mailserver.py');
    mail = spawn('/usr/bin/python3', [script, folder], { stdio: ['ignore', 'pipe', 'inherit'] });
    port = await new Promise((done) => mail.stdout?.once('data', (bytes) => done(String(bytes).trim())));
    const orders = [
      'order,received_at,line,variety,quantity,unit_price,customer,email',
      'L1,2032-01-05T10:00:00Z,1,BRUCA,1,6.50,Ada,ada@example.org',
      'L2,2032-01-05T10:00:00Z,1,BRUCA,1,6.50,Nobody,nobody@example.org',
    ];
    await postJson(nursery.url, '/api/load', { files: [{ name: 'orders.csv', text: orders.join('\n') }] });
    for (const order of ['L1', 'L2'])
      await postJson(nursery.url, `/api/orders/${order}/cancel`, { why: 'moves house' });
    await postJson(nursery.url, '/api/notices/make', {});
  },
});
after(() => {
  mail?.kill('SIGKILL');
  rmSync(folder, { recursive: true, force: true });
});

test('the owner sets the account, and a test letter comes first', async () => {
  const { page, errors, close, shot } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/notices`);
  await page.locator('.notice-row').first().waitFor();
  assert.equal(await page.getByRole('button', { name: /by e-mail/ }).count(), 0);
  await fetch(`${nursery.url}/api/settings`, {
    method: 'PATCH',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ sender: 'Blue Gate <office@example.org>' }),
  });
  await page.goto(`${nursery.url}/#/winter/settings`);
  await page.getByLabel('Mail server').fill(`smtp://127.0.0.1:${port}`);
  await page.getByLabel('Letters a minute at most').fill('6000');
  await page.getByRole('button', { name: 'Keep the account' }).click();
  await page.getByText('A test letter to office@example.org comes first').waitFor();
  await page.getByRole('button', { name: 'Send a test letter to myself' }).click();
  await page.getByText('Letters may leave by this account.').waitFor();
  await shot('mail-account');
  assert.deepEqual(await axe(page), []);
  assert.deepEqual(errors, []);
  await close();
});

test('what is ticked leaves once; what is refused stands in the server’s words', async () => {
  const { page, errors, close, shot } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/notices`);
  for (const order of ['L1', 'L2']) await page.getByLabel(`Tick the notice for ${order}: Cancelled`).check();
  await page.getByRole('button', { name: 'Send 2 by e-mail' }).click();
  await until(
    () => fetchJson(nursery.url, '/api/post'),
    (p) => p.waits === 0 && p.refused === 1,
    'both have an end',
  );
  await page.getByText('550 5.1.1 <nobody@example.org>: no such mailbox').waitFor();
  await shot('outbox');
  assert.deepEqual(await axe(page), []);
  const sent = await fetchJson(nursery.url, '/api/notices?state=sent');
  assert.deepEqual(
    sent.map((/** @type {any} */ n) => n.order),
    ['L1'],
  );
  await page.getByRole('button', { name: 'Take out: letter for L2' }).click();
  await page.getByText('no such mailbox').waitFor({ state: 'detached' });
  await page.getByRole('button', { name: 'Stop all letters' }).click();
  await page.getByText('All letters are stopped.').waitFor();
  await page.getByRole('button', { name: 'Let letters go on' }).click();
  await page.getByRole('button', { name: 'Stop all letters' }).waitFor();
  assert.deepEqual(errors, []);
  await close();
});
