// SPDX-License-Identifier: MIT
// The office's main job: find an order, share a short variety out, read the reasons, take files in.

import assert from 'node:assert/strict';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { begin, browser, nursery } from './begin.mjs';
import { axe, fetchJson, openPage, postJson, shown, until } from './support.mjs';

begin();

test('any order in two keystrokes, by keyboard alone', async () => {
  const { page, errors, violations, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders`);
  await page.locator('.found a').first().waitFor();
  const { items } = await fetchJson(nursery.url, '/api/orders?q=2031-0033');
  const wanted = items[0];
  for (const typed of [wanted.order, wanted.email, wanted.postcode, wanted.customer]) {
    await page.evaluate(() => /** @type {HTMLElement} */ (document.activeElement)?.blur());
    await page.keyboard.press('/');
    await page.keyboard.type(typed);
    await until(
      () => page.locator('.found a').allInnerTexts(),
      (all) => all.some((s) => s.includes(wanted.order)) && all.length < 50,
      `found by ${typed}`,
    );
  }
  await page.keyboard.press('/');
  await page.keyboard.press('Control+a');
  await page.keyboard.type(wanted.order);
  await until(
    () => page.locator('.found a').count(),
    (n) => n === 1,
    'only the one',
  );
  await page.keyboard.press('Enter');
  await page.locator('.order h1').waitFor();
  const sheet = await fetchJson(nursery.url, `/api/orders/${wanted.order}`);
  assert.deepEqual(
    await page.locator('.line-fate').allInnerTexts(),
    sheet.lines.map((/** @type {any} */ l) => shown(l.sentence)),
  );
  assert.deepEqual(errors, []);
  assert.deepEqual(await violations(), []);
  await close();
});

test('all orders, page by page', async () => {
  const { page, shot, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders`);
  const numbers = () => page.locator('.found a b').allInnerTexts();
  /** @param {number} n */
  const listed = async (n) =>
    (await fetchJson(nursery.url, `/api/orders?page=${n}`)).items.map((/** @type {any} */ o) => o.order);
  const [first, second] = [await listed(1), await listed(2)];
  assert.ok(second.length > 0, 'there is a second page');
  await until(numbers, (all) => all.join() === first.join(), 'the first page');
  assert.equal(await page.getByRole('button', { name: 'Later orders' }).isDisabled(), true);
  await page.getByRole('button', { name: 'Earlier orders' }).click();
  await until(numbers, (all) => all.join() === second.join(), 'the second page');
  await page.getByRole('button', { name: 'Later orders' }).scrollIntoViewIfNeeded();
  await shot('orders-page-2');
  // Another question begins at its first page.
  await page.getByPlaceholder(/./).first().fill(second[0]);
  await until(numbers, (all) => all.join() === second[0], 'found from the second page');
  await close();
});

