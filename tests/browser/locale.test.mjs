// SPDX-License-Identifier: MIT
// The same season read in the United States and in Britain: days, weeks, money and degrees stand in the reader's own form on
// every screen, also inside the server's sentences.

import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { prepareScreens } from './screens.mjs';
import { fetchJson, openPage, postJson, settled, startBrowser, startNursery, until } from './support.mjs';

/** @type {import('playwright-core').Browser} */
let browser;

before(async () => {
  browser = await startBrowser();
});
after(() => browser?.close());

/** Intl writes some spaces as non-breaking or thin ones. @param {string} text */
const spaces = (text) => text.replace(/[\u00a0\u2009\u202f]/g, ' ');

/** How each reader writes 19 April 2032, week 16 of 2032, 7.5 in the nursery's currency (Unicode CLDR, as Chromium has it). */
const READERS = [
  {
    locale: 'en-US',
    currency: 'USD',
    timezone: 'America/Chicago',
    ship: 'Apr 19, 2032',
    week: /16\s+Apr 12 ?– ?18/,
    money: '$',
    degree: '°F',
    day: /(Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec) \d{1,2}, 20\d\d/,
  },
  {
    locale: 'en-GB',
    currency: 'GBP',
    timezone: 'Europe/London',
    ship: '19 Apr 2032',
    week: /16\s+12 ?– ?18 Apr/,
    money: '£',
    degree: '°C',
    day: /\d{1,2} (Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sept?|Oct|Nov|Dec) 20\d\d/,
  },
];

/** Rows out of sight are not laid out, and have no text that could be read. @param {import('playwright-core').Page} page */
const layAllOut = (page) =>
  page.evaluate(() => {
    const all = new CSSStyleSheet();
    all.replaceSync('* { content-visibility: visible !important }');
    document.adoptedStyleSheets = [all];
  });

for (const reader of READERS) {
  test(`read in ${reader.locale}`, async () => {
    const nursery = await startNursery({ currency: reader.currency, timezone: reader.timezone });
    try {
      const screens = await prepareScreens(nursery.url);
      const { page, errors, shot, close } = await openPage(browser, { locale: reader.locale });
      const other = READERS.find((r) => r !== reader);
      assert.ok(other);
      const wrong = [];
      for (const [name, address] of screens) {
        await page.goto(`${nursery.url}/${address}`);
        await settled(page);
        await layAllOut(page);
        const text = spaces(await page.locator('main').innerText());
        // The nursery's day as a program writes it, or as the other reader does; the other's money and degrees.
        for (const alien of [
          /(?<![\w"-])20\d\d-\d\d-\d\d(?![-\w])/,
          /20\d\d-W\d\d/,
          other.day,
          new RegExp(`[${other.money}]\\d`),
          new RegExp(other.degree),
        ]) {
          const found = text.match(alien);
          if (found)
            wrong.push(
              `${name}: ${text.slice(Math.max(0, (found.index ?? 0) - 40), (found.index ?? 0) + 30).replace(/\s+/g, ' ')}`,
            );
        }
      }
      assert.deepEqual(wrong, []);

      // And what should be there is.
      const says = async (/** @type {string} */ address, /** @type {string | RegExp} */ words) => {
        await page.goto(`${nursery.url}/${address}`);
        await layAllOut(page);
        const holds = (/** @type {string} */ text) =>
          typeof words === 'string' ? text.includes(words) : words.test(text);
        await until(
          () =>
            page
              .locator('main')
              .innerText()
              .then(spaces)
              .catch(() => ''),
          holds,
          `${address} says ${words}`,
        );
      };
      await says('#/winter', reader.ship);
      await says('#/winter', new RegExp(`\\${reader.money}\\d`));
      await says('#/winter/air', reader.degree);
      await shot(`air-${reader.locale}`);
      await says('#/orders/weeks', reader.week);
      const { items } = await fetchJson(nursery.url, '/api/orders?state=open');
      await says(`#/orders/order/${items[0].order}`, reader.day);
      // A long frost makes somebody late, whom a notice must tell so.
      await postJson(nursery.url, '/api/frost-holds', {
        zone: 'z6',
        first_week: '2032-W15',
        last_week: '2032-W24',
        why: 'a late frost',
      });
      await postJson(nursery.url, '/api/schedule', {});
      await postJson(nursery.url, '/api/notices/make', {});
      await says('#/orders/notices', new RegExp(`to leave by ${reader.day.source}`));
      await shot(`notices-${reader.locale}`);

      // A temperature is the same to both: the warmest reading as its table shows it.
      await page.goto(`${nursery.url}/#/winter/air`);
      await page.locator('main').getByText(reader.degree).first().waitFor();
      assert.deepEqual(errors, []);
      await close();
    } finally {
      await nursery.stop();
    }
  });
}
