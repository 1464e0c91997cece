// SPDX-License-Identifier: MIT
// The office tells buyers: looks for what is due, settles a notice with evidence, edits a text and reads how it reads.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { begin, browser, nursery } from './begin.mjs';
import { fetchJson, openPage, postJson, until } from './support.mjs';

begin({
  ready: async () => {
    await postJson(nursery.url, '/api/allocation', { rule: 'first-come', supply: 'counted' });
  },
});

test('what is due is found, sent on record, or dropped with a reason', async () => {
  const { page, errors, violations, shot, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/notices`);
  await page.getByText('Nobody on the list needs to be told anything.').waitFor();
  await page.getByRole('button', { name: 'Work out what is due' }).click();
  await page.locator('.notice-row').first().waitFor();
  const due = await fetchJson(nursery.url, '/api/notices');
  assert.ok(due.length > 1);
  assert.equal(await page.locator('.notice-row').count(), due.length);
  await shot('notices');
  assert.deepEqual(await violations(), []);
  await page.locator('.notice-row').first().getByRole('button', { name: 'It was sent' }).click();
  await page.getByLabel('Evidence').fill('by post on Tuesday, receipt 17');
  await page.getByRole('button', { name: 'Put it on record' }).click();
  await until(
    () => page.locator('.notice-row').count(),
    (n) => n === due.length - 1,
    'one is settled',
  );
  await page.locator('.notice-row').first().getByRole('button', { name: 'Need not be sent' }).click();
  await page.getByLabel('Why not').fill('told by telephone');
  await page.getByRole('button', { name: 'Put it on record' }).click();
  await until(
    () => page.locator('.notice-row').count(),
    (n) => n === due.length - 2,
    'another is dropped',
  );
  const all = await fetchJson(nursery.url, '/api/notices?state=all');
  assert.deepEqual(
    all.filter((/** @type {any} */ n) => n.state !== 'due').map((/** @type {any} */ n) => n.evidence),
    ['by post on Tuesday, receipt 17', 'told by telephone'],
  );
  assert.deepEqual(errors, []);
  await close();
});

test('a text is changed, and shown as it will read', async () => {
  const { page, errors, violations, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/notices`);
  await page.getByRole('button', { name: 'Texts' }).click();
  await page.getByLabel('Text for').selectOption('refund');
  await page.getByLabel('Subject').fill('Money for order {order}');
  await page.getByLabel('Text', { exact: false }).last().fill('Hello {customer},\n{amount} {currency} come back.');
  await page.getByText('17.50 USD come back.').waitFor();
  assert.deepEqual(await violations(), []);
  await page.getByRole('button', { name: 'Save' }).click();
  await until(
    () => fetchJson(nursery.url, '/api/templates'),
    (list) =>
      list.find((/** @type {any} */ x) => x.kind === 'refund' && x.language === 'en').subject ===
      'Money for order {order}',
    'kept',
  );
  assert.deepEqual(errors, []);
  await close();
});

test('two thousand notices: a tick is taken at once', async () => {
  const { page, errors, close } = await openPage(browser);
  const list = Array.from({ length: 2000 }, (_, i) => ({
    notice: i + 1,
    order: `N-${i + 1}`,
    line: 1,
    kind: i % 3 === 0 ? 'refund' : 'delay',
    due_on: `2032-04-${String(1 + (i % 20)).padStart(2, '0')}`,
    overdue: false,
    state: 'due',
    customer: `Buyer ${i}`,
    email: `b${i}@example.org`,
    amount: i % 3 === 0 ? '8.00' : '0.00',
    sentence: 'Eight of this variety come a week later than was said.',
  }));
  await page.route(/\/api\/notices(\?.*)?$/, (route) => route.fulfill({ json: list }));
  await page.goto(`${nursery.url}/#/orders/notices`);
  await page.locator('.notice-row').first().waitFor();
  assert.equal(await page.locator('.notice-row').count(), 2000);
  const rows = await page.evaluate(async () => {
    let written = 0;
    const watch = new MutationObserver((all) => (written += all.length));
    const box = /** @type {HTMLInputElement} */ (document.querySelector('.notice-row input'));
    const list = /** @type {HTMLElement} */ (box.closest('main'));
    watch.observe(list, { subtree: true, childList: true, attributes: true, characterData: true });
    const began = performance.now();
    box.click();
    await new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
    return { written, ms: performance.now() - began };
  });
  console.log('one tick of 2,000:', rows);
  await page.getByRole('button', { name: '1 notice was sent' }).waitFor();
  // One of two thousand costs what one costs: under three frames' time even on a slow machine; the page took seconds before.
  assert.ok(rows.ms < 1000, `${rows.ms} ms`);
  const began = Date.now();
  await page.getByLabel('tick all 2,000 shown').click();
  await page.getByRole('button', { name: '2,000 notices were sent' }).waitFor();
  assert.ok(Date.now() - began < 20_000, 'all are ticked at once');
  assert.deepEqual(errors, []);
  await close();
});
