// SPDX-License-Identifier: MIT
// What the walk says aloud, and whether the phone shakes: each by choice, kept on the device.

import { spokenLocale } from '../shared/strings/text.js';
import { readKept } from '../shared/net/use.js';

/** @param {string} text */
export function speak(text) {
  if (!readKept('walk.speech', false) || !('speechSynthesis' in window)) return;
  const said = new SpeechSynthesisUtterance(text);
  said.lang = spokenLocale();
  window.speechSynthesis.cancel();
  window.speechSynthesis.speak(said);
}

/** A slot was ticked, or a yes or a no is to be felt. @param {number | number[]} [milliseconds] */
export function shake(milliseconds = 25) {
  if (readKept('walk.shake', false)) navigator.vibrate?.(milliseconds);
}
