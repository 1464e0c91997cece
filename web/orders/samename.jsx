// SPDX-License-Identifier: MIT
// A file names a variety as one on record is named, under another code: is it new, or is the code? Asked wherever files come in.

import { t } from '../shared/strings/text.js';

/** @typedef {'new' | 'code'} SameName */

/** @param {{busy: boolean, onAnswer: (same: SameName) => void}} props */
export function AskSameName({ busy, onAnswer }) {
  return (
    <div class="form-actions" role="group" aria-label={t('load.same_ask')}>
      <p>{t('load.same_ask')}</p>
      <button type="button" disabled={busy} onClick={() => onAnswer('code')}>
        {t('load.same_code')}
      </button>
      <button type="button" disabled={busy} onClick={() => onAnswer('new')}>
        {t('load.same_new')}
      </button>
    </div>
  );
}
