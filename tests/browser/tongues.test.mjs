// SPDX-License-Identifier: MIT
// The server's sentences in the reader's language, the buyer's language where it is chosen, and whose choice of language it is.

import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import de from '../../web/shared/strings/de.js';
import en from '../../web/shared/strings/en.js';
import fr from '../../web/shared/strings/fr.js';
import nl from '../../web/shared/strings/nl.js';
import { fetchJson, openPage, postJson, root, settled, startBrowser, startNursery, until } from './support.mjs';

const program = process.env.CLUMPWISE ?? join(root, 'build', 'clumpwise');
const PASSWORD = 'a long enough phrase for a test';

/** @type {Awaited<ReturnType<typeof startNursery>>} */
let nursery;
/** @type {import('playwright-core').Browser} */
let browser;

before(async () => {
  nursery = await startNursery();
  browser = await startBrowser();
});
after(async () => {
  await browser?.close();
  await nursery?.stop();
});

const MESSY = 'Sorte;Gerodet;Knollen\nMURCA;03/04/2031;zwölf\nSchattenriss;5/6/2031;7\n';

test('a sheet is talked about in German: what was understood, what is asked, what is wrong, what may stand there', async () => {
  const { page, errors, close } = await openPage(browser, { locale: 'de-DE' });
  await page.goto(`${nursery.url}/#/orders/load`);
  await page.locator('input[type=file]').waitFor({ state: 'attached' });
  await page.locator('input[type=file]').setInputFiles({
    name: 'rodung.csv',
    mimeType: 'text/csv',
    buffer: Buffer.from(MESSY),
  });
  await page.locator('.fit-doubts').waitFor();
  await settled(page);
  const text = await page.locator('.fit').innerText();
  for (const sentence of [
    'Text in UTF-8, getrennt durch Strichpunkte: 3 der ersten 3 Zeilen haben 3 Felder.',
    'Nichts sagt, was der Tag ist und was der Monat.',
    'Keine Sorte hat diesen Namen oder dieses Kürzel. Welche ist es, oder ist sie neu?',
    'ist keine Zahl, die sich lesen lässt',
    'eine ganze Zahl von 0 bis 1000000',
  ])
    assert.ok(text.includes(sentence), `${sentence}\n${text}`);
  assert.deepEqual(
    (await page.locator('.fit-doubts option').allInnerTexts()).filter((o) => /\b(the|new|is|code)\b/.test(o)),
    [],
  );
  assert.doesNotMatch(text, /\b(the|which|columns|rows|with)\b/i);
  assert.deepEqual(errors, []);
  await close();
});

test('why an order is refused is said in French, with the field by its French name', async () => {
  const { page, errors, close } = await openPage(browser, { locale: 'fr-FR' });
  await page.goto(`${nursery.url}/#/orders/new`);
  await page.getByLabel(fr['new.email']).waitFor();
  await page.getByLabel(fr['new.variety']).first().fill('MURCA');
  await page.getByLabel(fr['new.customer'], { exact: true }).fill('Anne Exemple');
  // What the browser lets through, and no mail takes.
  await page.getByLabel(fr['new.email']).fill('a..b@example.org');
  await page.getByRole('button', { name: fr['new.save'] }).click();
  const wrong = page.locator('.wrong').first();
  await wrong.waitFor();
  const text = await wrong.innerText();
  assert.match(text, /n’est pas une adresse e-mail|n’est pas encore proposée/);
  assert.doesNotMatch(text, /\b(is|must|the)\b/);
  assert.deepEqual(errors, []);
  await close();
});

