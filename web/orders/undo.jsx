// SPDX-License-Identifier: MIT
// What was just made firm, and its undoing: the whole run, as long as nothing rests on it, on record.

import { useState } from 'preact/hooks';
import { newKey, send } from '../shared/net/api.js';
import { ReasonDialog, say } from '../shared/dialog.jsx';
import { t } from '../shared/strings/text.js';
import { touch } from '../shared/net/use.js';

/** @typedef {{text: string, run: number, placed: number}} Made */

/** @param {{made: Made | null, onUndone: () => void}} props */
export function UndoMade({ made, onUndone }) {
  const [asking, setAsking] = useState(false);
  const [key, setKey] = useState(newKey);
  if (!made) return null;
  return (
    <div class="note" role="status">
      {made.text}{' '}
      <button type="button" onClick={() => setAsking(true)}>
        {t('undo.open')}
      </button>
      {asking && (
        <ReasonDialog
          title={t('undo.open')}
          about={t('undo.about', { n: made.placed })}
          save={t('undo.save')}
          onClose={() => setAsking(false)}
          onSave={async (why) => {
            await send('POST', '/api/allocation/undo', { run: made.run, why }, { key });
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
