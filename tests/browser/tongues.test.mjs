// SPDX-License-Identifier: MIT
// The server's sentences in the reader's language, the buyer's language where it is chosen, and whose choice of language it is.

import assert from 'node:assert/strict';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import de from '../../web/shared/strings/de.js';
import en from '../../web/shared/strings/en.js';
import fr from '../../web/shared/strings/fr.js';
import { LANGUAGES } from '../../web/shared/strings/languages.js';
import nl from '../../web/shared/strings/nl.js';
import { sentencesIn } from '../../web/shared/strings/sentences.js';
import { speak } from '../../web/shared/strings/text.js';
import { tellIn, told } from '../../web/shared/strings/told.js';
import { PASSWORD, addPeople, begin, browser, nursery, screens, signIn } from './begin.mjs';
import { prepareScreens } from './screens.mjs';
import { TODAY, fetchJson, openPage, postJson, run, settled, startNursery, until } from './support.mjs';

begin();

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

test('papers for the staff are in the nursery’s language, with days and counts as it writes them', async () => {
  const house = await startNursery({ prepare: shared });
  const paper = async (/** @type {string} */ which) =>
    (await (await fetch(`${house.url}/print/${which}`)).text())
      .replace(/<svg[^]*?<\/svg>/g, '')
      .replace(/<[^>]*>/g, ' ');
  const which = [
    'tags?wave=1',
    'walk?wave=1',
    'walk?wave=1&by=person',
    'walk?wave=1&by=room',
    'bench',
    'rota',
    'planting',
  ];
  const english =
    /\b(lot|row|room|place|cut|divisions?|clumps?|stop|in all|take|slot|variety|printed|care|the|nobody|saleable|shrivelled)\b/i;
  assert.match(await paper('walk?wave=1'), /Wave 1, 2032-W17, printed 20 February 2032: \d+ stops, \d+ picks/);
  for (const [language, walk] of /** @type {const} */ ([
    ['de', /Welle 1, 2032-W17, gedruckt 20\. Februar 2032: \d+ Halte, \d+ Griffe, \d+ Teilstücke, \d+ Pakete/],
    ['fr', /Vague 1, 2032-W17, imprimé le 20 février 2032: \d+ arrêts, \d+ prises, \d+ éclats, \d+ colis/],
  ])) {
    await fetch(`${house.url}/api/settings`, {
      method: 'PATCH',
      headers: { 'Content-Type': 'application/json' },
      body: JSON.stringify({ language }),
    });
    assert.match(await paper('walk?wave=1'), walk);
    for (const one of which) {
      const text = await paper(one);
      const left = text.match(
        language === 'fr' ? /\b(in all|take|slot|variety|printed|the|nobody|saleable|shrivelled|clumps)\b/i : english,
      );
      assert.equal(
        left,
        null,
        `${language} ${one}: ${left?.[0]} in ${text.slice(left?.index ?? 0, (left?.index ?? 0) + 80)}`,
      );
    }
  }
  await house.stop();
});

