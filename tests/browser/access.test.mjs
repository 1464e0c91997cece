// SPDX-License-Identifier: MIT
// Every screen at three widths, at twice the text size, and in both themes: no finding of axe-core, no breach of the
// content policy, nothing wider than the window. Colours are asked at the widest and the narrowest: the others have no other ones.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { begin, browser, nursery, screens } from './begin.mjs';
import { screenOf } from './screens.mjs';
import { axe, openPage, settled, SIZES } from './support.mjs';

begin({ screens: true });

/** Where the screens lead that were opened: one address of each screen. @type {Map<string, string>} */
const linked = new Map();
/** The screens whose links were read. @type {Set<string>} */
const read = new Set();

/** @param {import('playwright-core').Page} page @param {string} address of the screen that is open */
async function readLinks(page, address) {
  if (read.has(screenOf(address))) return;
  read.add(screenOf(address));
  for (const href of await page
    .locator('a[href^="#/"]')
    .evaluateAll((all) => all.map((a) => a.getAttribute('href') ?? '')))
    if (!linked.has(screenOf(href))) linked.set(screenOf(href), href);
}

/** What the page lies on. @param {import('playwright-core').Page} page */
const ground = (page) => page.evaluate(() => getComputedStyle(document.documentElement).backgroundColor);

/** What a finding of axe-core can hang on colours by. */
const COLOURS = ['color-contrast', 'link-in-text-block'];

/** What axe-core has looked at, of all screens at all widths. @type {Set<string>} */
const lookedAt = new Set();

/**
 * Is there anything that axe-core has not looked at, colours aside? It goes by elements, what they say, what is hidden and what
 * scrolls; a screen that has only other measures than at another width is the same to it.
 * @param {import('playwright-core').Page} page
 */
async function isNew(page) {
  const shape = await page.evaluate(() => {
    const parts = [];
    for (const e of document.querySelectorAll('*')) {
      const style = getComputedStyle(e);
      if (style.display === 'none') parts.push('none');
      parts.push(
        e.tagName,
        style.visibility,
        style.content,
        e.scrollWidth > e.clientWidth ? style.overflowX : '',
        e.scrollHeight > e.clientHeight ? style.overflowY : '',
        e.getBoundingClientRect().right <= 0 ? 'outside' : '',
      );
      for (const { name, value } of e.attributes) if (name !== 'data-alike') parts.push(name, value);
      for (const child of e.childNodes) if (child.nodeType === Node.TEXT_NODE) parts.push(child.nodeValue);
    }
    return parts.join('\u0001');
  });
  const known = lookedAt.has(shape);
  lookedAt.add(shape);
  return !known;
}

for (const size of /** @type {const} */ (['desktop', 'phone', 'tablet'])) {
  const coloured = size !== 'tablet';
  test(`all screens, ${size}${coloured ? ', in daylight and in the dark' : ''}`, async () => {
    const { page, errors, violations, shot, close } = await openPage(browser, { size });
    /** @type {string[]} */
    const found = [];
    for (const [name, address] of screens) {
      await page.goto(`${nursery.url}/${address}`);
      await settled(page);
      if (size === 'desktop') await readLinks(page, address);
      await shot(`${name}-${size}-light`);
      if ((await isNew(page)) || coloured)
        found.push(
          ...(await axe(page, coloured ? { all: size === 'desktop' } : { without: COLOURS })).map(
            (f) => `${name}: ${f}`,
          ),
        );
      found.push(...(await page.locator('.wrong').allInnerTexts()).map((text) => `${name}: says ${text}`));
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
      if (wide > 1) found.push(`${name}: ${wide} px wider than the window`);
      if (!coloured) continue;
      // The other theme is other colours and nothing else: the page stays, and only what hangs on colours is asked again.
      const day = await ground(page);
      await page.emulateMedia({ colorScheme: 'dark' });
      await page.locator('html[data-theme=dark]').waitFor();
      if ((await ground(page)) === day) found.push(`${name}: stays as it is in the dark`);
      await shot(`${name}-${size}-dark`);
      found.push(...(await axe(page, { only: COLOURS })).map((f) => `${name}, dark: ${f}`));
      await page.emulateMedia({ colorScheme: 'light' });
      await page.locator('html[data-theme=light]').waitFor();
    }
    assert.deepEqual(found, []);
    assert.deepEqual(errors, []);
    assert.deepEqual(await violations(), []);
    await close();
  });
}

test('the list of screens misses none that the page leads to', async () => {
  const { page, close } = await openPage(browser);
  assert.ok(read.size > 20, `${read.size} screens were read at the widest`);
  // What they lead to beside; the map grows while it is walked.
  for (const [screen, address] of linked) {
    if (read.has(screen)) continue;
    await page.goto(`${nursery.url}/${address}`);
    await settled(page);
    await readLinks(page, address);
  }
  const listed = new Set(screens.map(([, address]) => screenOf(address)));
  assert.ok(linked.size > 20, `${linked.size} screens are linked`);
  assert.deepEqual(
    [...linked].filter(([screen]) => !listed.has(screen)),
    [],
  );
  await close();
});

test('twice the text size', async () => {
  const { page, context, close } = await openPage(browser);
  // The reader's own text size: what a browser's setting does to the root.
  const debug = await context.newCDPSession(page);
  await debug.send('Emulation.setDeviceMetricsOverride', {
    width: SIZES.desktop.width / 2,
    height: SIZES.desktop.height / 2,
    deviceScaleFactor: 2,
    mobile: false,
  });
  const found = [];
  for (const [name, address] of screens) {
    await page.goto(`${nursery.url}/${address}`);
    await settled(page);
    if (await isNew(page)) found.push(...(await axe(page, { without: COLOURS })).map((f) => `${name}: ${f}`));
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
    if (wide > 1) found.push(`${name}: ${wide} px wider than the window`);
  }
  assert.deepEqual(found, []);
  await close();
});
