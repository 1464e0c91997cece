// SPDX-License-Identifier: MIT
// A line across a picture that is dragged, or moved by the keys that a slider has.

/**
 * @param {object} line
 * @param {number} line.value where it stands
 * @param {number} line.most how far it goes, from 0
 * @param {number} line.step of a page key
 * @param {(x: number) => number} line.at the value at so many pixels from the picture's left side
 * @param {(value: number) => void} line.onValue told a whole number from 0 to the most
 */
export function slide({ value, most, step, at, onValue }) {
  const set = (/** @type {number} */ next) => onValue(Math.max(0, Math.min(most, Math.round(next))));
  /** @param {PointerEvent & {currentTarget: HTMLElement}} event */
  const drag = (event) => {
    if (event.type === 'pointerdown') event.currentTarget.setPointerCapture(event.pointerId);
    else if (!event.currentTarget.hasPointerCapture(event.pointerId)) return;
    set(at(event.clientX - event.currentTarget.getBoundingClientRect().left));
  };
  /** @param {KeyboardEvent} event */
  const pressed = (event) => {
    /** @type {Record<string, number>} */
    const to = {
      ArrowLeft: value - 1,
      ArrowDown: value - 1,
      ArrowRight: value + 1,
      ArrowUp: value + 1,
      PageDown: value - step,
      PageUp: value + step,
      Home: 0,
      End: most,
    };
    const next = to[event.key];
    if (next === undefined) return;
    event.preventDefault();
    set(next);
  };
  return { drag, pressed };
}
