// SPDX-License-Identifier: MIT
// The cutting room: the board of the next days, a move with its price by keyboard and by hand, frozen lists; the lists on the phone.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { begin, browser, nursery } from './begin.mjs';
import { axe, fetchJson, openPage, until } from './support.mjs';

begin();

const board = () => fetchJson(nursery.url, '/api/bench?days=9');
/** @param {any} plan @param {string} lot */
const cutOn = (plan, lot) => plan.tasks.find((/** @type {any} */ k) => k.lot === lot && k.step === 'cut')?.day;

for (const size of /** @type {const} */ (['desktop', 'phone'])) {
  test(`the board, ${size}`, async () => {
    const { page, errors, violations, shot, close } = await openPage(browser, { size });
    await page.goto(`${nursery.url}/#/winter/cutting`);
    await page.locator('.lot-tag').first().waitFor();
    const plan = await board();
    assert.equal(await page.locator('.board-day').count(), 5);
    const days = plan.days.slice(0, 5).map((/** @type {any} */ d) => d.day);
    assert.equal(
      await page.locator('.lot-tag').count(),
      plan.tasks.filter((/** @type {any} */ k) => k.step === 'cut' && days.includes(k.day)).length,
    );
    await shot(`cutting-${size}`);
    assert.deepEqual(await axe(page), []);
    assert.deepEqual([errors, await violations()], [[], []]);
    await close();
  });
}

test('a lot is moved by keyboard, with its price, stays there, and is let go', async () => {
  const { page, errors, close } = await openPage(browser, { size: 'desktop' });
  await page.goto(`${nursery.url}/#/winter/cutting`);
  await page.locator('.lot-tag').first().waitFor();
  const plan = await board();
  const first = plan.tasks.find((/** @type {any} */ k) => k.step === 'cut');
  const later = plan.days.map((/** @type {any} */ d) => d.day).filter((/** @type {string} */ d) => d > first.day)[1];
  const tag = page.locator('.lot-tag', { hasText: first.lot });
  await tag.focus();
  await page.keyboard.press('Enter');
  await page.getByLabel('Cut on').selectOption(later);
  await until(
    () => page.locator('dialog form > [role=status]').innerText(),
    (s) => /costs/.test(s),
    'the price',
  );
  assert.equal(cutOn(await board(), first.lot), first.day, 'nothing is moved yet');
  await page.getByRole('button', { name: 'Move', exact: true }).click();
  await until(
    async () => cutOn(await board(), first.lot),
    (d) => d === later,
    'the move on record',
  );
  await page.locator('.lot-tag', { hasText: first.lot }).getByText('by hand').waitFor();
  await page.locator('.lot-tag', { hasText: first.lot }).click();
  await page.getByRole('button', { name: 'Let the plan choose its day' }).click();
  await until(
    async () => cutOn(await board(), first.lot),
    (d) => d === first.day,
    'the plan chooses again',
  );
  assert.deepEqual(errors, []);
  await close();
});

test('a lot is dragged to another day: the same question is asked', async () => {
  const { page, errors, close } = await openPage(browser, { size: 'desktop' });
  await page.goto(`${nursery.url}/#/winter/cutting`);
  await page.locator('.lot-tag').first().waitFor();
  const plan = await board();
  const first = plan.tasks.find((/** @type {any} */ k) => k.step === 'cut');
  await page
    .locator('.lot-tag', { hasText: first.lot })
    .dragTo(page.locator('.board-day').nth(3), { targetPosition: { x: 60, y: 30 } });
  await page.getByRole('dialog').getByText(first.lot).first().waitFor();
  assert.equal(await page.getByLabel('Cut on').inputValue(), plan.days[3].day);
  await page.keyboard.press('Escape');
  assert.deepEqual(errors, []);
  await close();
});

test('frozen lists stand, and the phone works them off: washed without a network, the session from the list', async () => {
  const { page, errors, close, shot } = await openPage(browser, { size: 'phone' });
  await page.goto(`${nursery.url}/#/winter/cutting`);
  await page.getByRole('button', { name: 'Freeze today’s lists' }).click();
  await until(
    async () => (await board()).tasks.filter((/** @type {any} */ k) => k.kept === 'frozen').length,
    (n) => n > 0,
    'frozen',
  );
  const plan = await board();
  const today = plan.tasks.filter((/** @type {any} */ k) => k.day === plan.today && k.step === 'wash');
  await page.goto(`${nursery.url}/#/cellar/cutting`);
  await page.getByRole('button', { name: `${today[0].lot} is washed` }).waitFor();
  assert.equal(await page.getByRole('button', { name: /is washed/ }).count(), today.length);
  await shot('cutting-lists-phone');
  assert.deepEqual(await axe(page), []);
  await page.context().setOffline(true);
  await page.getByRole('button', { name: `${today[0].lot} is washed` }).click();
  await page.getByText('Washed. It is cut on the next working day.').waitFor();
  await page.context().setOffline(false);
  await until(
    async () => (await board()).tasks.find((/** @type {any} */ k) => k.lot === today[0].lot && k.step === 'cut')?.kept,
    (k) => k === 'washed',
    'handed over',
  );
  const paper = await (await fetch(`${nursery.url}/print/bench`)).text();
  assert.ok(paper.includes(today[1].lot) && paper.includes('To wash'));
  assert.deepEqual(
    errors.filter((e) => !/ERR_INTERNET_DISCONNECTED|Failed to load/.test(e)),
    [],
  );
  await close();
});

