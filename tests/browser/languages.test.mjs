// SPDX-License-Identifier: MIT
// The page speaks the reader's language: the browser's own until another is chosen, each person's choice kept on the device, also
// without a network; and German, the longest, holds on a phone.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import de from '../../web/shared/strings/de.js';
import en from '../../web/shared/strings/en.js';
import fr from '../../web/shared/strings/fr.js';
import nl from '../../web/shared/strings/nl.js';
import { begin, browser, nursery, screens } from './begin.mjs';
import { lookOver } from './screens.mjs';
import { axe, openPage, settled, until } from './support.mjs';

begin({ screens: true });

/** @param {any} page */
const spoken = (page) => page.evaluate(() => document.documentElement.lang);
/** @param {any} page @param {string} name of the desk's page */
const leadsTo = (page, name) => page.locator('nav.pages').getByRole('link', { name, exact: true }).waitFor();

/** @param {any} page @param {string} name */
const chooser = (page, name) => page.getByRole('combobox', { name });

for (const [locale, code, texts] of /** @type {const} */ ([
  ['en-US', 'en', en],
  ['de-DE', 'de', de],
  ['fr-FR', 'fr', fr],
  ['nl-NL', 'nl', nl],
  ['ja-JP', 'en', en],
])) {
  test(`a browser in ${locale} is answered in ${code}, and fetches no other language`, async () => {
    const { page, errors, violations, close } = await openPage(browser, { locale });
    /** @type {string[]} */
    const fetched = [];
    page.on('request', (r) => {
      const of = /\/assets\/(de|en|fr|nl)-[^/]*\.js$/.exec(r.url());
      if (of?.[1] && r.serviceWorker() === null) fetched.push(of[1]);
    });
    await page.goto(nursery.url);
    await leadsTo(page, texts['winter.page.planting']);
    assert.equal(await spoken(page), code);
    assert.deepEqual([...new Set(fetched)], [code]);
    assert.deepEqual(await violations(), []);
    assert.deepEqual(errors, []);
    await close();
  });
}

test('another language is chosen without a reload, kept, and spoken without a network', async () => {
  const { page, context, errors, close } = await openPage(browser, { locale: 'en-US' });
  await page.goto(`${nursery.url}/#/winter/planting`);
  await leadsTo(page, en['winter.page.planting']);
  await page.evaluate(() => {
    /** @type {any} */ (window).__same = true;
  });
  await chooser(page, en['language.label']).selectOption('de');
  await leadsTo(page, de['winter.page.planting']);
  assert.equal(await spoken(page), 'de');
  assert.equal(await page.evaluate(() => /** @type {any} */ (window).__same), true);
  assert.match(page.url(), /#\/winter\/planting$/);

  await page.reload();
  await leadsTo(page, de['winter.page.planting']);
  await page.evaluate(() => navigator.serviceWorker.ready);
  await until(
    () => page.evaluate(() => Boolean(navigator.serviceWorker.controller)),
    (ready) => ready,
    'the worker keeps the page',
  );
  await context.setOffline(true);
  await page.reload();
  await chooser(page, de['language.label']).waitFor();
  await chooser(page, de['language.label']).selectOption('nl');
  await leadsTo(page, nl['winter.page.planting']);
  assert.equal(await spoken(page), 'nl');
  // The help, too, and the other way round while it is open.
  await page.goto(`${nursery.url}/#/help/winter`);
  await page.getByRole('heading', { name: 'Soorten' }).waitFor();
  await chooser(page, nl['language.label']).selectOption('de');
  await page.getByRole('heading', { name: 'Sorten' }).waitFor();
  assert.match(await page.locator('.help-page').innerText(), /Links von der Messerlinie/);
  assert.deepEqual(errors, []);
  await close();
});

test('German on a phone: nothing is wider than the screen, all has room for a thumb', async () => {
  const { page, errors, close } = await openPage(browser, { size: 'phone', locale: 'de-DE' });
  /** @type {string[]} */
  const wrong = [];
  for (const [name, hash] of screens) {
    await page.goto(`${nursery.url}/${hash}`);
    await settled(page);
    await page.evaluate(() =>
      document
        .querySelectorAll('main details')
        .forEach((d) => /** @type {HTMLDetailsElement} */ (d).setAttribute('open', '')),
    );
    await settled(page);
    for (const what of await page.evaluate(lookOver, true)) wrong.push(`${name}: ${what}`);
  }
  assert.deepEqual(wrong, []);
  assert.deepEqual(await axe(page), []);
  assert.deepEqual(errors, []);
  await close();
});