test('a buyer’s language is chosen in the order; the texts are chosen by language, and read in it', async () => {
  const { page, errors, close } = await openPage(browser);
  await page.goto(`${nursery.url}/#/orders/order/2031-0001`);
  await page.getByRole('button', { name: en['order.act.correct'] }).click();
  await page.getByLabel(en['new.language']).selectOption({ label: 'Français' });
  await page.getByRole('button', { name: en['correct.save'] }).click();
  await page.getByRole('dialog').waitFor({ state: 'detached' });
  await until(
    () => fetchJson(nursery.url, '/api/orders/2031-0001'),
    (o) => o.order.language === 'fr',
    'kept',
  );
  await page.locator('dd', { hasText: 'Français' }).waitFor();
  // What this buyer is told from now on is French.
  await postJson(nursery.url, '/api/orders/2031-0001/cancel', { why: 'asked to' });
  await postJson(nursery.url, '/api/notices/make', {});
  const letters = await (await fetch(`${nursery.url}/api/notices.csv`)).text();
  assert.match(letters, /,2031-0001,[^]*commande/);

  await page.goto(`${nursery.url}/#/orders/notices`);
  await page.getByRole('button', { name: en['notices.templates'], exact: true }).click();
  const dialog = page.getByRole('dialog');
  await dialog.getByLabel(en['notices.text.language']).selectOption('nl');
  await dialog.getByLabel(en['notices.text.kind']).selectOption('cancelled');
  await dialog.locator('.letter', { hasText: 'bestelling' }).waitFor();
  await dialog.getByLabel(en['notices.text.language']).selectOption('de');
  await dialog.locator('.letter', { hasText: 'Bestellung' }).waitFor();
  assert.deepEqual(errors, []);
  await close();
});

test('each person’s language comes with signing in, and goes with signing out', async () => {
  const empty = mkdtempSync(join(tmpdir(), 'clumpwise-tongues-'));
  const house = await startNursery({
    season: empty,
    prepare: (db) => {
      for (const [name, role] of [
        ['Ada', 'owner'],
        ['Ole', 'office'],
      ])
        execFileSync(program, ['user', db, 'add', name ?? '', '--role', role ?? ''], {
          input: `${PASSWORD}\n`,
          stdio: ['pipe', 'pipe', 'pipe'],
        });
    },
  });
  const { page, errors, close } = await openPage(browser, { locale: 'en-US' });
  const spoken = (/** @type {string} */ code) =>
    until(
      () => page.evaluate(() => document.documentElement.lang),
      (now) => now === code,
      `${code} is spoken`,
    );
  /** @param {string} name @param {Record<string, string>} texts those that are spoken before */
  const signIn = async (name, texts) => {
    await page.getByLabel(texts['signin.name'] ?? '').fill(name);
    await page.getByLabel(texts['signin.password'] ?? '').fill(PASSWORD);
    await page.getByRole('button', { name: texts['signin.enter'] ?? '' }).click();
    await page.locator('nav.pages').waitFor();
  };
  const signOut = async (/** @type {Record<string, string>} */ texts, /** @type {string} */ name) => {
    await page.getByRole('button', { name: (texts['frame.sign_out'] ?? '').replace('{name}', name) }).click();
    await page.locator('nav.pages').waitFor({ state: 'detached' });
  };
  await page.goto(house.url);
  await page.getByLabel(en['signin.name']).waitFor();
  await page.getByRole('combobox', { name: en['language.label'] }).selectOption('nl'); // the device's
  await spoken('nl');
  await signIn('Ada', nl);
  await spoken('nl');
  await page.getByRole('combobox', { name: nl['language.label'] }).selectOption('fr'); // Ada's own
  await spoken('fr');
  await signOut(fr, 'Ada');
  await spoken('nl');
  await signIn('Ole', nl);
  await spoken('nl');
  await page.getByRole('combobox', { name: nl['language.label'] }).selectOption('de');
  await spoken('de');
  await page.reload();
  await page.locator('nav.pages').waitFor();
  await spoken('de');
  await signOut(de, 'Ole');
  await spoken('nl');
  await signIn('Ada', nl);
  await spoken('fr');
  assert.deepEqual(errors, []);
  await close();
  await house.stop();
  rmSync(empty, { recursive: true });
});
