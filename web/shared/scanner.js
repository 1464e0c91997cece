// SPDX-License-Identifier: MIT
// A scanner types like a keyboard, only faster than any hand: characters less than GAP_MS apart, ended by Enter.

export const GAP_MS = 35;
export const LEAST = 3;
/** But the slip of a season's second parcel reads "P2". */
const SHORT = /^[A-Z]\d$/i;

/** Tells a scan from typing by the time between keys. Knows nothing of the page. */
export class Wedge {
  constructor() {
    this.text = '';
    this.last = -Infinity;
  }

  /**
   * Takes one key as it is pressed. Gives the scanned text when the key ends a scan, else null.
   * @param {string} key as KeyboardEvent.key has it
   * @param {number} at milliseconds, of any clock
   * @returns {string | null}
   */
  press(key, at) {
    const quick = at - this.last < GAP_MS;
    if (key === 'Shift') return null; // capitals: the scanner holds Shift in between
    this.last = at;
    if (key === 'Enter') {
      const long = this.text.length >= LEAST || SHORT.test(this.text);
      const text = quick && long ? this.text : null;
      this.text = '';
      return text;
    }
    if (key.length !== 1) {
      this.text = '';
      return null;
    }
    this.text = quick ? this.text + key : key;
    return null;
  }
}

/**
 * Listens for scans whatever has the focus. Characters that a scan typed into a field are taken out of it again.
 * @param {Window} window
 * @param {(text: string) => void} onScan
 * @returns {() => void} stop listening
 */
export function listen(window, onScan) {
  const wedge = new Wedge();
  /** @type {{field: HTMLInputElement | HTMLTextAreaElement, value: string} | null} */
  let before = null;
  /** @param {KeyboardEvent} event */
  const pressed = (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
    if (wedge.text === '' || event.timeStamp - wedge.last >= GAP_MS) before = snapshot(event); // before its first character
    const text = wedge.press(event.key, event.timeStamp);
    if (text === null) return;
    event.preventDefault();
    event.stopPropagation();
    if (before) restore(before);
    onScan(text);
  };
  window.addEventListener('keydown', pressed, true);
  return () => window.removeEventListener('keydown', pressed, true);
}

/** @param {KeyboardEvent} event */
function snapshot(event) {
  const field = event.target;
  return field instanceof HTMLInputElement || field instanceof HTMLTextAreaElement
    ? { field, value: field.value }
    : null;
}

/** @param {{field: HTMLInputElement | HTMLTextAreaElement, value: string}} before */
function restore(before) {
  before.field.value = before.value;
  before.field.dispatchEvent(new Event('input', { bubbles: true }));
}

/**
 * What a crate tag says: its lot, and the place when the tag carries one. The parts stand with blanks, "@" or "/" between.
 * @param {string} text
 */
export function readTag(text) {
  const parts = text
    .trim()
    .split(/[\s@|/]+/)
    .filter(Boolean);
  return { lot: parts[0] ?? '', place: parts[1] ?? null };
}
