// SPDX-License-Identifier: MIT
// What this page itself wrote a moment ago. Until it is drawn again it shows what stood before, and the next edit is based on
// that: the server finds it changed since. Nobody else changed it, so nobody is asked which value stands.

/** A page that has not been drawn again after so long asks the person after all. */
const FRESH_MS = 60_000;

/** @typedef {Record<string, unknown>} Values */
/** @typedef {{was: string, is: string, at: number}} Written */

/** @type {Map<string, Written>} by address and name */
const written = new Map();

/** An empty value is null in one answer and '' in another; figures are typed as text. @param {unknown} value */
const plain = (value) => (value === null || value === undefined ? '' : String(value));

/**
 * What a request says of a value: by its name, or of a list of varieties by its code.
 * @param {any} body
 * @param {string} name
 * @returns {unknown}
 */
export function saidOf(body, name) {
  if (name in body) return body[name];
  return body.items?.find((/** @type {any} */ i) => i.variety === name)?.quantity;
}

/**
 * The server took it.
 * @param {string} path
 * @param {Values} base what it was typed over
 * @param {unknown} body
 * @param {number} now
 */
export function noteOwn(path, base, body, now) {
  for (const [key, w] of written) if (now - w.at > FRESH_MS) written.delete(key);
  for (const [name, was] of Object.entries(base)) {
    const is = saidOf(body, name);
    if (is !== undefined) written.set(`${path} ${name}`, { was: plain(was), is: plain(is), at: now });
  }
}

/**
 * Is all that stands there what this page wrote itself, over the very values that it still shows?
 * @param {string} path
 * @param {Values} base what the refused edit was based on
 * @param {Values} theirs what stands there now
 * @param {number} now
 */
export function isOwn(path, base, theirs, now) {
  return Object.entries(theirs).every(([name, value]) => {
    const w = written.get(`${path} ${name}`);
    return w && now - w.at <= FRESH_MS && w.was === plain(base[name]) && w.is === plain(value);
  });
}

/** Another person's page begins with nothing. */
export function forgetOwn() {
  written.clear();
}
