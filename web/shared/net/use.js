// SPDX-License-Identifier: MIT
// What the screens share: a small store with listeners, resources that follow the nursery's revision, and contact.

import { useCallback, useEffect, useRef, useState } from 'preact/hooks';
import { Problem, get, watchContact } from './api.js';

/**
 * A value with listeners.
 * @template T
 * @param {T} first
 */
export function makeStore(first) {
  let value = first;
  /** @type {Set<() => void>} */
  const listeners = new Set();
  return {
    get: () => value,
    /** @param {T} next */
    set(next) {
      if (Object.is(next, value)) return;
      value = next;
      for (const listener of [...listeners]) listener();
    },
    /** @param {() => void} listener */
    watch(listener) {
      listeners.add(listener);
      return () => void listeners.delete(listener);
    },
  };
}

/**
 * @template T
 * @param {{get: () => T, watch: (l: () => void) => () => void}} store
 * @returns {T}
 */
export function useStore(store) {
  const [value, setValue] = useState(store.get);
  useEffect(() => {
    const update = () => setValue(() => store.get());
    update();
    return store.watch(update);
  }, [store]);
  return value;
}

/** Raised whenever any desk wrote something; every resource on screen then asks again. */
export const revision = makeStore('');
/** Does the server answer? Told by what became of the last request, never by navigator.onLine. */
export const contact = makeStore(true);

watchContact((up) => contact.set(up));

/** How often the revision is asked for. */
const POLL_MS = 2500;

/** Asks once. Called before anything else is fetched, so that what is fetched is never older than the revision known. */
export async function askRevision() {
  try {
    const now = await get('/api/revision');
    revision.set(`${now.stock}.${now.trade}.${now.figures}`);
  } catch {
    // contact says it
  }
}

export function startPolling() {
  const ask = () => void (document.visibilityState === 'hidden' || askRevision());
  const timer = setInterval(ask, POLL_MS);
  document.addEventListener('visibilitychange', ask);
  return () => {
    clearInterval(timer);
    document.removeEventListener('visibilitychange', ask);
  };
}

/** Ask all resources again now, after a write of our own. */
export function touch() {
  revision.set(`${revision.get()}+`);
}

/** After so long what got no answer, or "not now", is asked for again. */
const RETRY_MS = 4000;

/** Nobody answered, or not now: it may be otherwise in a moment. @param {unknown} error */
function isPassing(error) {
  return (
    error instanceof Problem &&
    (error.status === 0 || error.status === 408 || error.status === 429 || error.status >= 500)
  );
}

/**
 * Something fetched, kept fresh. While it is fetched again the old data stays.
 * @template {string} P
 * @param {P | null} path null = nothing to fetch yet
 * @param {{keep?: boolean}} [options] keep: the data of the address before stay, too, until the new ones are there
 * @returns {{data: import('../../contract').Got<P> | undefined, error: Error | null, loading: boolean, reload: () => void}}
 */
export function useResource(path, options = {}) {
  const now = useStore(revision);
  const [state, setState] = useState(
    /** @type {{path: string | null, data: any, error: Error | null}} */ ({ path: null, data: undefined, error: null }),
  );
  const [loading, setLoading] = useState(path !== null);
  const [again, setAgain] = useState(0);
  useEffect(() => {
    if (path === null) return undefined;
    const stop = new AbortController();
    /** @type {ReturnType<typeof setTimeout> | undefined} */
    let later;
    setLoading(true);
    get(path, { signal: stop.signal })
      .then((data) => {
        setState((s) => (s.path === path && s.data === data && !s.error ? s : { path, data, error: null }));
        setLoading(false);
      })
      .catch((error) => {
        if (stop.signal.aborted) return;
        setState((s) => ({ path, data: s.path === path || options.keep ? s.data : undefined, error }));
        setLoading(false);
        if (isPassing(error)) later = setTimeout(() => setAgain((n) => n + 1), RETRY_MS);
      });
    return () => {
      clearTimeout(later);
      stop.abort();
    };
  }, [path, now, again]);
  const reload = useCallback(() => setAgain((n) => n + 1), []);
  const own = state.path === path;
  return {
    data: own || options.keep ? state.data : undefined,
    error: own ? state.error : null,
    loading: loading || !own,
    reload,
  };
}

/**
 * What stands in the fields of a form. Two of them may change before the page is drawn again, as when a browser fills an
 * address in: each says its own part alone.
 * @template {object} T
 * @param {T} first
 * @returns {[T, (part: Partial<T>) => void]}
 */
export function useFields(first) {
  const [fields, setFields] = useState(first);
  return [fields, useCallback((/** @type {Partial<T>} */ part) => setFields((was) => ({ ...was, ...part })), [])];
}

/**
 * A value kept in this browser.
 * @template T
 * @param {string} name
 * @param {T} first
 * @returns {[T, (value: T) => void]}
 */
export function useKept(name, first) {
  const [value, setValue] = useState(() => readKept(name, first));
  const keep = useCallback(
    (/** @type {T} */ next) => {
      setValue(() => next);
      try {
        localStorage.setItem(`clumpwise.${name}`, JSON.stringify(next));
      } catch {
        // private window: it is kept for this page only
      }
    },
    [name],
  );
  return [value, keep];
}

/**
 * @template T
 * @param {string} name
 * @param {T} first
 * @returns {T}
 */
export function readKept(name, first) {
  try {
    const text = localStorage.getItem(`clumpwise.${name}`);
    return text === null ? first : JSON.parse(text);
  } catch {
    return first;
  }
}

/** Does it again and again while it is on. @param {number} ms @param {boolean} on @param {() => void} act */
export function useEvery(ms, on, act) {
  useEffect(() => {
    if (!on) return undefined;
    const timer = setInterval(act, ms);
    return () => clearInterval(timer);
  }, [on]);
}

/**
 * Runs at most once a `ms` while called often, and once more for the last call.
 * @template {unknown[]} A
 * @param {(...args: A) => void} run
 * @param {number} ms
 */
export function useThrottled(run, ms) {
  const latest = useRef(run);
  latest.current = run;
  const timer = useRef(/** @type {ReturnType<typeof setTimeout> | null} */ (null));
  const pending = useRef(/** @type {A | null} */ (null));
  return useCallback(
    (/** @type {A} */ ...args) => {
      pending.current = args;
      if (timer.current !== null) return;
      timer.current = setTimeout(() => {
        timer.current = null;
        if (pending.current) latest.current(...pending.current);
      }, ms);
    },
    [ms],
  );
}

/** The width of the window in rem, so that layout follows the reader's text size. */
export function useWidthRem() {
  const measure = () => window.innerWidth / (parseFloat(getComputedStyle(document.documentElement).fontSize) || 16);
  const [width, setWidth] = useState(measure);
  useEffect(() => {
    const update = () => setWidth(measure());
    window.addEventListener('resize', update);
    return () => window.removeEventListener('resize', update);
  }, []);
  return width;
}