test('each person’s language comes with signing in, and goes with signing out', async () => {
  const empty = mkdtempSync(join(tmpdir(), 'clumpwise-tongues-'));
  const house = await startNursery({
    season: empty,
    prepare: (db) => addPeople(db, { Ada: 'owner', Ole: 'office' }),
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

/** A season in which a short variety is shared out, substitutes are chosen, and a wave is made. @param {string} db */
function shared(db) {
  for (const act of [
    ['schedule', db, '--commit'],
    ['allocate', db, '--rule', 'one-each-first', '--supply', 'projected', '--commit'],
    ['substitute', db, '--supply', 'projected', '--commit'],
    ['schedule', db, '--commit'],
    ['pick', db, '--week', '2032-W17', '--commit'],
  ])
    run([...act, '--today', TODAY]);
}

/** English words that no name and no note of the demo season has, and no German, French or Dutch. */
const ENGLISH = /\b(the|are|were|its|would|should|gives|came|asked|promised|waits|lost|to|by|this)\b/i;

/** What people of the demo season wrote, and invented names. @param {string} text */
const withoutNames = (text) => text.replace(/\([^)]*\)/g, '').replace(/Invented for the demo season[^.;]*/g, '');

test('every sentence that the server puts together is told in each language, and none half', async () => {
  const house = await startNursery({ prepare: shared });
  /** @type {Set<string>} */
  const sentences = new Set();
  /** @param {any} value @param {string} name */
  const gather = (value, name) => {
    if (typeof value === 'string') {
      if (value && /^(sentences?|notes|tells|reason_\w+)$/.test(name)) sentences.add(value);
    } else if (value && typeof value === 'object')
      for (const [key, inner] of Object.entries(value)) gather(inner, Array.isArray(value) ? name : key);
  };
  const rows = (await fetchJson(house.url, '/api/plan')).varieties;
  const short = await fetchJson(house.url, '/api/short');
  const weeks = await fetchJson(house.url, '/api/schedule');
  gather(weeks, '');
  const paths = [
    '/api/hindsight',
    '/api/letter',
    '/api/bench',
    '/api/rota',
    '/api/projection',
    '/api/hit',
    '/api/substitution',
  ];
  for (const { variety } of rows.slice(0, 30)) paths.push(`/api/projection/${variety}`, `/api/keep/${variety}`);
  for (const { variety } of short) paths.push(`/api/allocation?variety=${variety}`, `/api/waitlist?variety=${variety}`);
  for (const { order } of weeks.orders.slice(0, 80)) paths.push(`/api/orders/${order}`, `/api/orders/${order}/lying`);
  for (const path of paths) gather(await fetchJson(house.url, path), '');
  for (const c of await fetchJson(house.url, '/api/changes?since=2032-01-20')) sentences.add(c.why);
  await house.stop();
  assert.ok(sentences.size > 500, `${sentences.size} sentences`);
  for (const code of /** @type {const} */ (['de', 'fr', 'nl'])) {
    speak(code, (await LANGUAGES[code].texts()).default);
    tellIn(code, sentencesIn(code));
    const left = [...sentences].filter((s) =>
      s.split('\n').some((line) => line && ENGLISH.test(withoutNames(told(line)))),
    );
    assert.deepEqual(
      left.slice(0, 5).map((s) => `${s} -> ${told(s)}`),
      [],
      code,
    );
  }
  tellIn('en', {});
});

/** The screens on which the server puts sentences together (screens.mjs). */
const WHY_SCREENS =
  'winter variety earth changes hindsight letter cutting find order rules substitutes notices weeks rota'.split(' ');

test('no English sentence stands on a German screen, and what was fetched is told anew in French once that is chosen', async () => {
  const house = await startNursery();
  const screens = await prepareScreens(house.url);
  const { page, errors, close, shot } = await openPage(browser, { locale: 'de-DE' });
  /** @type {string[]} */
  const left = [];
  for (const [name, hash] of screens) {
    if (!WHY_SCREENS.includes(name)) continue;
    await page.goto(`${house.url}/${hash}`);
    await settled(page);
    const text = withoutNames(await page.locator('main').innerText());
    left.push(
      ...text
        .split('\n')
        .filter((line) => ENGLISH.test(line))
        .map((line) => `${name}: ${line}`),
    );
    await shot(`german-${name}`);
  }
  assert.deepEqual(left, []);
  // What was fetched before is told anew, not kept in the language of then.
  await page.goto(`${house.url}/#/winter/variety/OSPLA`);
  await page.locator('.why li', { hasText: 'Ein gesunder Stock gibt' }).waitFor();
  await page.getByRole('combobox', { name: de['language.label'] }).selectOption('fr');
  await page.locator('.why li', { hasText: 'Une souche saine donne' }).waitFor();
  await page.getByRole('combobox', { name: fr['language.label'] }).selectOption('en');
  await page.locator('.why li', { hasText: 'A sound clump gives' }).waitFor();
  assert.deepEqual(errors, []);
  await close();
  await house.stop();
});
