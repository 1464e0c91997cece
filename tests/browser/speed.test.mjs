// SPDX-License-Identifier: MIT
// How quick the winter desk is with 1,500 varieties on a processor a quarter as fast. What is held is the main thread's own
// processor time, times four, which other work on the machine hardly touches; the time on the wall is printed beside it.

import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { fetchJson, openPage, root, startBrowser, startNursery } from './support.mjs';

/** What is promised: first useful paint, sort or filter, frames a second while the knife is dragged. */
const PROMISE = { paint_ms: 1000, act_ms: 100, frames: 50 };
const SLOWER = 4;
/** Even processor time swells when other work shares the caches: what fails is half as much again. */
const NOISE = 1.5;

/** @type {Awaited<ReturnType<typeof startNursery>>} */
let nursery;
/** @type {import('playwright-core').Browser} */
let browser;
/** @type {string} */
let season;

before(async () => {
  season = mkdtempSync(join(tmpdir(), 'clumpwise-season-'));
  execFileSync(process.execPath, [join(root, 'scripts', 'demo-season', 'make.mjs'), '--out', season, '--varieties', '1500', '--seasons', '6', '--lots', '3000', '--orders', '2000', '--lines', '9000', '--seed', '1']);
  nursery = await startNursery({ season });
  browser = await startBrowser();
  await fetchJson(nursery.url, '/api/plan?confidence=0.9');
  await fetchJson(nursery.url, '/api/plan/curve');
});
after(async () => {
  await browser?.close();
  await nursery?.stop();
  if (season) rmSync(season, { recursive: true, force: true });
});

/** @param {number[]} values */
const median = (values) => [...values].sort((a, b) => a - b)[values.length >> 1] ?? NaN;

test('first useful paint, sort, filter, knife', async () => {
  const { page, context, errors, close } = await openPage(browser);
  const debug = await context.newCDPSession(page);
  await debug.send('Performance.enable', { timeDomain: 'threadTicks' });
  const busy = async () => ((await debug.send('Performance.getMetrics')).metrics.find((m) => m.name === 'TaskDuration')?.value ?? 0) * 1000;
  /** @type {Record<string, number[]>} */
  const cpu = { paint: [], sort: [], filter: [], knife: [] };
  /** @type {Record<string, number[]>} */
  const wall = { paint: [], sort: [], filter: [] };
  await context.addInitScript(() => {
    const look = () => {
      if (document.querySelector('.grid tbody .tuber')) /** @type {any} */ (window).__painted = performance.now();
      else requestAnimationFrame(look);
    };
    requestAnimationFrame(look);
  });

  for (let i = 0; i < 5; i++) {
    await page.goto('about:blank');
    const before = await busy();
    await page.goto(`${nursery.url}/#/winter`);
    await page.locator('.grid tbody .tuber').first().waitFor();
    cpu.paint?.push(((await busy()) - before) * SLOWER);
    wall.paint?.push(await page.evaluate(() => /** @type {any} */ (window).__painted));
  }
  await page.waitForTimeout(1500);
  assert.equal(await page.locator('.grid').getAttribute('aria-rowcount'), '1501');

  /** One act, up to the frame that shows it. @param {string} kind @param {string} what */
  const timed = async (kind, what) => {
    const before = await busy();
    const took = await page.evaluate(async (w) => {
      const start = performance.now();
      if (w.startsWith('sort ')) /** @type {HTMLElement} */ ([...document.querySelectorAll('.grid th')].find((h) => h.textContent?.startsWith(w.slice(5)))).click();
      else {
        const input = /** @type {HTMLInputElement} */ (document.querySelector('.find input'));
        input.value = w;
        input.dispatchEvent(new Event('input', { bubbles: true }));
      }
      await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
      return performance.now() - start;
    }, what);
    cpu[kind]?.push(((await busy()) - before) * SLOWER);
    wall[kind]?.push(took);
  };
  for (let i = 0; i < 5; i++) {
    await timed('sort', 'sort Expected');
    await timed('sort', 'sort Code');
    await timed('filter', 'dark');
    await timed('filter', '');
  }

  await page.goto(`${nursery.url}/#/winter/variety/${(await fetchJson(nursery.url, '/api/varieties'))[3].code}`);
  await page.getByRole('slider', { name: /knife/ }).waitFor();
  await page.waitForTimeout(800);
  const MOVES = 30;
  for (let i = 0; i < 3; i++) {
    const before = await busy();
    await page.evaluate(async (moves) => {
      const element = /** @type {HTMLElement} */ (document.querySelector('.tuber-large'));
      const box = element.getBoundingClientRect();
      element.setPointerCapture = () => {};
      element.hasPointerCapture = () => true;
      for (let n = 0; n < moves; n++) {
        element.dispatchEvent(new PointerEvent(n ? 'pointermove' : 'pointerdown', { bubbles: true, pointerId: 1, clientX: box.left + 200 + ((n * 17) % 500), clientY: box.top + 80 }));
        await new Promise((done) => requestAnimationFrame(done));
      }
    }, MOVES);
    cpu.knife?.push((((await busy()) - before) * SLOWER) / MOVES);
  }

  const round = (/** @type {Record<string, number[]>} */ of) => JSON.stringify(Object.fromEntries(Object.entries(of).map(([k, v]) => [k, Math.round(median(v))])));
  console.log(`speed, 1,500 varieties: ms of processor x ${SLOWER} ${round(cpu)}; ms on the wall as it is ${round(wall)}`);
  assert.ok(median(cpu.paint ?? []) <= PROMISE.paint_ms * NOISE, `first useful paint ${cpu.paint}`);
  assert.ok(median(cpu.sort ?? []) <= PROMISE.act_ms * NOISE, `sort ${cpu.sort}`);
  assert.ok(median(cpu.filter ?? []) <= PROMISE.act_ms * NOISE, `filter ${cpu.filter}`);
  assert.ok(1000 / median(cpu.knife ?? []) >= PROMISE.frames / NOISE, `a knife's move takes ${cpu.knife} ms`);
  assert.deepEqual(errors, []);
  await close();
});
