// SPDX-License-Identifier: MIT
// Long requests: what is under way for more than half a second, how far it is, and giving it up. Every request carries a
// name (api.js); the server is asked after it under that name while it has not answered.

import { newKey, send, watchRequests } from './api.js';
import { makeStore } from './use.js';

/**
 * @typedef {object} Task
 * @property {string} name
 * @property {'waiting' | 'working' | 'given-up'} state
 * @property {string} what the part at work, in the server's word
 * @property {number} done
 * @property {number} all 0 = not known
 * @property {boolean} writes it can be given up by hand; what only reads is given up by leaving
 */

/** Shown after so long, and asked after so often. */
const SHOW_MS = 500;
const ASK_MS = 350;

export const tasks = makeStore(/** @type {Task[]} */ ([]));

/** @param {string} name @param {Partial<Task>} more */
function put(name, more) {
  const before = tasks.get().find((t) => t.name === name);
  const after = /** @type {Task} */ ({ ...before, name, ...more });
  tasks.set(before ? tasks.get().map((t) => (t === before ? after : t)) : [...tasks.get(), after]);
}

/** @param {string} name */
async function ask(name) {
  try {
    return await send('GET', `/api/tasks/${name}`, undefined, { task: null });
  } catch {
    return null; // contact says it
  }
}

/** @param {boolean} writes @returns {{name: string, ended: (left: boolean) => void}} */
function begun(writes) {
  const name = newKey();
  let over = false;
  const look = async () => {
    const now = await ask(name);
    if (over) return;
    // Not known there: it is still on its way, or its answer is.
    if (now && now.state !== 'unknown')
      put(name, { state: now.state, what: now.what, done: now.done, all: now.all, writes });
    timer = setTimeout(look, ASK_MS);
  };
  let timer = setTimeout(look, SHOW_MS);
  return {
    name,
    ended(left) {
      over = true;
      clearTimeout(timer);
      if (!tasks.get().some((t) => t.name === name)) return;
      tasks.set(tasks.get().filter((t) => t.name !== name));
      if (left) void send('DELETE', `/api/tasks/${name}`, undefined, { task: null }).catch(() => {});
    },
  };
}

/** Asks that it be given up; the request itself then says what became of it. @param {string} name */
export async function giveUp(name) {
  put(name, { state: 'given-up' });
  await send('DELETE', `/api/tasks/${name}`, undefined, { task: null }).catch(() => {});
}

/** Was this the answer to having been given up? @param {unknown} error */
export function wasGivenUp(error) {
  return String(/** @type {any} */ (error)?.body?.type ?? '').endsWith(':given-up');
}

watchRequests(begun);
