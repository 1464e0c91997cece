// SPDX-License-Identifier: MIT
// A number in large keys; a real keyboard works as well.

import { useLayoutEffect, useRef } from 'preact/hooks';
import { t } from '../shared/strings/text.js';

const MOST_DIGITS = 6;

/** @param {{label: string, value: string, onValue: (value: string) => void, wrong?: string, onEnter?: () => void}} props */
export function Keypad({ label, value, onValue, wrong, onEnter }) {
  const input = useRef(/** @type {HTMLInputElement | null} */ (null));
  useLayoutEffect(() => input.current?.focus({ preventScroll: true }), [label]);
  const put = (/** @type {string} */ text) =>
    onValue(
      text
        .replace(/\D/g, '')
        .replace(/^0+(?=\d)/, '')
        .slice(0, MOST_DIGITS),
    );
  return (
    <div class="keypad">
      <label class="keypad-label">
        <span>{label}</span>
        <input
          ref={input}
          class="keypad-value"
          inputMode="none"
          autoComplete="off"
          value={value}
          aria-invalid={wrong ? 'true' : undefined}
          onInput={(e) => put(e.currentTarget.value)}
          onKeyDown={(e) => e.key === 'Enter' && onEnter?.()}
        />
      </label>
      {wrong && (
        <p class="wrong" role="alert">
          {wrong}
        </p>
      )}
      <div class="keys">
        {['1', '2', '3', '4', '5', '6', '7', '8', '9'].map((d) => (
          <button key={d} type="button" class="key" onClick={() => put(value + d)}>
            {d}
          </button>
        ))}
        <button type="button" class="key" aria-label={t('keypad.clear')} onClick={() => put('0')}>
          C
        </button>
        <button type="button" class="key" onClick={() => put(`${value}0`)}>
          0
        </button>
        <button type="button" class="key" aria-label={t('keypad.back')} onClick={() => put(value.slice(0, -1) || '0')}>
          ⌫
        </button>
      </div>
    </div>
  );
}
