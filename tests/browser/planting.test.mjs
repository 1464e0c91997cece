// SPDX-License-Identifier: MIT
// How many to keep for planting: by keyboard alone, on a phone, and put on record and taken back; the picture and the fan of the years
// follow the line; on paper and as a file.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';
import { begin, browser, nursery } from './begin.mjs';
import { axe, fetchJson, openPage, tabTo, until } from './support.mjs';

begin();

const plan = () => fetchJson(nursery.url, '/api/keep');
const rowOf = async (/** @type {string} */ code) =>
  (await plan()).varieties.find((/** @type {any} */ v) => v.variety === code);

test('planting, by keyboard: to a variety, the earth line, its price, on record', async () => {
  const { page, errors, shot, close } = await openPage(browser, { size: 'desktop' });
  await page.goto(`${nursery.url}/#/winter/planting`);
  await page.locator('.grid tbody .code').first().waitFor();
  await shot('planting-desktop');
  assert.deepEqual(await axe(page), []);
  const first = (await plan()).varieties[0];
  assert.ok(first.keep > 0);

  // A row opens on Enter; the line is a slider.
  await page.locator('.find input').focus();
  await tabTo(page, /^(gridcell|td|columnheader|th)/);
  await page.keyboard.press('ArrowDown');
  await page.keyboard.press('Enter');
  const line = page.getByRole('slider');
  await line.waitFor();
  const code = (await page.evaluate(() => location.hash)).split('/').at(-1) ?? '';
  const row = await rowOf(code);
  assert.equal(Number(await line.getAttribute('aria-valuenow')), row.keep);
  await line.focus();
  for (let i = 0; i < 6; i++) await page.keyboard.press('ArrowLeft');
  assert.equal(Number(await line.getAttribute('aria-valuenow')), Math.max(0, row.keep - 6));
  await shot('earth-desktop');
  assert.deepEqual(await axe(page), []);
  // The years follow the line: fewer kept, fewer next spring.
  const best = await fetchJson(nursery.url, `/api/keep/${code}`);
  const less = await fetchJson(nursery.url, `/api/keep/${code}?keep=${Math.max(0, row.keep - 6)}`);
  assert.ok(less.years[1].mean < best.years[1].mean);
  await tabTo(page, new RegExp(`Hold ${Math.max(0, row.keep - 6)} back`));
  await page.keyboard.press('Enter');
  await until(
    async () => (await rowOf(code)).hold_back,
    (n) => n === Math.max(0, row.keep - 6),
    'the hold-back on record',
  );
  assert.deepEqual(errors, []);
  await close();
});

test('planting: Back from a variety finds what was searched for', async () => {
  const { page, errors, close } = await openPage(browser, { size: 'desktop' });
  const { variety, name } = (await plan()).varieties[0];
  await page.goto(`${nursery.url}/#/winter/planting`);
  await page.locator('.grid tbody .code').first().waitFor();
  await page.locator('.find input').fill(name);
  await page.locator('.tools [role=status]', { hasText: /^1\D/ }).waitFor();
  await page.locator('.grid tbody .code', { hasText: variety }).click();
  await page.getByRole('slider').waitFor();
  await page.goBack();
  await page.locator('.grid tbody .code', { hasText: variety }).waitFor();
  assert.equal(await page.locator('.find input').inputValue(), name);
  assert.deepEqual(errors, []);
  await close();
});

test('planting: only what is ticked is written, and all of it is taken back', async () => {
  const { page, errors, close } = await openPage(browser, { size: 'desktop' });
  await page.goto(`${nursery.url}/#/winter/planting`);
  await page.locator('.grid tbody .code').first().waitFor();
  const { varieties } = await plan();
  const row = varieties.find((/** @type {any} */ v) => v.keep !== null && v.keep !== v.hold_back);
  await page.locator('.find input').fill(row.variety);
  await page.getByRole('checkbox', { name: `Tick ${row.variety}` }).check();
  await page.getByRole('button', { name: 'Write as hold-back' }).click();
  await page.getByRole('button', { name: 'Write 1 hold-back' }).click();
  await until(
    async () => (await rowOf(row.variety)).hold_back,
    (n) => n === row.keep,
    'written',
  );
  const others = (await plan()).varieties.filter((/** @type {any} */ v) => v.variety !== row.variety);
  for (const v of others)
    assert.equal(v.hold_back, varieties.find((/** @type {any} */ o) => o.variety === v.variety).hold_back);
  await page.locator('.message').getByRole('button', { name: 'Undo' }).click();
  await until(
    async () => (await rowOf(row.variety)).hold_back,
    (n) => n === row.hold_back,
    'taken back',
  );
  assert.deepEqual(errors, []);
  await close();
});

