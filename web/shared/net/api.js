// SPDX-License-Identifier: MIT
// The one way to the server: JSON in and out, ETags, the session's token, and errors as sentences.

import { parseAnswer, sentence } from '../strings/prose.js';
import { t } from '../strings/text.js';
import { told, toldLine } from '../strings/told.js';
import { forgetOwn, isOwn, noteOwn } from './own.js';

/** @typedef {{detail: string, file?: string, row?: number, column?: string | number}} Fault */

/** An answer that says no. `status` 0 means that no answer came at all. */
export class Problem extends Error {
  /**
   * @param {number} status
   * @param {string} detail a sentence that says what to do
   * @param {{errors?: Fault[], body?: Record<string, unknown>}} [more]
   */
  constructor(status, detail, more = {}) {
    super(detail);
    this.name = 'Problem';
    this.status = status;
    this.errors = more.errors ?? [];
    this.body = more.body ?? {};
  }
}

/** What was fetched before, by address: asked again with its ETag, an unchanged answer costs no body. */
const kept = new Map();
const KEPT_MOST = 200;

let csrf = '';
/** Whose page this is. @type {string | null} */
let who = null;
/** @type {(up: boolean) => void} */
let onContact = () => {};

/** @type {() => void} */
let onEnded = () => {};

/** Told when an answer says that nobody is signed in here any more. @param {() => void} listener */
export function watchEnd(listener) {
  onEnded = listener;
}

/** @typedef {{name: string, ended: (left: boolean) => void}} Watched left: nobody waits for the answer any more */
/** @type {(writes: boolean) => Watched | null} */
let onRequest = () => null;

/** Told of every request; gives it its name and is told when it has ended. @param {(writes: boolean) => Watched} watcher */
export function watchRequests(watcher) {
  onRequest = watcher;
}

/** @typedef {{of: string, problem: Problem, theirs: Record<string, unknown>, yours: Record<string, unknown>}} Clash */
/** Asks which values stand; true: those typed here. @type {(clash: Clash) => Promise<boolean>} */
let onClash = async () => false;

/** @param {(clash: Clash) => Promise<boolean>} asker */
export function watchClash(asker) {
  onClash = asker;
}

/** @param {string} token @param {string | null | undefined} name who is signed in */
export function setCsrf(token, name) {
  csrf = token;
  who = name ?? null;
}

/** Who is signed in here, '' for nobody. */
export const signedIn = () => who ?? '';

/** Told after every request whether the server answered. @param {(up: boolean) => void} listener */
export function watchContact(listener) {
  onContact = listener;
}

/** What was fetched is fetched anew: its sentences are of another language. */
export function forgetAnswers() {
  kept.clear();
}

/** Nothing of one person's may show for the next. */
export function forgetAll() {
  kept.clear();
  forgetOwn();
}

/**
 * @template {string} P
 * @param {P} path
 * @param {{signal?: AbortSignal, text?: boolean}} [options] text: as it came, no JSON
 * @returns {Promise<import('../../contract').Got<P>>} what the contract says of this path (contract.mjs)
 */
export async function get(path, options = {}) {
  const before = kept.get(path);
  /** @type {Record<string, string>} */
  const headers = { Accept: 'application/json' };
  if (before) headers['If-None-Match'] = before.etag;
  const response = await watched(path, { headers, signal: options.signal, cache: 'no-store' });
  if (options.text && response.ok) return /** @type {any} */ (await response.text());
  if (response.status === 304 && before) return before.data;
  const data = await read(response);
  const etag = response.headers.get('ETag');
  if (etag) {
    if (kept.size >= KEPT_MOST) kept.delete(kept.keys().next().value);
    kept.set(path, { etag, data });
  }
  return data;
}

/**
 * @template {string} M
 * @template {string} P
 * @param {M} method
 * @param {P} path
 * @param {unknown} [body]
 * @param {object} [options]
 * @param {string} [options.key] the same key is carried out once, however often it is sent
 * @param {AbortSignal} [options.signal]
 * @param {null} [options.task] null: not watched (task.js)
 * @param {string} [options.author] who entered it
 * @param {string} [options.handed] to whom it was handed over since (outbox.js)
 * @param {Record<string, unknown>} [options.base] the values that this was typed over, as they were shown; where one has
 *     changed since, the person is asked which stands
 * @param {string} [options.of] whose values they are
 * @returns {Promise<import('../../contract').Done<M, P>>}
 */