test('Escape drops what was typed only when it is pressed again', async () => {
  const { page, shot, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/order/2031-0050`);
  const open = page.getByRole('button', { name: 'Cancel the order' });
  const dialog = page.getByRole('dialog');
  // The next key is for the dialog, however fast it comes; and once it has gone, for what opened it.
  await open.waitFor();
  const focused = await page.evaluate(async () => {
    const button = [...document.querySelectorAll('button')].find((b) => b.textContent === 'Cancel the order');
    button?.focus();
    button?.click();
    await null;
    const inside = document.activeElement?.closest('dialog form') !== null;
    /** @type {HTMLElement | null} */ (document.querySelector('dialog header button'))?.click();
    await null;
    await null;
    return [inside, document.activeElement === button];
  });
  assert.deepEqual(focused, [true, true]);
  await open.click();
  await page.keyboard.press('Escape');
  await dialog.waitFor({ state: 'detached' });
  await open.click();
  await dialog.getByLabel('Why').click();
  await page.keyboard.type('The buyer');
  await page.keyboard.press('Escape');
  await dialog.getByRole('alert').waitFor();
  await shot('dialog-typed');
  assert.deepEqual(await axe(page), []);
  await page.keyboard.type(' rang');
  await dialog.getByRole('alert').waitFor({ state: 'detached' });
  assert.equal(await dialog.getByLabel('Why').inputValue(), 'The buyer rang');
  await page.keyboard.press('Escape');
  await page.keyboard.press('Escape');
  await dialog.waitFor({ state: 'detached' });
  await open.click();
  assert.equal(await dialog.getByLabel('Why').inputValue(), '');
  await close();
});

for (const size of /** @type {const} */ (['desktop', 'phone'])) {
  test(`share a short variety out, ${size}`, async () => {
    const { page, errors, violations, shot, close } = await openPage(browser, { size });
    await page.goto(`${nursery.url}/#/orders/short`);
    await page.locator('.short-table tbody tr').first().waitFor();
    await shot(`short-${size}`);
    const short = await fetchJson(nursery.url, '/api/short?supply=projected&confidence=0.9');
    const variety = short.find((/** @type {any} */ v) => v.supply > 2).variety;
    await page.getByRole('link', { name: `Share out ${variety}` }).click();
    await page.locator('.rules-table tbody tr').first().waitFor();
    const preview = await fetchJson(nursery.url, `/api/allocation?variety=${variety}&supply=projected&confidence=0.9`);
    assert.equal(await page.locator('.rules-table tbody tr').count(), preview.lines.length);

    await page.getByText('Pro rata', { exact: true }).first().click();
    assert.equal(
      await page.locator('.rules-table tbody tr').first().locator('.reason').innerText(),
      preview.lines[0].reason_pro_rata,
    );
    await shot(`rules-${size}`);
    await page.getByRole('button', { name: /Make .Pro rata. firm/ }).click();
    await page.locator('.message', { hasText: 'Firm:' }).waitFor();
    const line = preview.lines.find((/** @type {any} */ l) => l.pro_rata > 0);
    const order = await fetchJson(nursery.url, `/api/orders/${line.order}`);
    assert.equal(order.lines.find((/** @type {any} */ l) => l.line === line.line).firm, line.firm + line.pro_rata);

    // Taken back on record, with a reason.
    await page.goto(`${nursery.url}/#/orders/order/${line.order}`);
    const sheet = page.locator('.line').filter({ hasText: variety });
    await sheet.getByRole('button', { name: 'Take back' }).click();
    const dialog = page.getByRole('dialog');
    await dialog.getByLabel('Why').fill('The buyer rang');
    await dialog.getByRole('button', { name: 'Take back' }).click();
    await dialog.waitFor({ state: 'detached' });
    const later = await fetchJson(nursery.url, `/api/orders/${line.order}`);
    assert.equal(later.lines.find((/** @type {any} */ l) => l.line === line.line).firm, 0);
    assert.deepEqual(errors, []);
    assert.deepEqual(await violations(), []);
    await close();
  });
}