test('planting, phone: beds that do not suffice have a price; a variety without a past asks for one', async () => {
  const { page, errors, shot, close } = await openPage(browser, { size: 'phone' });
  await page.goto(`${nursery.url}/#/winter/planting`);
  await page.locator('.grid tbody .code').first().waitFor();
  const { beds, varieties } = await plan();
  const places = Math.round(beds.planted * 0.6);
  await page.getByLabel('Places in the beds').fill(String(places));
  await page.keyboard.press('Enter');
  await until(
    async () => Number((await plan()).beds.price),
    (p) => p > 0,
    'a price of a place',
  );
  assert.ok((await plan()).beds.planted <= places);
  await page.getByText('One place more would earn').waitFor();
  await shot('planting-phone');
  assert.deepEqual(await axe(page), []);

  const wanting = varieties.find((/** @type {any} */ v) => v.needs === 'demand');
  await page.goto(`${nursery.url}/#/winter/planting/${wanting.variety}`);
  await page.getByText('nobody knows how many are asked for').first().waitFor();
  const field = page.getByLabel('Asked for in a season');
  await field.fill('90..40');
  await page.keyboard.press('Enter');
  await page.getByRole('alert').getByText('90..40').waitFor();
  await field.fill('40–90');
  await page.keyboard.press('Enter');
  await page.getByRole('slider').waitFor();
  await shot('earth-phone');
  assert.deepEqual(await axe(page), []);
  assert.ok((await rowOf(wanting.variety)).keep >= 0);
  assert.deepEqual(errors, []);
  await close();
});

test('what a plant costs to grow is the owner’s own figure for one variety, until the field is emptied', async () => {
  const { page, errors, close } = await openPage(browser, { size: 'desktop' });
  const before = (await plan()).varieties[0];
  const sheet = () => fetchJson(nursery.url, `/api/keep/${before.variety}`);
  const was = await sheet();
  assert.equal(was.cost_said, false);
  await page.goto(`${nursery.url}/#/winter/planting/${before.variety}`);
  const field = page.getByLabel('Growing one plant costs');
  await field.fill('6.5');
  await field.press('Tab');
  const said = await until(sheet, (v) => v.cost_said, 'the figure on record');
  assert.equal(Number(said.cost), 6.5);
  assert.ok(said.keep <= was.keep, 'dearer plants are kept no more of');
  await field.fill('');
  await field.press('Tab');
  await until(sheet, (v) => !v.cost_said && v.cost === was.cost, 'the setting again');
  assert.deepEqual(errors, []);
  await close();
});

test('an own figure that is emptied before the page hears that it is on record stays empty', async () => {
  const { page, errors, close } = await openPage(browser, { size: 'desktop' });
  const { variety } = (await plan()).varieties[0];
  const path = `/api/keep/${variety}`;
  const sheet = () => fetchJson(nursery.url, path);
  await page.goto(`${nursery.url}/#/winter/planting/${variety}`);
  const field = page.getByLabel('Growing one plant costs');
  await field.waitFor();
  // What is asked after the writing waits; what the page reads by itself, because something changed, does not.
  /** @type {() => void} */
  let free = () => {};
  const held = new Promise((go) => (free = () => go(undefined)));
  await page.route(`**${path}`, async (route) => {
    if (route.request().method() !== 'PATCH') return route.continue();
    const answer = await route.fetch();
    await held;
    await route.fulfill({ response: answer });
  });
  await field.fill('6.5');
  await field.press('Tab');
  await until(sheet, (v) => v.cost_said, 'the figure on record');
  await field.fill('');
  const somebodySays = (/** @type {string} */ growth) =>
    fetch(nursery.url + path, {
      method: 'PATCH',
      headers: { 'Content-Type': 'application/json' },
      body: JSON.stringify({ growth }),
    });
  const heard = page.waitForResponse((r) => r.url().endsWith(path) && r.request().method() === 'GET');
  await somebodySays('3');
  await heard;
  await page.waitForTimeout(300);
  assert.equal(await field.inputValue(), '');
  free();
  await field.press('Tab');
  await until(sheet, (v) => !v.cost_said, 'the setting again');
  assert.equal(await field.inputValue(), '');
  await somebodySays('');
  assert.deepEqual(errors, []);
  await close();
});

/** Numbers of a path's points. @param {string | null} d */
const pointsOf = (d) => (d ?? '').match(/-?[\d.]+ -?[\d.]+/g) ?? [];

