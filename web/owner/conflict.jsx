// SPDX-License-Identifier: MIT
// Two people changed the same variety: both values are shown, and the owner says which stands.

import { Dialog } from '../shared/dialog.jsx';
import { t } from '../shared/text.js';

/**
 * @param {object} props
 * @param {{row: any, field: string, value: unknown, error: any}} props.conflict
 * @param {() => void} props.onClose
 * @param {() => void} props.onKeep
 */
export function Conflict({ conflict, onClose, onKeep }) {
  const theirs = conflict.error.body?.current?.[conflict.field];
  return (
    <Dialog title={t('conflict.title', { code: conflict.row.variety })} onClose={onClose}>
      <p>{conflict.error.message}</p>
      <dl class="facts">
        <dt>{t('conflict.yours')}</dt>
        <dd>{String(conflict.value)}</dd>
        {theirs !== undefined && (
          <>
            <dt>{t('conflict.theirs')}</dt>
            <dd>{String(theirs)}</dd>
          </>
        )}
      </dl>
      <div class="form-actions">
        <button type="button" class="main-button" onClick={onKeep}>
          {t('conflict.keep_mine')}
        </button>
        <button type="button" onClick={onClose}>
          {t('conflict.take_theirs')}
        </button>
      </div>
    </Dialog>
  );
}
