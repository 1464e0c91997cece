// SPDX-License-Identifier: MIT
// The page's one outbox: opened at start, emptied whenever the server answers, watched by every screen.

import { newKey, send, signedIn } from '../shared/net/api.js';
import { Outbox, openBox, ownerOf } from '../shared/net/outbox.js';
import { contact, makeStore, touch } from '../shared/net/use.js';

/** @typedef {import('../shared/net/outbox.js').Entry} Entry */

/** What lies in the box, oldest first. */
export const entries = makeStore(/** @type {Entry[]} */ ([]));
/** Set when the server asks for a sign-in before it takes anything. */
export const wantsSignIn = makeStore(false);

/** Stands for the author of what an older page left behind. */
const NOBODY = '?';
const FIRST_RETRY_MS = 1500;
const LAST_RETRY_MS = 20000;
/** A line that goes dead in the middle says nothing for minutes: so long an answer is waited for, then it is sent again. */
const ANSWER_MS = 30000;

/** @type {Promise<Outbox> | null} */
let opening = null;
/** @type {ReturnType<typeof setTimeout> | null} */
let timer = null;
let wait = FIRST_RETRY_MS;

/** @returns {Promise<Outbox>} */
export function box() {
  opening ??= openBox(indexedDB).then((db) => {
    const outbox = new Outbox(
      db,
      (entry) =>
        send('POST', entry.path, entry.body, {
          key: entry.key,
          task: null,
          author: entry.author || NOBODY,
          handed: entry.handed,
          signal: AbortSignal.timeout(ANSWER_MS),
        }),
      signedIn,
    );
    outbox.changed = () => void outbox.all().then((list) => entries.set(list));
    outbox.changed();
    return outbox;
  });
  return opening;
}

export function startOutbox() {
  void handOver();
  window.addEventListener('online', () => void handOver());
  document.addEventListener('visibilitychange', () => document.visibilityState === 'visible' && void handOver());
  contact.watch(() => contact.get() && void handOver());
}

/** Hands over what waits; tries again by itself, later and later, while nothing answers. */
export async function handOver() {
  const outbox = await box();
  const own = async () => (await outbox.all()).filter((e) => e.state === 'waiting' && ownerOf(e) === signedIn()).length;
  const before = await own();
  if (before === 0) {
    wantsSignIn.set(false);
    return;
  }
  const outcome = await outbox.drain();
  wantsSignIn.set(outcome === 'sign in');
  const left = await own();
  if (left < before) {
    wait = FIRST_RETRY_MS;
    touch();
  }
  if (left > 0) {
    if (timer !== null) clearTimeout(timer);
    timer = setTimeout(() => void handOver(), wait);
    wait = Math.min(LAST_RETRY_MS, wait * 1.6);
  }
}

/**
 * Puts something into the box; it is safe on disk when this returns, and goes to the server as soon as that answers.
 * @param {string} path
 * @param {Record<string, unknown>} body
 * @param {string} label
 * @param {string} [key]
 */
export async function post(path, body, label, key = newKey()) {
  const outbox = await box();
  await outbox.add({ key, path, body, label });
  void handOver();
}
