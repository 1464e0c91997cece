// SPDX-License-Identifier: MIT
// What a mail account and a shop's address have in common: a test goes before all else, and either may be forgotten.

import { proven } from '../shared/account/password.jsx';
import { newKey, send } from '../shared/net/api.js';
import { useBusy } from '../shared/dialog.jsx';
import { t, word } from '../shared/strings/text.js';
import { touch, useEvery, useResource } from '../shared/net/use.js';

/**
 * @param {object} props
 * @param {string} props.path
 * @param {string} props.label
 * @param {string} props.current the owner's password
 * @param {() => void} props.onDone
 */
export function Forget({ path, label, current, onDone }) {
  const [busy, run] = useBusy();
  return (
    <p>
      <button
        type="button"
        class="link-button"
        aria-disabled={busy}
        onClick={() =>
          run(async () => {
            await send('POST', path, proven({}, current));
            onDone();
            touch();
          })
        }
      >
        {label}
      </button>
    </p>
  );
}

/**
 * What became of the last test is shown until there is an answer.
 * @param {object} props
 * @param {string} props.path
 * @param {string} props.label
 * @param {boolean} [props.disabled]
 * @param {boolean} props.tested
 * @param {'mail.tested' | 'told.tested'} props.works said when it was
 * @param {(row: any) => boolean} props.isTest of the outbox
 */
export function SendTest({ path, label, disabled = false, tested, works, isTest }) {
  const rows = useResource('/api/outbox', { keep: true });
  const [busy, run] = useBusy();
  const test = (rows.data ?? []).find(isTest);
  const waits = test?.state === 'waits' || test?.state === 'going';
  useEvery(1000, waits, touch);
  return (
    <>
      <button
        type="button"
        disabled={disabled || waits}
        aria-disabled={busy}
        onClick={() =>
          run(async () => {
            await send('POST', path, {}, { key: newKey() });
            touch();
          })
        }
      >
        {label}
      </button>
      <p role="status">
        {test ? `${word('outbox', test.state)}. ${test.words ?? ''}` : ''} {tested ? t(works) : ''}
      </p>
    </>
  );
}
