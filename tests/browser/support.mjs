// SPDX-License-Identifier: MIT
// Starts the real program on the demo season and a real browser on it. Everything is on this machine and ends with the test.

import assert from 'node:assert/strict';
import { execFileSync, spawn } from 'node:child_process';
import { mkdtempSync, readFileSync, readdirSync, mkdirSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';
import { makeFormat } from '../../web/shared/strings/format.js';
import { inReadersForm } from '../../web/shared/strings/prose.js';
import { atPace } from './pace.mjs';

const here = dirname(fileURLToPath(import.meta.url));
export const root = join(here, '..', '..');
/** Where pictures of the screens go, for people to look at: only when asked for. */
export const shots = process.env.CLUMPWISE_SHOTS ?? '';
export const TODAY = '2032-02-20';
export const program = process.env.CLUMPWISE ?? join(root, 'build', 'clumpwise');
const browserPath = process.env.CHROMIUM ?? '/usr/bin/chromium';
const axeSource = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/** Waiting longer than this means that it will not come. */
export const PATIENCE_MS = 60_000;

/** @param {string} folder where the season's files are */
function files(folder) {
  return readdirSync(folder)
    .filter((f) => f.endsWith('.csv'))
    .map((f) => join(folder, f));
}

/**
 * Runs the program once.
 * @param {string[]} args
 */
export function run(args) {
  return execFileSync(program, args, { encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'] });
}

/**
 * A nursery file of the demo season (or another folder of files), served.
 * @param {{season?: string, currency?: string, timezone?: string, prepare?: (db: string) => void}} [options]
 */
export async function startNursery(options = {}) {
  const folder = mkdtempSync(join(tmpdir(), 'clumpwise-browser-'));
  const db = join(folder, 'season.db');
  run([
    'new',
    db,
    '--season',
    '2031',
    '--ship',
    '2032-04-19',
    '--currency',
    options.currency ?? 'USD',
    '--timezone',
    options.timezone ?? 'America/Chicago',
    '--today',
    TODAY,
  ]);
  const rows = files(options.season ?? join(root, 'scripts', 'demo-season'));
  if (rows.length > 0) run(['load', db, ...rows, '--today', TODAY]);
  options.prepare?.(db);
  const { url, stop } = await serve(db);
  return {
    url,
    db,
    async stop() {
      await stop();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

/**
 * Serves a file that is there, and looks into those of past seasons.
 * @param {string} db
 * @param {{past?: string[], today?: string}} [options]
 */
export async function serve(db, options = {}) {
  const past = (options.past ?? []).flatMap((file) => ['--past', file]);
  const server = spawn(
    program,
    [
      'serve',
      db,
      ...past,
      '--listen',
      '127.0.0.1:0',
      '--web',
      join(root, 'web', 'dist'),
      '--today',
      options.today ?? TODAY,
    ],
    { stdio: ['ignore', 'pipe', 'pipe'] },
  );
  const url = await addressOf(server);
  return {
    url,
    async stop() {
      server.kill('SIGTERM');
      await new Promise((resolve) => server.once('exit', resolve));
    },
    /** As when the machine's switch is thrown. */
    async kill() {
      server.kill('SIGKILL');
      await new Promise((resolve) => server.once('exit', resolve));
    },
  };
}

/** @param {import('node:child_process').ChildProcess} server @returns {Promise<string>} */
function addressOf(server) {
  return new Promise((resolve, reject) => {
    let text = '';
    const timer = setTimeout(() => reject(new Error(`the server said no address: ${text}`)), PATIENCE_MS);
    const read = (/** @type {Buffer} */ data) => {
      text += data;
      const found = text.match(/https?:\/\/[\d.]+:(\d+)/);
      if (found && found[1] !== '0') {
        clearTimeout(timer);
        resolve(found[0]);
      }
    };
    server.stdout?.on('data', read);
    server.stderr?.on('data', read);
    server.once('exit', (code) => reject(new Error(`the server ended (${code}): ${text}`)));
  });
}

export async function startBrowser() {
  return chromium.launch({
    executablePath: browserPath,
    args: [
      '--headless',
      '--no-sandbox',
      '--disable-gpu',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
      '--no-first-run',
    ],
  });
}

export const SIZES = {
  phone: { width: 390, height: 844 },
  tablet: { width: 820, height: 1180 },
  desktop: { width: 1440, height: 900 },
};

/** What a page still waits for. @type {WeakMap<import('playwright-core').Page, Set<unknown>>} */
const asked = new WeakMap();

/** Waits until the screen has come: drawn, no answer out, nothing said to be loading. @param {import('playwright-core').Page} page */
export async function settled(page) {
  await page.locator('main').waitFor();
  const end = Date.now() + PATIENCE_MS;
  // Twice in a row: what came may ask for more.
  for (let calm = 0; calm < 2 && Date.now() < end;) {
    const loading = await page.evaluate(
      () =>
        new Promise((resolve) => {
          requestAnimationFrame(() =>
            requestAnimationFrame(() => setTimeout(() => resolve(document.querySelectorAll('.loading').length), 0)),
          );
        }),
    );
    calm = loading === 0 && (asked.get(page)?.size ?? 0) === 0 ? calm + 1 : 0;
  }
}

/**
 * A page that remembers what went wrong on it.
 * @param {import('playwright-core').Browser} browser
 * @param {{size?: keyof typeof SIZES, theme?: 'light' | 'dark', locale?: string}} [options]
 */
export async function openPage(browser, options = {}) {
  const size = SIZES[options.size ?? 'desktop'];
  const context = await browser.newContext({
    viewport: size,
    colorScheme: options.theme ?? 'light',
    locale: options.locale ?? 'en-US',
    reducedMotion: 'reduce',
  });
  context.setDefaultTimeout(PATIENCE_MS);
  /** @type {string[]} of the content policy, of every page of this context */
  const broken = [];
  await context.exposeBinding('sayViolation', (_, words) => void broken.push(words));
  await context.addInitScript(() => {
    document.addEventListener('securitypolicyviolation', (e) =>
      /** @type {any} */ (window).sayViolation(
        `${e.violatedDirective} ${e.blockedURI} ${e.sourceFile}:${e.lineNumber}`,
      ),
    );
  });
  const page = await atPace(context);
  /** @type {Set<import('playwright-core').Request>} */
  const out = new Set();
  asked.set(page, out);
  page.on('request', (r) => out.add(r));
  page.on('response', (r) => out.delete(r.request())); // an answer of which the page reads no body never "finishes"
  page.on('requestfailed', (r) => out.delete(r));
  /** @type {string[]} */
  const errors = [];
  page.on('pageerror', (e) => errors.push(`page: ${e.message}`));
  page.on('console', (m) => {
    // A refused or lost request is the test's own doing; it is looked at where it matters.
    if (m.type() === 'error' && !/Failed to load resource|net::ERR/.test(m.text())) errors.push(`console: ${m.text()}`);
  });
  return {
    context,
    page,
    errors,
    /** Violations of the content policy so far. */
    async violations() {
      await page.evaluate(() => null); // what the page has said is here by then
      return broken;
    },
    /** @param {string} name */
    async shot(name) {
      if (shots === '') return;
      mkdirSync(shots, { recursive: true });
      await page.screenshot({ path: join(shots, `${name}.png`) });
    },
    /** Closes all of it; no page of it may have broken the content policy. */
    async close() {
      await context.close();
      assert.deepEqual(broken, [], 'the content policy was broken');
    },
  };
}

/**
 * Leaves alike rows but two out of what axe-core looks at: its time goes by the elements, and a list of three hundred orders is one
 * row drawn three hundred times. Alike is what has the same elements, classes and states, whatever its words.
 * @param {import('playwright-core').Page} page
 */
const leaveAlikeOut = (page) =>
  page.evaluate(() => {
    /** @param {Element} e @returns {string} */
    const shape = (e) =>
      [
        e.tagName,
        e.getAttribute('class'),
        ...[...e.attributes].map((a) =>
          /^(aria-(?!label|describedby|controls|rowindex)|role$|type$|disabled$|hidden$)/.test(a.name)
            ? `${a.name}=${a.value}`
            : a.name,
        ),
        e.textContent?.trim() ? 'words' : '',
        `(${[...e.children].map(shape).join()})`,
      ].join(' ');
    for (const old of document.querySelectorAll('[data-alike]')) old.removeAttribute('data-alike');
    for (const parent of document.querySelectorAll('tbody, ul, ol, svg, g, section, div')) {
      if (parent.children.length < 8 || parent.closest('[data-alike]')) continue;
      /** @type {Map<string, number>} */
      const seen = new Map();
      for (const child of parent.children) {
        const its = shape(child);
        const times = (seen.get(its) ?? 0) + 1;
        seen.set(its, times);
        if (times > 2 && !child.contains(document.activeElement)) child.setAttribute('data-alike', '');
      }
    }
  });

/**
 * What axe-core finds on the page as it is; of all its rules, of some only, or without some. Of alike rows the first two, unless all
 * are asked for.
 * @param {import('playwright-core').Page} page
 * @param {{only?: string[], without?: string[], all?: boolean}} [rules]
 * @returns {Promise<string[]>} one line a finding
 */
export async function axe(page, rules = {}) {
  // The policy forbids scripts by text in the page; the debugger's own evaluation is not bound by it. Another screen is no other
  // document: it is read once.
  if (!(await page.evaluate(() => 'axe' in window))) await page.evaluate(`${axeSource}; undefined`);
  if (!rules.all) await leaveAlikeOut(page);
  const result = await page.evaluate(
    ({ only, without, all }) =>
      /** @type {any} */ (window).axe.run(all ? document : { exclude: ['[data-alike]'] }, {
        resultTypes: ['violations'],
        rules: Object.fromEntries((without ?? []).map((rule) => [rule, { enabled: false }])),
        ...(only ? { runOnly: { type: 'rule', values: only } } : {}),
      }),
    rules,
  );
  return result.violations.flatMap((/** @type {any} */ v) =>
    v.nodes
      .slice(0, 3)
      .map(
        (/** @type {any} */ n) =>
          `${v.id}: ${n.target.join(' ')}: ${(n.failureSummary ?? '').split('\n')[1]?.trim() ?? ''}`,
      ),
  );
}

/**
 * Asks until the answer holds.
 * @template T
 * @param {() => Promise<T>} ask
 * @param {(answer: T) => boolean} holds
 * @param {string} what
 */
export async function until(ask, holds, what) {
  const end = Date.now() + PATIENCE_MS;
  let last;
  while (Date.now() < end) {
    last = await ask();
    if (holds(last)) return last;
    await new Promise((resolve) => setTimeout(resolve, 60));
  }
  throw new Error(`${what}: still ${JSON.stringify(last)?.slice(0, 300)}`);
}

/** @param {string} url @param {string} path */
export async function fetchJson(url, path) {
  const answer = await fetch(url + path);
  if (!answer.ok) throw new Error(`${path}: ${answer.status} ${await answer.text()}`);
  return answer.json();
}

/**
 * Asks the server to do something, as a program beside the browser would.
 * @param {string} url
 * @param {string} path
 * @param {unknown} body
 */
export async function postJson(url, path, body) {
  const answer = await fetch(url + path, {
    method: 'POST',
    headers: { 'Content-Type': 'application/json' },
    body: JSON.stringify(body),
  });
  if (!answer.ok) throw new Error(`${path}: ${answer.status} ${await answer.text()}`);
  return answer.json();
}

/** A sentence of the server as the page shows it to a reader of en-US. @param {string} sentence */
export function shown(sentence) {
  return inReadersForm(sentence, makeFormat('en-US'));
}

/** What has the focus, as a screen reader names it. @param {import('playwright-core').Page} page */
export const focused = (page) =>
  page.evaluate(() => {
    const e = document.activeElement;
    if (!e || e === document.body) return '';
    const label =
      e.getAttribute('aria-label') ??
      /** @type {any} */ (e).labels?.[0]?.innerText ??
      /** @type {HTMLElement} */ (e).innerText ??
      '';
    return `${e.getAttribute('role') ?? e.tagName.toLowerCase()}: ${label.trim().replace(/\s+/g, ' ')}`;
  });

/**
 * Fields filled in one go, before the page is drawn again, as a browser fills an address in.
 * @param {import('playwright-core').Page} page
 * @param {{at: import('playwright-core').Locator, text: string}[]} fields
 */
export async function fillAtOnce(page, fields) {
  const handles = await Promise.all(fields.map(({ at }) => at.elementHandle()));
  await page.evaluate(
    ({ elements, texts }) =>
      elements.forEach((e, i) => {
        /** @type {HTMLInputElement} */ (e).value = texts[i] ?? '';
        e?.dispatchEvent(new InputEvent('input', { bubbles: true }));
      }),
    { elements: handles, texts: fields.map(({ text }) => text) },
  );
}

/** Tabs on until the focus is on what is meant. @param {import('playwright-core').Page} page @param {RegExp} name @param {string} [key] */
export async function tabTo(page, name, key = 'Tab') {
  const seen = [];
  for (let i = 0; i < 120; i++) {
    await page.keyboard.press(key);
    const now = await focused(page);
    if (name.test(now)) return now;
    seen.push(now);
  }
  throw new Error(`${name} was never focused: ${[...new Set(seen)].join(' | ')}`);
}
