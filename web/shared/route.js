// SPDX-License-Identifier: MIT
// Where the reader is: the part of the address after "#", as steps and values. "#/orders/2031-0007?q=fern".

import { makeStore } from './net/use.js';

/** @typedef {{steps: string[], values: Record<string, string>}} Route */

/** @param {string} hash @returns {Route} */
export function readRoute(hash) {
  const [path = '', query = ''] = hash.replace(/^#/, '').split('?');
  return {
    steps: path.split('/').filter(Boolean).map(decodeURIComponent),
    values: Object.fromEntries(new URLSearchParams(query)),
  };
}

/** @param {string[]} steps @param {Record<string, string | undefined>} [values] */
export function hashOf(steps, values = {}) {
  const query = new URLSearchParams();
  for (const [name, value] of Object.entries(values)) if (value) query.set(name, value);
  const text = query.toString();
  return `#/${steps.map(encodeURIComponent).join('/')}${text ? `?${text}` : ''}`;
}

export const route = makeStore(readRoute(globalThis.location?.hash ?? ''));

export function startRouting() {
  window.addEventListener('hashchange', () => route.set(readRoute(location.hash)));
}

/** @param {string[]} steps @param {Record<string, string | undefined>} [values] */
export function go(steps, values) {
  location.hash = hashOf(steps, values);
}
