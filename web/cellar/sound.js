// SPDX-License-Identifier: MIT
// Two sounds that nobody mixes up: a short high one for yes, a long low one for no; each with a shake of the device if that was chosen.

import { shake } from './speech.js';

/** @type {AudioContext | null} */
let audio = null;

/** @param {number} hertz @param {number} from @param {number} seconds @param {OscillatorType} shape */
function tone(hertz, from, seconds, shape) {
  audio ??= new AudioContext();
  void audio.resume();
  const source = audio.createOscillator();
  const volume = audio.createGain();
  source.type = shape;
  source.frequency.value = hertz;
  const start = audio.currentTime + from;
  volume.gain.setValueAtTime(0.0001, start);
  volume.gain.exponentialRampToValueAtTime(0.4, start + 0.01);
  volume.gain.exponentialRampToValueAtTime(0.0001, start + seconds);
  source.connect(volume).connect(audio.destination);
  source.start(start);
  source.stop(start + seconds);
}

export function soundYes() {
  try {
    tone(1180, 0, 0.12, 'sine');
    shake(40);
  } catch {
    // no loudspeaker: the text says it too
  }
}

export function soundNo() {
  try {
    tone(170, 0, 0.35, 'sawtooth');
    tone(130, 0.4, 0.5, 'sawtooth');
    shake([200, 80, 200]);
  } catch {
    // as above
  }
}
