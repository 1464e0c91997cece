// SPDX-License-Identifier: MIT
// What was just made firm, and its undoing: taken back line by line, all of it or nothing, on record.

import { useState } from 'preact/hooks';
import { newKey, send } from '../shared/api.js';
import { ReasonDialog, say } from '../shared/dialog.jsx';
import { t } from '../shared/text.js';
import { touch } from '../shared/use.js';

/** @typedef {{text: string, placed?: number, items: {order: string, line: number, variety: string, quantity: number}[]}} Made */

/** @param {{made: Made | null, onUndone: () => void}} props */
export function UndoMade({ made, onUndone }) {
  const [asking, setAsking] = useState(false);
  const [key, setKey] = useState(newKey);
  if (!made || made.items.length === 0) return null;
  return (
    <div class="note" role="status">
      {made.text} {made.placed !== undefined && made.placed > made.items.reduce((sum, i) => sum + i.quantity, 0) ? t('undo.more') : ''}{' '}
      <button type="button" onClick={() => setAsking(true)}>
        {t('undo.open')}
      </button>
      {asking && (
        <ReasonDialog
          title={t('undo.open')}
          about={t('undo.about', { n: made.items.length })}
          save={t('undo.save')}
          onClose={() => setAsking(false)}
          onSave={async (why) => {
            await send('POST', '/api/allocation/undo', { items: made.items, why }, { key });
            setKey(newKey());
            say(t('undo.done'));
            touch();
            onUndone();
          }}
        />
      )}
    </div>
  );
}