test('two benches cut one lot at once, without a network: each session stands, once', async () => {
  const lots = await fetchJson(nursery.url, '/api/lots');
  const lot = lots.find((/** @type {any} */ l) => l.clumps > 12 && !l.held && !String(l.places).includes(','));
  const sessions = async () => (await fetchJson(nursery.url, `/api/lots/${lot.lot}`)).sessions;
  const before = (await sessions()).length;
  const benches = await Promise.all([openPage(browser, { size: 'phone' }), openPage(browser, { size: 'phone' })]);
  for (const { page } of benches) {
    await page.goto(`${nursery.url}/#/cellar/dividing?lot=${lot.lot}`);
    await page.getByText('Clumps taken from store').first().waitFor();
    await page.context().setOffline(true);
  }
  const cut = [
    { clumps: 5, saleable: 21, minutes: 30 },
    { clumps: 6, saleable: 21, minutes: 30 },
  ];
  for (const [i, { page }] of benches.entries())
    for (const answer of [cut[i]?.clumps, 0, cut[i]?.saleable, 0, 'place', cut[i]?.minutes, 'next', 'save']) {
      if (typeof answer === 'number')
        for (const digit of String(answer)) await page.locator('.key', { hasText: new RegExp(`^${digit}$`) }).click();
      const name = answer === 'place' ? 'Leave the place open' : answer === 'save' ? 'Yes, keep it' : 'Next';
      await page.getByRole('button', { name, exact: true }).click();
    }
  for (const { page } of benches) {
    await page.getByText(`${lot.lot}:`).first().waitFor();
    await page.context().setOffline(false);
  }
  const after = await until(sessions, (s) => s.length >= before + 2, 'both sessions');
  for (const { page } of benches) await page.reload(); // what was handed over is not handed over again
  for (const { page } of benches) await page.getByRole('heading').first().waitFor();
  assert.deepEqual(await sessions(), after);
  assert.deepEqual(
    after
      .slice(before)
      .map((/** @type {any} */ s) => [s.clumps, s.saleable, s.minutes])
      .sort(),
    cut.map((c) => [c.clumps, c.saleable, c.minutes]),
  );
  const now = (await fetchJson(nursery.url, '/api/lots')).find((/** @type {any} */ l) => l.lot === lot.lot);
  assert.deepEqual([now.clumps, now.divisions], [lot.clumps - 11, lot.divisions + 42]);
  for (const { errors, close } of benches) {
    assert.deepEqual(errors, []);
    await close();
  }
});

test('the check rota: a crate fills the check in; after a bad one what lies beside it is shown, each a door', async () => {
  const { page, errors, violations, close, shot } = await openPage(browser, { size: 'phone' });
  const rota = await fetchJson(nursery.url, '/api/rota');
  await page.goto(`${nursery.url}/#/cellar/rota`);
  await page.locator('.list-task').first().waitFor();
  assert.equal(await page.locator('.list-task').count(), rota.length);
  await shot('rota-phone');
  assert.deepEqual(await axe(page), []);
  const first = rota[0];
  await page.locator('.list-task').first().click();
  await page.getByText('How many looked at?').first().waitFor();
  assert.equal(await page.locator('.keypad-value').inputValue(), String(first.look));
  await page.getByRole('button', { name: 'Next' }).click();
  await page.locator('.key', { hasText: /^3$/ }).click();
  await page.getByRole('button', { name: 'Next' }).click();
  if (first.stage === 'division') await page.getByRole('button', { name: 'Next' }).click();
  await page.getByRole('button', { name: 'no', exact: true }).click();
  await page.getByRole('button', { name: 'Yes, keep it' }).click();
  await page.getByText(`Much rotten in ${first.lot}`).waitFor();
  const lots = await fetchJson(nursery.url, '/api/lots');
  const lot = lots.find((/** @type {any} */ l) => l.lot === first.lot);
  const row = lots.filter(
    (/** @type {any} */ l) => l.row && l.row === lot.row && l.lot !== lot.lot && l.clumps + l.divisions > 0,
  );
  for (const other of row) await page.locator('.beside-lot', { hasText: other.lot }).waitFor();
  await shot('beside-phone');
  assert.deepEqual(await axe(page), []);
  const door = page.locator('.beside-lot').first();
  const name = await door.locator('b').innerText();
  await door.click();
  await page.getByText('Clumps or divisions?').first().waitFor();
  assert.ok((await page.locator('.entry').innerText()).includes(name));
  const paper = await (await fetch(`${nursery.url}/print/rota`)).text();
  assert.ok(paper.includes(rota[1].lot) && paper.includes('Look at'));
  assert.deepEqual([errors, await violations()], [[], []]);
  await close();
});
