// SPDX-License-Identifier: MIT
// What people entered without a network, until the server has it. Each entry carries a key under which the server
// carries it out once, however often it is sent. An entry leaves the box only on the server's answer; what the server
// refuses stays and is shown until somebody has read it. An entry is its author's: it goes while they are signed in, or after
// it was handed over by name to whoever is; the server looks at both and puts a hand-over on record.

import { Problem } from './api.js';

/**
 * @typedef {object} Entry
 * @property {string} key idempotency key, and the entry's own
 * @property {number} order entries go in the order they were made
 * @property {string} path where it is posted
 * @property {Record<string, unknown>} body
 * @property {string} label what it is, for people
 * @property {string} at instant it was made
 * @property {'waiting' | 'refused' | 'clash'} state
 * @property {string} detail why it was refused, or what clashed
 * @property {string} author who was signed in when it was entered
 * @property {string} [handed] to whom it was handed over since
 */

const NAME = 'clumpwise';
/** The problem that tells an entry of somebody else. */
const AUTHOR = 'urn:clumpwise:problem:author';
const VERSION = 1;

/** Who hands it over. What an older page left behind names nobody. @param {Entry} entry */
export const ownerOf = (entry) => entry.handed || entry.author || '';

/** @param {IDBFactory} factory @returns {Promise<IDBDatabase>} */
export function openBox(factory) {
  return new Promise((resolve, reject) => {
    const request = factory.open(NAME, VERSION);
    request.onupgradeneeded = () => {
      request.result.createObjectStore('outbox', { keyPath: 'key' });
      request.result.createObjectStore('kept');
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

/**
 * Runs one piece of work in a transaction; done only when it is on disk.
 * @template T
 * @param {IDBDatabase} db
 * @param {'outbox' | 'kept'} store
 * @param {IDBTransactionMode} mode
 * @param {(store: IDBObjectStore) => IDBRequest<T>} work
 * @returns {Promise<T>}
 */
function within(db, store, mode, work) {
  return new Promise((resolve, reject) => {
    const transaction = db.transaction(store, mode, { durability: 'strict' });
    const request = work(transaction.objectStore(store));
    transaction.oncomplete = () => resolve(request.result);
    transaction.onabort = () => reject(transaction.error);
    transaction.onerror = () => reject(transaction.error);
  });
}

export class Outbox {
  /**
   * @param {IDBDatabase} db
   * @param {(entry: Entry) => Promise<any>} post sends one entry, throws a Problem when the answer is no
   * @param {() => string} me who is signed in here, '' for nobody
   */
  constructor(db, post, me) {
    this.db = db;
    this.post = post;
    this.me = me;
    this.draining = false;
    this.last = 0;
    /** @type {() => void} */
    this.changed = () => {};
  }

  /**
   * @param {{key: string, path: string, body: Record<string, unknown>, label: string}} what
   * @returns {Promise<Entry>}
   */
  async add(what) {
    // After all that waits, whatever this device's clock says by now: it may have been put right since.
    const waiting = (await this.all()).at(-1)?.order ?? 0;
    this.last = Math.max(Date.now() * 1000, waiting + 1, this.last + 1);
    /** @type {Entry} */
    const entry = {
      ...what,
      author: this.me(),
      order: this.last,
      at: new Date().toISOString(),
      state: 'waiting',
      detail: '',
    };
    await within(this.db, 'outbox', 'readwrite', (s) => s.put(entry));
    this.changed();
    return entry;
  }

  /** @returns {Promise<Entry[]>} */
  async all() {
    const entries = /** @type {Entry[]} */ (await within(this.db, 'outbox', 'readonly', (s) => s.getAll()));
    return entries.sort((a, b) => a.order - b.order);
  }

  /** All that waits for somebody else is now to be handed over by whoever is signed in. @param {string} owner */
  async takeOver(owner) {
    for (const entry of await this.all())
      if (ownerOf(entry) === owner)
        await within(this.db, 'outbox', 'readwrite', (s) => s.put({ ...entry, handed: this.me() }));
    this.changed();
  }

  /** @param {string} key */
  async drop(key) {
    await within(this.db, 'outbox', 'readwrite', (s) => s.delete(key));
    this.changed();
  }

  /** @param {Entry} entry @param {'refused' | 'clash'} state @param {string} detail */
  async mark(entry, state, detail) {
    await within(this.db, 'outbox', 'readwrite', (s) => s.put({ ...entry, state, detail }));
    this.changed();
  }

  /**
   * Hands over what waits and is of whoever is signed in, oldest first. Stops at the first entry that gets no answer.
   * @returns {Promise<'empty' | 'unreachable' | 'sign in' | 'busy'>}
   */
  async drain() {
    if (this.draining) return 'busy';
    this.draining = true;
    try {
      for (const entry of await this.all()) {
        if (entry.state !== 'waiting' || ownerOf(entry) !== this.me()) continue;
        const stop = await this.handOver(entry);
        if (stop) return stop;
      }
      return 'empty';
    } finally {
      this.draining = false;
    }
  }

  /** @param {Entry} entry @returns {Promise<'unreachable' | 'sign in' | null>} */
  async handOver(entry) {
    try {
      const answer = await this.post(entry);
      const clash = clashOf(answer);
      if (clash !== null) await this.mark(entry, 'clash', clash);
      else await this.drop(entry.key);
      return null;
    } catch (error) {
      const status = error instanceof Problem ? error.status : 0;
      // Somebody else is signed in by now, in another tab: it waits for its own.
      if (status === 401 || (error instanceof Problem && error.body.type === AUTHOR)) return 'sign in';
      // No answer, or one that says "not now": the entry waits, nothing behind it overtakes it.
      if (status === 0 || status === 408 || status === 425 || status === 429 || status >= 500) return 'unreachable';
      await this.mark(entry, 'refused', error instanceof Error ? error.message : String(error));
      return null;
    }
  }

  /** Keeps a copy of something fetched, for when there is no network. @param {string} name @param {unknown} value */
  async keep(name, value) {
    await within(this.db, 'kept', 'readwrite', (s) => s.put(value, name));
  }

  /** Drops the copies of what was fetched. What was entered and answered on this device stays. */
  async forgetCopies() {
    const names = await within(this.db, 'kept', 'readonly', (s) => s.getAllKeys());
    for (const name of names)
      if (String(name).startsWith('/')) await within(this.db, 'kept', 'readwrite', (s) => s.delete(name));
  }

  /** @param {string} name @returns {Promise<any>} */
  async recall(name) {
    return within(this.db, 'kept', 'readonly', (s) => s.get(name));
  }
}

/** What a confirmation clashed with, or null. @param {any} answer */
function clashOf(answer) {
  if (!Array.isArray(answer)) return null;
  const clash = answer.find((a) => a && a.outcome === 'clash');
  return clash ? String(clash.detail ?? '') : null;
}