export async function send(method, path, body, options = {}) {
  if (!options.base) return sendOnce(method, path, body, options);
  let { base, key } = options;
  for (;;) {
    try {
      const answer = await sendOnce(
        method,
        path,
        { .../** @type {any} */ (body), based_on: base },
        { ...options, key },
      );
      noteOwn(path, options.base, body, Date.now());
      return answer;
    } catch (error) {
      const theirs = error instanceof Problem && error.status === 409 ? error.body.current : undefined;
      if (!theirs || typeof theirs !== 'object') throw error;
      const clash = {
        of: options.of ?? '',
        problem: /** @type {Problem} */ (error),
        theirs: /** @type {any} */ (theirs),
        yours: /** @type {any} */ (body),
      };
      if (!isOwn(path, base, clash.theirs, Date.now()) && !(await onClash(clash)))
        throw new Problem(409, t('conflict.left'));
      base = { ...base, ...theirs };
      key = key && newKey(); // another request than the one that was refused
    }
  }
}

/**
 * @param {string} method
 * @param {string} path
 * @param {unknown} body
 * @param {NonNullable<Parameters<typeof send>[3]>} options
 * @returns {Promise<any>}
 */
async function sendOnce(method, path, body, options) {
  /** @type {Record<string, string>} */
  const headers = { Accept: 'application/json' };
  if (body !== undefined) headers['Content-Type'] = 'application/json';
  if (options.key) headers['Idempotency-Key'] = options.key;
  if (options.author) headers['X-Author'] = encodeURIComponent(options.author);
  if (options.handed) headers['X-Handed-To'] = encodeURIComponent(options.handed);
  const text = body === undefined ? undefined : JSON.stringify(body);
  const ask = () => {
    const init = {
      method,
      headers: csrf ? { ...headers, 'X-CSRF-Token': csrf } : headers,
      body: text,
      signal: options.signal,
    };
    return options.task === null ? reach(path, init) : watched(path, init);
  };
  const used = csrf;
  const response = await ask();
  return read(response.status === 403 && (await renewed(used)) ? await ask() : response);
}

/**
 * Was it only the token that the server did not take? A page that began without a network has none, and signing in again in
 * another tab changes it. The same person's page takes the new one; another person's page is not this one.
 * @param {string} used
 */
async function renewed(used) {
  const now = await get('/api/session').catch(() => null);
  if (!now?.signed_in || !now.csrf || now.csrf === used) return false;
  if (now.name !== who) {
    onEnded();
    throw new Problem(401, t('error.other_person'));
  }
  csrf = now.csrf;
  return true;
}

/** As reach(), under a name by which the server can be asked how far it is. @param {string} path @param {RequestInit} init */
async function watched(path, init) {
  const task = onRequest((init.method ?? 'GET') !== 'GET');
  if (!task) return reach(path, init);
  try {
    return await reach(path, { ...init, headers: { ...init.headers, 'X-Task': task.name } });
  } finally {
    task.ended(Boolean(init.signal?.aborted));
  }
}

/** @param {string} path @param {RequestInit} init */
async function reach(path, init) {
  let response;
  try {
    response = await fetch(path, { credentials: 'same-origin', ...init });
  } catch (error) {
    if (error instanceof DOMException && error.name === 'AbortError') throw error;
    onContact(false);
    throw new Problem(0, t('error.unreachable'));
  }
  onContact(true);
  if (response.status === 401 && !path.startsWith('/api/session')) onEnded();
  return response;
}

/** @param {Response} response */
async function read(response) {
  const text = await response.text();
  /** @type {any} */
  let data = null;
  try {
    data = text ? parseAnswer(text) : null;
  } catch {
    if (response.ok) throw new Problem(response.status, t('error.garbled'));
  }
  if (response.ok) return data;
  const detail =
    data && typeof data.detail === 'string' ? data.detail : t('error.status', { status: String(response.status) });
  /** @type {Fault[]} */
  const faults = data && Array.isArray(data.errors) ? data.errors : [];
  // Faults in a file quote the file; other refusals speak of the nursery's own days.
  const says = faults.length > 0 ? toldLine(detail, faults[0]) : sentence(detail);
  const errors = faults.map((f) => ({ ...f, detail: told(f.detail) }));
  throw new Problem(response.status, says, { errors, body: data ?? {} });
}

/** A key that no two requests share; works without a secure context. */
export function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (b) => b.toString(16).padStart(2, '0')).join('');
}

/**
 * An address with its query; empty values are left out.
 * @param {string} path
 * @param {Record<string, string | number | boolean | null | undefined>} values
 */
export function withQuery(path, values) {
  const query = new URLSearchParams();
  for (const [name, value] of Object.entries(values)) {
    if (value !== null && value !== undefined && value !== '' && value !== false) query.set(name, String(value));
  }
  const text = query.toString();
  return text ? `${path}?${text}` : path;
}
