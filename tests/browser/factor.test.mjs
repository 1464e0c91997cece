// SPDX-License-Identifier: MIT
// The second factor as people meet it: set up from the QR code by keyboard alone, asked at sign-in, a recovery code in its place,
// cleared by the owner when the telephone is lost; also on a phone. The telephone's part is done here by node's own HMAC.

import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { createHmac } from 'node:crypto';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { test } from 'node:test';
import { join } from 'node:path';
import { PASSWORD, begin, browser, nursery, signIn } from './begin.mjs';
import { lookOver } from './screens.mjs';
import { axe, focused, openPage, settled, tabTo, until } from './support.mjs';

const STEP_MS = 30_000;

begin({ people: { Ada: 'owner', Pim: 'packer' } });

/** RFC 6238, of a secret in base32 (RFC 4648). @param {string} secret @param {number} steps from now */
function codeOf(secret, steps = 0) {
  const bits = [...secret]
    .map((c) => 'ABCDEFGHIJKLMNOPQRSTUVWXYZ234567'.indexOf(c).toString(2).padStart(5, '0'))
    .join('');
  const key = Buffer.from((bits.match(/.{8}/g) ?? []).map((b) => parseInt(b, 2)));
  const count = Buffer.alloc(8);
  count.writeBigUInt64BE(BigInt(Math.floor(Date.now() / STEP_MS) + steps));
  const mac = createHmac('sha1', key).update(count).digest();
  const at = (mac[19] ?? 0) & 15;
  return String((mac.readUInt32BE(at) & 0x7fffffff) % 1e6).padStart(6, '0');
}

/** So that a step does not end between a code and its typing. */
async function earlyInAStep() {
  const left = STEP_MS - (Date.now() % STEP_MS);
  if (left < 12_000) await new Promise((done) => setTimeout(done, left + 100));
}

/** What a telephone's camera reads off the screen. @param {import('playwright-core').Page} page */
async function readOff(page) {
  const folder = mkdtempSync(join(tmpdir(), 'clumpwise-qr-'));
  const path = join(folder, 'qr.png');
  await page.locator('svg.qr').screenshot({ path });
  const text = execFileSync('zbarimg', ['--quiet', '--raw', '-Sdisable', '-Sqrcode.enable', path], {
    encoding: 'utf8',
  }).trim();
  rmSync(folder, { recursive: true });
  return new URL(text);
}

/** @type {string[]} */
let recovery = [];
let secret = '';

test('set up by keyboard alone, from the QR code to the recovery codes', async () => {
  const { page, errors, violations, shot, close } = await openPage(browser);
  await page.goto(nursery.url);
  await signIn(page, 'Pim');
  await page.getByRole('link', { name: 'Your account' }).waitFor();
  await page.goto(`${nursery.url}/#/account`);
  const sheet = page.locator('section', { has: page.getByRole('heading', { name: 'Second factor' }) });
  await sheet.getByRole('button', { name: 'Set it up' }).waitFor();
  await shot('factor-off');
  await tabTo(page, /button: Set it up/);
  await page.keyboard.press('Enter');
  await page.locator('svg.qr').waitFor();
  assert.match(await focused(page), /Scan this/);
  assert.deepEqual(await axe(page), []);
  const uri = await readOff(page);
  secret = uri.searchParams.get('secret') ?? '';
  assert.match(secret, /^[A-Z2-7]{32}$/);
  assert.deepEqual([uri.protocol, uri.host, uri.pathname], ['otpauth:', 'totp', '/Clumpwise:Pim']);
  assert.deepEqual([...uri.searchParams].slice(1), [
    ['issuer', 'Clumpwise'],
    ['algorithm', 'SHA1'],
    ['digits', '6'],
    ['period', '30'],
  ]);
  assert.equal((await sheet.locator('code.secret').innerText()).replaceAll(' ', ''), secret);
  await shot('factor-begun');

  // A wrong code loses nothing of what was typed.
  await earlyInAStep();
  await tabTo(page, /Code/);
  const right = codeOf(secret);
  await page.keyboard.type(right === '000000' ? '111111' : '000000');
  await tabTo(page, /Your own password/);
  await page.keyboard.type(PASSWORD);
  await page.keyboard.press('Enter');
  await sheet.locator('.wrong', { hasText: 'not right' }).waitFor();
  await tabTo(page, /Code/, 'Shift+Tab');
  await page.keyboard.press('Control+A');
  await page.keyboard.type(codeOf(secret));
  await page.keyboard.press('Enter');
  await sheet.locator('.recovery li').first().waitFor();
  assert.match(await focused(page), /It is on/);
  recovery = await sheet.locator('.recovery code').allInnerTexts();
  assert.equal(new Set(recovery).size, 10);
  for (const code of recovery) assert.match(code, /^([A-Z2-7]{4}-){3}[A-Z2-7]{4}$/);
  assert.deepEqual(await axe(page), []);
  await shot('factor-codes');
  await tabTo(page, /button: I have them/);
  await page.keyboard.press('Enter');
  await sheet.getByText('10 recovery codes are left.').waitFor();
  await shot('factor-on');
  assert.deepEqual(errors, []);
  assert.deepEqual(await violations(), []);
  await close();
});

