// SPDX-License-Identifier: MIT
// How a browser test begins and ends. A test file calls begin() once: then a nursery is served, a browser is there, and
// both end with the file. What people do first in several files stands here, too.

import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before } from 'node:test';
import { prepareScreens } from './screens.mjs';
import { TODAY, program, run, startBrowser, startNursery } from './support.mjs';

/** @type {Awaited<ReturnType<typeof startNursery>>} */
export let nursery;
/** @type {import('playwright-core').Browser} */
export let browser;
/** Name and address of each screen, when begin() was asked for them. @type {[string, string][]} */
export let screens;

/** Of all people of these tests. */
export const PASSWORD = 'a long enough phrase for a test';

/** @typedef {Record<string, 'owner' | 'office' | 'packer'>} People name and desk */

/** @param {string} db @param {People} people */
export function addPeople(db, people) {
  for (const [name, role] of Object.entries(people))
    execFileSync(program, ['user', db, 'add', name, '--role', role], {
      input: `${PASSWORD}\n`,
      stdio: ['pipe', 'pipe', 'pipe'],
    });
}

/** Puts on offer what the plan proposes. @param {string} db */
export const offerAll = (db) =>
  run(['offer', db, '--confidence', '0.9', '--commit', '--why', 'first catalogue', '--today', TODAY]);

/**
 * The demo season, unless other files are named: their folder, or kind and text of each.
 * @param {{season?: string, files?: Record<string, string>, currency?: string, timezone?: string, prepare?: (db: string) => void,
 *   people?: People, screens?: boolean, ready?: () => Promise<void>}} [options] `people` get an account each, after `prepare`; `ready`
 *   is called last, when all is served (node:test would not wait for begin() in another before())
 */
export function begin(options = {}) {
  /** @type {string | undefined} */
  let folder;
  before(async () => {
    if (options.files) {
      folder = mkdtempSync(join(tmpdir(), 'clumpwise-files-'));
      for (const [kind, text] of Object.entries(options.files)) writeFileSync(join(folder, `${kind}.csv`), text);
    }
    nursery = await startNursery({
      ...options,
      season: folder ?? options.season,
      prepare: (db) => {
        options.prepare?.(db);
        addPeople(db, options.people ?? {});
      },
    });
    browser = await startBrowser();
    if (options.screens) screens = await prepareScreens(nursery.url);
    await options.ready?.();
  });
  after(async () => {
    await browser?.close();
    await nursery?.stop();
    if (folder) rmSync(folder, { recursive: true, force: true });
  });
}

/** @param {import('playwright-core').Page} page @param {string} name @param {string} [password] */
export async function signIn(page, name, password = PASSWORD) {
  await page.getByLabel('Name').fill(name);
  await page.getByLabel('Password').fill(password);
  await page.getByRole('button', { name: 'Sign in' }).click();
}

/** Types as a scanner does: all keys within a few milliseconds. @param {import('playwright-core').Page} page @param {string} text */
export const scan = (page, text) =>
  page.evaluate((code) => {
    const to = document.activeElement ?? document.body;
    for (const key of [...code, 'Enter'])
      to.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true, cancelable: true }));
  }, text);
