// SPDX-License-Identifier: MIT
// Every screen of the page, on a season in which each has something to show. What is missing here is found by following the
// page's own links (access.test.mjs).

import { fetchJson, postJson } from './support.mjs';

/** @type {[string, string][]} name and address */
const SCREENS = [
  ['winter', '#/winter'],
  ['variety', '#/winter/variety/BRUCA'],
  ['planting', '#/winter/planting'],
  ['earth', '#/winter/planting/BRUCA'],
  ['changes', '#/winter/changes'],
  ['hindsight', '#/winter/hindsight'],
  ['letter', '#/winter/letter'],
  ['air', '#/winter/air'],
  ['cutting', '#/winter/cutting'],
  ['crates', '#/winter/cellar'],
  ['whatif', '#/winter/whatif'],
  ['records', '#/winter/records'],
  ['records-places', '#/winter/records/places'],
  ['start', '#/winter/start'],
  ['record', '#/winter/record'],
  ['print', '#/winter/print'],
  ['end', '#/winter/end'],
  ['settings', '#/winter/settings'],
  ['help', '#/help/winter'],
  ['help-page', '#/help/winter/variety'],
  ['help-keys', '#/help/keys'],
  ['find', '#/orders'],
  ['order', '#/orders/order/2031-0002'],
  ['new', '#/orders/new'],
  ['short', '#/orders/short'],
  ['rules', '#/orders/short/WIZBO'],
  ['substitutes', '#/orders/substitutes'],
  ['notices', '#/orders/notices'],
  ['weeks', '#/orders/weeks'],
  ['outgoing', '#/orders/parcels'],
  ['claims', '#/orders/claims'],
  ['trace', '#/orders/trace?lot=L0001'],
  ['load', '#/orders/load'],
  ['forget', '#/orders/forget'],
  ['cellar', '#/cellar'],
  ['walks', '#/cellar/walk'],
  ['packing', '#/cellar/parcels'],
  ['lists', '#/cellar/cutting'],
  ['field', '#/cellar/field'],
  ['dug', '#/cellar/dug'],
  ['dig', '#/cellar/dig'],
  ['fieldwalk', '#/cellar/fieldwalk'],
  ['plant', '#/cellar/plant'],
  ['dividing', '#/cellar/dividing'],
  ['dividing-clumps', '#/cellar/dividing?lot=L0002'],
  ['rota', '#/cellar/rota'],
  ['check', '#/cellar/check'],
  ['count', '#/cellar/count'],
  ['lots', '#/cellar/lot'],
  ['lot', '#/cellar/lot/L0002'],
  ['move', '#/cellar/move?lot=L0002'],
  ['other', '#/cellar/other?lot=L0002'],
  ['waiting', '#/cellar/waiting'],
];

/**
 * Shares out, sets weeks, makes notices and a wave; the screens then.
 * @param {string} url
 */
export async function prepareScreens(url) {
  await fetchJson(url, '/api/plan/curve');
  await fetchJson(url, '/api/hindsight');
  await postJson(url, '/api/allocation', { rule: 'first-come', supply: 'counted' });
  await postJson(url, '/api/schedule', {});
  await postJson(url, '/api/notices/make', {});
  const { weeks } = await fetchJson(url, '/api/schedule');
  const week = weeks.find((/** @type {any} */ w) => w.parcels > 0).week;
  const { wave } = await postJson(url, '/api/waves', { week });
  return [
    ...SCREENS,
    .../** @type {[string, string][]} */ ([
      ['walk', `#/cellar/walk/${wave}`],
      ['parcels', `#/cellar/parcels/${wave}`],
    ]),
  ];
}

/** Desk and page; a third step stands for any ("#/orders/order/2031-0002" is "orders/order/*"). @param {string} hash */
export function screenOf(hash) {
  const [desk = '', step = '', which] = (hash.replace(/^#\//, '').split('?')[0] ?? '').split('/');
  if (desk === 'help') return 'help/*'; // one screen, whichever page of it is open
  return [desk, step, which === undefined ? undefined : '*'].filter((s) => s !== undefined && s !== '').join('/');
}

/**
 * What is wider than its place, and, where thumbs press, what is too small for one; a line each. Runs in the page.
 * @param {boolean} thumbs
 */
export function lookOver(thumbs) {
  /** @type {Set<string>} */
  const found = new Set();
  const whole = document.documentElement;
  if (whole.scrollWidth > whole.clientWidth) found.add(`the page is ${whole.scrollWidth} wide`);
  for (const e of document.querySelectorAll('body *')) {
    const box = e.getBoundingClientRect();
    if (box.width === 0 || box.height === 0 || e.closest('.hidden, .skip, thead')) continue;
    if (
      (thumbs || !e.matches('.scroll-x')) &&
      /auto|scroll/.test(getComputedStyle(e).overflowX) &&
      e.scrollWidth > e.clientWidth + 1
    )
      found.add(`${e.tagName} ${e.className} scrolls sideways`);
    if (!thumbs || !e.matches('a[href], button, input, select, textarea, summary')) continue;
    if (getComputedStyle(e, '::after').position === 'absolute') continue;
    const pressed = (e.matches('[type=checkbox], [type=radio]') && e.closest('label')) || e;
    const height = pressed.getBoundingClientRect().height;
    if (height < 43.5 && !e.matches('[type=range]'))
      found.add(
        `${e.tagName} ${e.className} "${(e.textContent ?? '').trim().slice(0, 20)}" is ${Math.round(height)} high`,
      );
  }
  return [...found];
}