test('at sign-in the code is asked after the right password only, and taken once', async () => {
  const { page, errors, violations, shot, close } = await openPage(browser, { size: 'phone' });
  await page.goto(nursery.url);
  await page.getByLabel('Name').fill('Pim');
  await page.getByLabel('Password').fill('not the phrase at all');
  await page.getByRole('button', { name: 'Sign in' }).click();
  await page.locator('.wrong').waitFor();
  assert.equal(await page.getByLabel('Code').count(), 0);
  await signIn(page, 'Pim');
  await page.getByLabel('Code').waitFor();
  assert.match(await focused(page), /Code/);
  assert.equal(await page.locator('input[type=password]').count(), 0);
  assert.deepEqual(await axe(page), []);
  assert.deepEqual(await page.evaluate(lookOver, true), []);
  await shot('factor-signin-phone');
  const used = recovery[0] ?? '';
  await page.keyboard.type(used.toLowerCase().replaceAll('-', ' '));
  await page.keyboard.press('Enter');
  await page.getByRole('link', { name: /walk/ }).waitFor();
  await page.goto(`${nursery.url}/#/account`);
  await page.getByText('9 recovery codes are left.').waitFor();
  await settled(page);
  assert.deepEqual(await page.evaluate(lookOver, true), []);
  await shot('factor-on-phone');
  await page.getByRole('button', { name: 'Sign out Pim' }).click();

  // The same one again is refused; the next code of the telephone is taken.
  await signIn(page, 'Pim');
  await page.getByLabel('Code').fill(used);
  await page.getByRole('button', { name: 'Sign in' }).click();
  await page.locator('.wrong', { hasText: 'used before' }).waitFor();
  await earlyInAStep();
  await page.getByLabel('Code').fill(codeOf(secret, 1));
  await page.keyboard.press('Enter');
  await page.getByText('9 recovery codes are left.').waitFor(); // where Pim was before
  assert.deepEqual(errors, []);
  assert.deepEqual(await violations(), []);
  await close();
});

test('the telephone is lost: the owner clears it, and a new one is set up on a phone and turned off', async () => {
  const owner = await openPage(browser);
  await owner.page.goto(nursery.url);
  await signIn(owner.page, 'Ada');
  await owner.page.getByRole('button', { name: 'Release these' }).waitFor();
  await owner.page.goto(`${nursery.url}/#/winter/settings`);
  const row = owner.page.locator('.person').filter({ hasText: 'Pim' });
  await until(
    () => row.innerText(),
    (s) => s.includes('second factor'),
    'the list tells of it',
  );
  await row.getByRole('button', { name: 'Clear second factor of Pim' }).click();
  const dialog = owner.page.getByRole('dialog');
  await dialog.getByLabel('Your own password').fill(PASSWORD);
  assert.deepEqual(await axe(owner.page), []);
  await owner.shot('factor-clear');
  await dialog.getByRole('button', { name: 'Clear second factor', exact: true }).click();
  await dialog.waitFor({ state: 'detached' });
  await until(
    () => row.innerText(),
    (s) => !s.includes('second factor'),
    'it is gone',
  );
  await owner.close();

  const { page, errors, violations, shot, close } = await openPage(browser, { size: 'phone' });
  await page.goto(nursery.url);
  await signIn(page, 'Pim');
  await page.getByRole('link', { name: 'Your account' }).waitFor();
  await page.goto(`${nursery.url}/#/account`);
  const sheet = page.locator('section', { has: page.getByRole('heading', { name: 'Second factor' }) });
  await sheet.getByRole('button', { name: 'Set it up' }).click();
  await page.locator('svg.qr').waitFor();
  await settled(page);
  assert.deepEqual(await page.evaluate(lookOver, true), []);
  await page.locator('svg.qr').scrollIntoViewIfNeeded();
  await shot('factor-begun-phone');
  const other = (await readOff(page)).searchParams.get('secret') ?? '';
  assert.notEqual(other, secret);
  await earlyInAStep();
  await sheet.getByRole('textbox', { name: /^Code/ }).fill(codeOf(other));
  await sheet.getByLabel('Your own password').fill(PASSWORD);
  await sheet.getByRole('button', { name: 'Turn it on' }).click();
  await sheet.locator('.recovery li').first().waitFor();
  assert.deepEqual(await page.evaluate(lookOver, true), []);
  await shot('factor-codes-phone');
  await sheet.getByRole('button', { name: 'I have them' }).click();
  await sheet.getByRole('textbox', { name: /^Code/ }).fill(codeOf(other, 1));
  await sheet.getByLabel('Your own password').fill(PASSWORD);
  await sheet.getByRole('button', { name: 'Turn it off' }).click();
  await sheet.getByRole('button', { name: 'Set it up' }).waitFor();
  assert.deepEqual(errors, []);
  assert.deepEqual(await violations(), []);
  await close();
});
