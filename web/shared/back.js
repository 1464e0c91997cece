// SPDX-License-Identifier: MIT
// What a screen was like when the reader left it: what was searched for, how far it was scrolled, where the focus was. It is kept with the
// entry of the browser's history, so that Back finds it and a new visit begins anew.

import { useCallback, useEffect, useState } from 'preact/hooks';
import { route } from './route.js';
import { useStore } from './net/use.js';

/** Scrolling is noted when it rests: a browser takes few notes in a row. */
const REST_MS = 250;
/** So long a screen may take until what was focused is there again. */
const PATIENCE_MS = 4000;

/** @param {string} name */
export const kept = (name) => /** @type {any} */ (history.state)?.kept?.[name];

/** @param {string} name @param {unknown} value */
export function keep(name, value) {
  const state = /** @type {any} */ (history.state);
  if (state?.kept?.[name] === value) return;
  history.replaceState({ ...state, kept: { ...state?.kept, [name]: value } }, '');
}

/**
 * As useState, and found again by Back.
 * @template T
 * @param {string} name
 * @param {T} first
 * @returns {[T, (value: T) => void]}
 */
export function useKeptHere(name, first) {
  const at = useStore(route);
  const [value, setValue] = useState(() => /** @type {T} */ (kept(name) ?? first));
  useEffect(() => {
    if (value !== first || kept(name) !== undefined) keep(name, value);
  }, [value, at]);
  return [value, useCallback((/** @type {T} */ next) => setValue(() => next), [])];
}

/** @param {Element | null} element what the focus is found by again */
const nameOf = (element) =>
  element instanceof HTMLAnchorElement && element.closest('main')
    ? element.getAttribute('href')
    : (element?.getAttribute('data-cell') ?? null);

/** @param {string} name */
const named = (name) =>
  [...document.querySelectorAll('main a[href], main [data-cell]')].find(
    (e) => e.getAttribute('href') === name || e.getAttribute('data-cell') === name,
  );

/** Scrolls and focuses as it was, as soon as there is enough of the screen, unless the reader does something first. */
function restore() {
  const scroll = Number(kept('scroll') ?? 0);
  const focus = /** @type {string | undefined} */ (kept('focus'));
  const until = performance.now() + PATIENCE_MS;
  let stopped = false;
  const stop = () => (stopped = true);
  for (const event of ['keydown', 'pointerdown', 'wheel'])
    window.addEventListener(event, stop, { once: true, passive: true });
  let scrolled = false;
  const step = () => {
    if (stopped) return;
    if (!scrolled && document.documentElement.scrollHeight >= scroll + window.innerHeight) {
      window.scrollTo(0, scroll);
      scrolled = true;
    }
    const found = focus === undefined ? undefined : named(focus);
    if (found instanceof HTMLElement) found.focus({ preventScroll: true });
    if ((scrolled && (focus === undefined || found)) || performance.now() > until) return;
    requestAnimationFrame(step);
  };
  requestAnimationFrame(step);
}

export function startBack() {
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;
  history.scrollRestoration = 'manual';
  window.addEventListener(
    'scroll',
    () => {
      clearTimeout(timer);
      timer = setTimeout(() => keep('scroll', Math.round(window.scrollY)), REST_MS);
    },
    { passive: true },
  );
  // Before the address changes: afterwards it would be noted of the other screen.
  const note = () => {
    clearTimeout(timer);
    keep('scroll', Math.round(window.scrollY));
    const name = nameOf(document.activeElement);
    if (name) keep('focus', name);
  };
  window.addEventListener('click', note, true);
  window.addEventListener('keydown', (e) => e.key === 'Enter' && note(), true);
  window.addEventListener('hashchange', () => {
    clearTimeout(timer);
    restore();
  });
}
