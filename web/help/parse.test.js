// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { test } from 'node:test';
import { fileURLToPath } from 'node:url';
import { backFrom, pageOf, pieces, readPages, search } from './parse.js';

const here = dirname(fileURLToPath(import.meta.url));
const readme = await readFile(join(here, '..', '..', 'README.md'), 'utf8');
const pages = readPages(await readFile(join(here, 'pages.md'), 'utf8'), readme);

test('every screen has a page of its own, and every page a screen', async () => {
  const screens = await readFile(join(here, '..', '..', 'tests', 'browser', 'screens.mjs'), 'utf8');
  const listed = [...screens.matchAll(/'#\/([\w/-]+)/g)].map((m) => (m[1] ?? '').split('/').slice(0, 2).join('/'));
  assert.ok(listed.length > 30);
  const missing = [...new Set(listed)]
    .filter((s) => !s.startsWith('help/'))
    .filter((s) => !pages.some((p) => p.screen === s));
  assert.deepEqual(missing, []);
  const alone = pages.filter((p) => p.screen.includes('/') && !listed.includes(p.screen)).map((p) => p.screen);
  assert.deepEqual(alone, []);
  assert.equal(new Set(pages.map((p) => p.screen)).size, pages.length);
});

test('the help says the same in each language: page by page, point by point', async () => {
  for (const code of ['de', 'fr', 'nl']) {
    const own = readPages(await readFile(join(here, `pages.${code}.md`), 'utf8'), readme);
    const form = (/** @type {typeof pages} */ all) =>
      all.map((p) => `${p.screen} ${p.blocks.map((b) => (b.list ? b.lines.length : 'p')).join(' ')}`);
    assert.deepEqual(form(own), form(pages), code);
    const same = own.flatMap((p, i) =>
      p.blocks.flatMap((b, j) => b.lines.filter((l, k) => l === pages[i]?.blocks[j]?.lines[k])),
    );
    assert.deepEqual(same, [], `${code}: still English`);
  }
});

test('facts of the README stand in the help as the README has them', () => {
  const limits = pages.find((p) => p.screen === 'limits')?.blocks.flatMap((b) => b.lines) ?? [];
  assert.ok(
    limits.some((l) => l.includes('One program writes at a time')),
    limits.join('\n'),
  );
  assert.match(pages[0]?.blocks[0]?.lines[0] ?? '', /^The lying silhouette is the signature picture/);
  assert.throws(() => readPages('# A {a}\n\n{{README: No such words}}', readme), /nothing that begins/);
});

test('pages are short, found by words, and a screen without one leads to its desk', () => {
  for (const p of pages) assert.ok(p.blocks.flatMap((b) => b.lines).join(' ').length < 2200, p.title);
  assert.equal(search(pages, 'frost hold')[0]?.screen, 'orders/weeks');
  assert.equal(search(pages, 'claims')[0]?.screen, 'orders/claims');
  assert.deepEqual(search(pages, 'xyzzy'), []);
  assert.equal(pageOf(pages, 'winter/nowhere')?.screen, 'winter');
});

test('the way back leads to what was open; without its code to the desk; from a page about no screen nowhere', () => {
  const rows = [
    { of: ['winter', 'variety', 'BRUCA'], to: 'winter/variety/BRUCA', title: 'One variety' },
    { of: ['winter', 'variety'], to: 'winter', title: 'Varieties' },
    { of: ['orders', 'order'], to: 'orders', title: 'Orders' },
    { of: ['orders', 'order', '2031-0002'], to: 'orders/order/2031-0002', title: 'One order' },
    { of: ['orders', 'weeks'], to: 'orders/weeks', title: 'Ship weeks' },
    { of: ['cellar', 'lot'], to: 'cellar/lot', title: 'A lot' },
    { of: ['winter'], to: 'winter', title: 'Varieties' },
    { of: [], to: 'winter', title: 'Varieties' },
  ];
  for (const { of, to, title } of rows) {
    const back = backFrom(pages, of);
    assert.deepEqual([back?.steps.join('/'), back?.title], [to, title], of.join('/'));
  }
  assert.equal(backFrom(pages, ['keys']), null);
  assert.equal(backFrom(pages, ['account']), null);
});

test('strong and code', () => {
  assert.deepEqual(pieces('a **b** `c`'), [
    { as: '', text: 'a ' },
    { as: 'b', text: 'b' },
    { as: '', text: ' ' },
    { as: 'code', text: 'c' },
  ]);
});
