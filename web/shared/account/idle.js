// SPDX-License-Identifier: MIT
// Has anybody touched the page lately? The page asks the server by itself all the time, so the server cannot tell. All tabs of
// one browser count as one.

const NAME = 'clumpwise.used';
const LOOK_MS = 5000;

/**
 * Runs `onIdle` once when nobody has touched any tab for so long.
 * @param {number} ms
 * @param {() => void} onIdle
 * @returns {() => void} stops watching
 */
export function watchIdle(ms, onIdle) {
  let mine = Date.now();
  const shared = () => {
    try {
      return Number(localStorage.getItem(NAME) ?? 0);
    } catch {
      return 0; // a private window: this tab only
    }
  };
  const note = () => {
    mine = Date.now();
    try {
      localStorage.setItem(NAME, String(mine));
    } catch {
      // as above
    }
  };
  const used = () => {
    if (Math.abs(Date.now() - mine) >= LOOK_MS / 5) note();
  };
  // By the clock, not by a long timer: a machine that slept has not been used.
  const look = () => {
    const ago = Date.now() - Math.max(mine, shared());
    if (ago < 0) note(); // the clock was put back: from now on
    if (ago < ms) return;
    stop();
    onIdle();
  };
  const timer = setInterval(look, Math.min(LOOK_MS, ms / 4));
  const events = ['pointerdown', 'keydown', 'wheel', 'touchmove'];
  for (const name of events) window.addEventListener(name, used, { capture: true, passive: true });
  document.addEventListener('visibilitychange', look);
  const stop = () => {
    clearInterval(timer);
    for (const name of events) window.removeEventListener(name, used, { capture: true });
    document.removeEventListener('visibilitychange', look);
  };
  return stop;
}
