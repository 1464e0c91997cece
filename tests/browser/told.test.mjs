// SPDX-License-Identifier: MIT
// A shop is told from the page: the address, the secret that is shown once, the test, what it took and refused. The shop is
// scripts/shop-example (tests/http/shop.py).

import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { after, test } from 'node:test';
import { fileURLToPath } from 'node:url';
import { begin, browser, nursery } from './begin.mjs';
import { axe, fetchJson, openPage, postJson, until } from './support.mjs';

/** @type {import('node:child_process').ChildProcess} */
let shop;
let port = '';
const folder = mkdtempSync(join(tmpdir(), 'clumpwise-told-'));
const here = dirname(fileURLToPath(import.meta.url));
const told = () => {
  try {
    return readFileSync(join(folder, 'told'), 'utf8');
  } catch {
    return '';
  }
};

/** Of the demo season's 900 orders; they go in several messages, each written when the one before has gone. */
const ordersTold = () => new Set([...told().matchAll(/"order": "([^"]+)"/g)].map((found) => found[1])).size;

begin({
  ready: async () => {
    const words = [join(here, '..', 'http', 'shop.py'), join(here, '..', '..', 'scripts', 'shop-example'), folder];
    shop = spawn('/usr/bin/python3', words, { stdio: ['ignore', 'pipe', 'inherit'] });
    port = await new Promise((done) => shop.stdout?.once('data', (bytes) => done(String(bytes).trim())));
  },
});
after(() => {
  shop?.kill('SIGKILL');
  rmSync(folder, { recursive: true, force: true });
});

test('the owner keeps the address, enters the secret in the shop, and a test comes first', async () => {
  const { page, errors, close, shot } = await openPage(browser);
  await page.goto(`${nursery.url}/#/winter/settings`);
  const address = page.getByLabel('The shop’s address');
  await address.fill('http://shop.example.org/told');
  await page.getByRole('button', { name: 'Keep the address' }).click();
  await page.getByText('must be https://HOST/PATH').first().waitFor();
  await address.fill(`http://127.0.0.1:${port}/told`);
  await page.getByRole('button', { name: 'Keep the address' }).click();
  const secret = await page.getByText(/^whsec_/).textContent();
  writeFileSync(join(folder, 'secret'), String(secret));
  await shot('shop-told');
  assert.deepEqual(await axe(page), []);
  await page.getByRole('button', { name: 'Send the shop a test' }).click();
  await page.getByText('The shop is told what changes.').waitFor();
  await page.reload();
  await page.getByText('The shop is told what changes.').waitFor();
  assert.equal(await page.getByText(/^whsec_/).count(), 0);
  assert.deepEqual(
    errors.filter((e) => !/422/.test(e)),
    [],
  );
  await close();
});

test('the office sees what the shop took and what it refused, in its words, and stops it', async () => {
  const { page, errors, close, shot } = await openPage(browser);
  await until(
    () => fetchJson(nursery.url, '/api/hook'),
    (hook) => hook.waits === 0 && ordersTold() === 900,
    'the shop was told all',
  );
  await page.goto(`${nursery.url}/#/orders/notices`);
  await page.getByRole('heading', { name: 'A shop is told' }).waitFor();
  writeFileSync(join(folder, 'does'), '400');
  const orders = [
    'order,received_at,line,variety,quantity,unit_price,customer',
    'T1,2032-01-05T10:00:00Z,1,BRUCA,1,6.50,Ada',
  ];
  await postJson(nursery.url, '/api/load', { files: [{ name: 'orders.csv', text: orders.join('\n') }] });
  await page.getByText('400 the shop says 400').waitFor();
  await shot('shop-refused');
  assert.deepEqual(await axe(page), []);
  assert.ok(!told().includes('"T1"'));
  await page.getByRole('button', { name: /^Send again: Varieties/ }).click();
  await page.getByText('400 the shop says 400').waitFor({ state: 'detached' });
  await until(
    () => Promise.resolve(told()),
    (text) => text.includes('"T1"'),
    'the shop was told again',
  );
  await page.getByRole('button', { name: 'Tell the shop nothing' }).click();
  await page.getByText('The shop is told nothing.').waitFor();
  await page.getByRole('button', { name: 'Tell the shop again' }).click();
  await page.getByRole('button', { name: 'Tell the shop nothing' }).waitFor();
  assert.deepEqual(errors, []);
  await close();
});