test('planting: the earth line is dragged; next spring’s tuber, the fan of the years and its table go with it', async () => {
  const { page, errors, close } = await openPage(browser, { size: 'desktop' });
  const row = (await plan()).varieties.find((/** @type {any} */ v) => v.keep > 20);
  await page.goto(`${nursery.url}/#/winter/planting/${row.variety}`);
  const line = page.getByRole('slider');
  await line.waitFor();
  await page.getByText('As a table').click();
  const cells = page.locator('.chart details.figures tbody tr');
  /** The table beside the fan says what the program says of a figure kept. @param {number} keep */
  const says = async (keep) => {
    const { years } = await fetchJson(nursery.url, `/api/keep/${row.variety}?keep=${keep}`);
    const want = years.map((/** @type {any} */ y) =>
      [String(y.season), String(y.p50), `${y.p10} – ${y.p90}`].join('|'),
    );
    await until(
      () =>
        cells.evaluateAll((rows) =>
          rows.map((r) =>
            [...r.children]
              .slice(0, 3)
              .map((c) => c.textContent)
              .join('|'),
          ),
        ),
      (got) => got.join('\n').replaceAll(',', '') === want.join('\n'),
      `the years of ${keep} kept`,
    );
    return years;
  };
  const years = await says(row.keep);
  const wide = page.locator('.chart path.fan-wide');
  const narrow = page.locator('.chart path.fan-narrow');
  const before = {
    fan: await wide.getAttribute('d'),
    next: await page.locator('.earth path.tuber-next').getAttribute('d'),
  };
  for (const band of [wide, narrow]) assert.equal(pointsOf(await band.getAttribute('d')).length, 2 * years.length);
  /** From the top of a band down to its foot, in the last year. @param {import('playwright-core').Locator} band */
  const height = async (band) => {
    const ys = pointsOf(await band.getAttribute('d')).map((p) => Number(p.split(' ')[1]));
    return (ys[years.length] ?? 0) - (ys[years.length - 1] ?? 0);
  };
  assert.ok(
    (await height(wide)) > (await height(narrow)) && (await height(narrow)) > 0,
    'the fan is wider than its middle',
  );

  await line.scrollIntoViewIfNeeded();
  const box = await line.boundingBox();
  assert.ok(box);
  await page.mouse.move(box.x + 40, box.y + 80);
  await page.mouse.down();
  await page.mouse.move(box.x - 12, box.y + 80, { steps: 4 });
  await page.mouse.up();
  await until(
    () => line.getAttribute('aria-valuenow'),
    (n) => n === '0',
    'the line where it was dragged to',
  );
  await page.getByText('keep 0', { exact: true }).waitFor();
  await says(0);
  assert.notEqual(await page.locator('.earth path.tuber-next').getAttribute('d'), before.next);
  assert.notEqual(await wide.getAttribute('d'), before.fan);
  assert.deepEqual(errors, []);
  await close();
});

test('planting: the table as a file, with the figures of the plan', async () => {
  const { page, errors, close } = await openPage(browser, { size: 'desktop' });
  await page.goto(`${nursery.url}/#/winter/planting`);
  await page.locator('.grid tbody .code').first().waitFor();
  const coming = page.waitForEvent('download');
  await page.getByRole('link', { name: 'As CSV' }).click();
  const file = await coming;
  assert.equal(file.suggestedFilename(), 'planting.csv');
  const [head, ...rows] = readFileSync(await file.path(), 'utf8')
    .replace(/^\uFEFF/, '')
    .trimEnd()
    .split(/\r?\n/);
  const names = (head ?? '').split(',');
  const { varieties } = await plan();
  assert.equal(rows.length, varieties.length);
  for (const [i, v] of varieties.entries()) {
    const cells = Object.fromEntries((rows[i] ?? '').split(',').map((cell, c) => [names[c], cell]));
    for (const name of ['variety', 'keep', 'low', 'high', 'hold_back', 'growth', 'demand', 'needs']) {
      const says = `${name} of ${v.variety}: ${cells[name]}, ${v[name]}`;
      if (typeof v[name] !== 'number') assert.equal(cells[name], v[name] ?? '', says);
      else assert.ok(cells[name] !== '' && Math.abs(Number(cells[name]) - v[name]) < 0.051, says); // in the file rounded
    }
  }
  assert.deepEqual(errors, []);
  await close();
});

test('planting: the list on paper goes by the rows that it was dug from, with codes and counts', async () => {
  const { page, context, errors, close } = await openPage(browser, { size: 'desktop' });
  await page.goto(`${nursery.url}/#/winter/planting`);
  await page.locator('.grid tbody .code').first().waitFor();
  const opening = context.waitForEvent('page');
  await page.getByRole('link', { name: 'Planting list' }).click();
  const paper = await opening;
  await paper.getByRole('heading', { name: 'Planting list' }).waitFor();
  const rows = await paper
    .locator('table tbody tr')
    .evaluateAll((list) => list.map((r) => [...r.children].map((c) => c.textContent ?? '')));
  const { varieties } = await plan();
  const kept = varieties.filter((/** @type {any} */ v) => v.hold_back > v.planted);
  assert.ok(kept.length > 20);
  assert.deepEqual(rows.map((r) => r[1]).sort(), kept.map((/** @type {any} */ v) => v.variety).sort());
  let at = 1;
  for (const [, code, name, plants, places] of rows) {
    const v = kept.find((/** @type {any} */ k) => k.variety === code);
    assert.equal(name, v.name);
    assert.equal(Number(plants), v.hold_back - v.planted, `plants of ${code}`);
    assert.equal(places, `${at} to ${at + Number(plants) - 1}`);
    at += Number(plants);
  }
  const named = rows.map((r) => r[0]).filter((row) => row !== '');
  assert.ok(named.length > 20);
  assert.deepEqual(
    named,
    [...named].sort(new Intl.Collator('en', { numeric: true }).compare),
    'in the order of the rows',
  );
  assert.ok(
    rows.slice(named.length).every((r) => r[0] === ''),
    'those without a row last',
  );
  assert.match(
    await paper.locator('body').innerText(),
    new RegExp(`Plants: ${at - 1}\\. Varieties: ${rows.length}\\.`),
  );
  assert.deepEqual(errors, []);
  await close();
});