test('all short varieties at once: the rules in sum, then one made firm', async () => {
  const { page, errors, shot, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/short`);
  await page.getByText('Share all of them out at once').click();
  const sums = page.getByRole('region', { name: 'The rules side by side' });
  await sums.locator('tbody tr').first().waitFor();
  const preview = await fetchJson(nursery.url, '/api/allocation?supply=projected&confidence=0.9');
  const told = preview.sums.find((/** @type {any} */ r) => r.rule === 'one-each-first');
  const shown = async (/** @type {number} */ column) =>
    Number((await sums.locator('tbody tr').nth(2).locator('td').nth(column).innerText()).replace(/\D/g, ''));
  assert.deepEqual([await shown(1), await shown(2), await shown(3)], [told.lines, told.placed, told.short]);
  assert.ok(told.placed > 0);
  await sums.getByLabel('One each first').check();
  await shot('all');
  assert.deepEqual(await axe(page), []);
  await page.getByRole('button', { name: /Make .One each first. firm for all/ }).click();
  await page.locator('.message', { hasText: 'Firm:' }).waitFor();
  const [run] = await fetchJson(nursery.url, '/api/runs');
  assert.equal(run.rule, 'one-each-first');
  // What was previewed is what was done, varieties with enough for everyone too.
  assert.deepEqual([run.lines, run.placed], [told.lines, told.placed]);
  const message = await page.locator('.message', { hasText: 'Firm:' }).innerText();
  assert.deepEqual(
    (message.match(/\d[\d,]*/g) ?? []).map((n) => Number(n.replaceAll(',', ''))),
    [told.placed, told.short],
  );

  // One press and a reason: all is as it was before.
  await page.getByRole('button', { name: 'Undo this' }).click();
  const dialog = page.getByRole('dialog');
  await dialog.getByLabel('Why').fill('The wrong rule');
  await shot('all-undo');
  await dialog.getByRole('button', { name: 'Take all of it back' }).click();
  await dialog.waitFor({ state: 'detached' });
  const again = await fetchJson(nursery.url, '/api/allocation?supply=projected&confidence=0.9');
  assert.equal(again.digest, preview.digest);
  assert.deepEqual(again.totals, preview.totals);
  const [undone] = await fetchJson(nursery.url, '/api/runs');
  assert.equal(undone.run, run.run);
  assert.ok(undone.undone_at);
  assert.deepEqual(errors, []);
  await close();
});

test('another desk changes something: the page follows and what is half typed stays', async () => {
  const { page, close } = await openPage(browser);
  const order = '2031-0050';
  await page.goto(`${nursery.url}/#/orders/order/${order}`);
  await page.getByRole('button', { name: 'Cancel the order' }).click();
  const why = page.getByRole('dialog').getByLabel('Why');
  await why.fill('Half typed, still thinking');
  await postJson(nursery.url, `/api/orders/${order}/week`, { week: '2032-W21', why: 'rang' });
  await until(
    () => page.locator('.order-head').innerText(),
    (s) => s.includes('21 ('),
    'the new week is shown',
  );
  assert.equal(await why.inputValue(), 'Half typed, still thinking');
  await close();
});

test('a preview being looked at says what another desk changed in it', async () => {
  const { page, errors, shot, close } = await openPage(browser);
  const short = await fetchJson(nursery.url, '/api/short?supply=projected&confidence=0.9');
  const { variety } = short[0];
  await page.goto(`${nursery.url}/#/orders/short/${variety}`);
  await page.locator('.rules-table tbody tr').first().waitFor();
  const preview = await fetchJson(nursery.url, `/api/allocation?variety=${variety}&supply=projected&confidence=0.9`);
  const gone = preview.lines.find((/** @type {any} */ l) => l.firm + l.first_come > 0);
  await postJson(nursery.url, `/api/orders/${gone.order}/cancel`, { why: 'rang', line: gone.line });
  const since = page.getByRole('region', { name: 'Changed since you looked' });
  await since.waitFor();
  await shot('since');
  assert.ok((await since.locator('li').count()) > 0);
  await since.getByRole('button', { name: 'I have seen it' }).click();
  await since.waitFor({ state: 'detached' });
  assert.deepEqual(errors, []);
  await close();
});

test('a save that fails loses nothing typed, and can be tried again', async () => {
  const { page, context, close } = await openPage(browser);
  const order = '2031-0051';
  await page.goto(`${nursery.url}/#/orders/order/${order}`);
  await page.getByRole('button', { name: 'Cancel the order' }).click();
  const dialog = page.getByRole('dialog');
  await dialog.getByLabel('Why').fill('Moved to an island');
  await context.route('**/cancel', (route) => route.abort());
  await dialog.locator('button[type=submit]').click();
  await dialog.getByRole('alert').waitFor();
  assert.equal(await dialog.getByLabel('Why').inputValue(), 'Moved to an island');
  await context.unroute('**/cancel');
  await dialog.locator('button[type=submit]').click();
  await dialog.waitFor({ state: 'detached' });
  const { events } = await fetchJson(nursery.url, `/api/orders/${order}`);
  assert.ok(JSON.stringify(events).includes('Moved to an island'));
  await close();
});

test('files in: a readable refusal, a preview, then taken', async () => {
  const { page, errors, shot, close } = await openPage(browser);
  const folder = mkdtempSync(join(tmpdir(), 'clumpwise-files-'));
  const file = (/** @type {string} */ text) => {
    const path = join(folder, 'zones.csv');
    writeFileSync(path, text);
    return path;
  };
  await page.goto(`${nursery.url}/#/orders/load`);
  const input = page.locator('input[type=file]');
  await input.setInputFiles(file('zone,first_week\nz3,banana\n'));
  await page.locator('.wrong', { hasText: 'zones.csv' }).waitFor();
  assert.match(await page.locator('.wrong').innerText(), /zones\.csv:2.*first_week.*banana/s);
  assert.equal((await page.locator('.wrong').innerText()).split('banana').length, 2, 'a single fault is said once');
  await shot('load-refused');
  await input.setInputFiles(file('zone,first_week\nz3,banana\nz4,plum\n'));
  await page.locator('.wrong', { hasText: '2 things are wrong; nothing was changed.' }).waitFor();
  assert.deepEqual(
    await page
      .locator('.wrong li')
      .allInnerTexts()
      .then((all) => all.map((text) => text.split(' ')[0])),
    ['zones.csv:2', 'zones.csv:3'],
  );
  await input.setInputFiles(file('PK\u0003\u0004\u0000\u0000'));
  await page.locator('.wrong', { hasText: 'the workbook cannot be opened' }).waitFor();
  await input.setInputFiles(file('zone,first_week\nz3,2032-W23\nz99,2032-W20\n'));
  await page.getByText('This would change').waitFor();
  assert.deepEqual(
    await page
      .locator('.sheet table tbody td')
      .allInnerTexts()
      .then((all) => all.slice(-4)),
    ['2', '1', '1', '0'],
  );
  await shot('load-preview');
  await page.getByRole('button', { name: 'Take it in' }).click();
  await page.getByText('This was taken in').waitFor();
  assert.deepEqual(errors, []);
  rmSync(folder, { recursive: true });
  await close();
});

test('substitutes: each within consent, with its reason', async () => {
  const { page, errors, shot, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/substitutes`);
  await page.locator('.plain tbody tr').first().waitFor();
  await shot('substitutes');
  assert.ok(!(await page.locator('.plain').first().innerText()).includes('no substitute'));
  // One is forbidden, with what it costs in sight; the next plan goes without it; then it is permitted again.
  const all = await fetchJson(nursery.url, '/api/substitution?supply=projected');
  const [one] = all.lines;
  const cost = await fetchJson(
    nursery.url,
    `/api/substitution/forbidden?supply=projected&order=${one.order}&line=${one.line}&substitute=${one.substitute}`,
  );
  await page.getByRole('button', { name: `Forbid ${one.substitute} for ${one.order}, line ${one.line}` }).click();
  await page.getByRole('dialog').getByText(shown(cost.sentence)).waitFor();
  await page.getByRole('dialog').getByLabel('Why').fill('She grew it last year');
  await shot('forbid');
  await page.getByRole('dialog').getByRole('button', { name: 'Forbid' }).click();
  await page.getByRole('dialog').waitFor({ state: 'detached' });
  const without = await fetchJson(nursery.url, '/api/substitution?supply=projected');
  assert.ok(
    !without.lines.some(
      (/** @type {any} */ l) => l.order === one.order && l.line === one.line && l.substitute === one.substitute,
    ),
  );
  assert.equal(without.placed - all.placed, cost.placed);
  await page.getByRole('region', { name: 'Forbidden by the office' }).getByText('She grew it last year').waitFor();
  await page.getByRole('button', { name: `Permit again: ${one.substitute} for ${one.order}` }).click();
  await page.getByRole('dialog').getByLabel('Why').fill('She would like it after all');
  await page.getByRole('dialog').getByRole('button', { name: 'Permit again' }).click();
  await page.getByRole('dialog').waitFor({ state: 'detached' });

  const before = await fetchJson(nursery.url, '/api/substitution?supply=projected');
  assert.equal(before.digest, all.digest);
  await page.getByRole('button', { name: `Forbid ${one.substitute} for ${one.order}, line ${one.line}` }).waitFor();
  await page.getByRole('button', { name: /^Place/ }).click();
  await page.locator('.message', { hasText: `${before.placed} substitutes placed` }).waitFor();
  const first = before.lines[0];
  const order = await fetchJson(nursery.url, `/api/orders/${first.order}`);
  assert.ok(order.lines.find((/** @type {any} */ l) => l.line === first.line).substitutes.length > 0);
  // Undone as a whole, on record: the plan is what it was.
  await page.getByRole('button', { name: 'Undo this' }).click();
  await page.getByRole('dialog').getByLabel('Why').fill('Looked at the wrong week');
  await page.getByRole('dialog').getByRole('button', { name: 'Take all of it back' }).click();
  await page.getByRole('dialog').waitFor({ state: 'detached' });
  assert.equal((await fetchJson(nursery.url, '/api/substitution?supply=projected')).placed, before.placed);
  assert.deepEqual(errors, []);
  await close();
});

test('weeks are set and moved', async () => {
  const { page, errors, shot, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/weeks`);
  await page.getByRole('button', { name: 'Set the weeks' }).click();
  await page.locator('.message', { hasText: 'has its week' }).waitFor();
  await page.locator('.week').first().click();
  await page.locator('h2', { hasText: /^Week/ }).waitFor();
  await shot('weeks');
  assert.deepEqual(errors, []);
  await close();
});

test('two tabs: the older dialog does not overwrite the newer change without a word', async () => {
  const { page, context, errors, shot, close } = await openPage(browser);
  const sheet = () => fetchJson(nursery.url, '/api/orders/2031-0061');
  const line = (await sheet()).lines[0];
  const open = async (/** @type {import('playwright-core').Page} */ tab) => {
    await tab.goto(`${nursery.url}/#/orders/order/2031-0061`);
    await tab.getByRole('button', { name: 'Change quantity' }).first().click();
    await tab.getByRole('dialog').getByLabel('Divisions').waitFor();
  };
  /** @param {import('playwright-core').Page} tab @param {number} n */
  const type = async (tab, n) => {
    await tab.getByRole('dialog').getByLabel('Divisions').fill(String(n));
    await tab.getByRole('dialog').getByLabel('Why').fill('The buyer rang');
    await tab.getByRole('button', { name: 'Change it' }).click();
  };
  const other = await context.newPage();
  await open(page);
  await open(other);
  await type(other, line.quantity + 1);
  await until(sheet, (s) => s.lines[0].quantity === line.quantity + 1, 'the newer change');
  await type(page, line.quantity + 2);
  const asks = page.getByRole('dialog', { name: 'was changed by someone else' });
  await asks.waitFor();
  assert.equal((await sheet()).lines[0].quantity, line.quantity + 1);
  assert.deepEqual(await asks.locator('.conflict-value').allInnerTexts(), [
    String(line.quantity + 1),
    String(line.quantity + 2),
  ]);
  await shot('conflict-order');
  assert.deepEqual(await axe(page), []);
  await asks.getByRole('button', { name: 'Keep theirs' }).click();
  await page.getByText('What somebody else saved was left as it is.').waitFor();
  assert.equal((await sheet()).lines[0].quantity, line.quantity + 1);
  // Typed again, it is asked again, and may stand.
  await page.getByRole('button', { name: 'Change it' }).click();
  await asks.getByRole('button', { name: 'Keep mine' }).click();
  await until(sheet, (s) => s.lines[0].quantity === line.quantity + 2, 'mine stands');
  assert.deepEqual(errors, []);
  await close();
});
