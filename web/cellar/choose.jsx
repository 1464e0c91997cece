// SPDX-License-Identifier: MIT
// One of many by scanning or typing a little of it.

import { useState } from 'preact/hooks';
import { plain } from '../shared/grid/grid.js';
import { t } from '../shared/strings/text.js';

const MOST_CHOICES = 8;

/** @param {{label: string, items: {code: string, words: string}[], chosen?: string, onChoose: (code: string) => void}} props */
export function Choose({ label, items, chosen, onChoose }) {
  const [text, setText] = useState('');
  const query = plain(text);
  const found =
    query === '' ? [] : items.filter((i) => plain(`${i.code} ${i.words}`).includes(query)).slice(0, MOST_CHOICES);
  return (
    <div class="choose">
      <label class="keypad-label">
        <span>{label}</span>
        <input
          class="large-field"
          autoComplete="off"
          autoCapitalize="characters"
          value={text}
          placeholder={chosen ?? t('entry.scan_or_type')}
          onInput={(e) => setText(e.currentTarget.value)}
          onKeyDown={(e) => e.key === 'Enter' && found[0] && onChoose(found[0].code)}
        />
      </label>
      <ul class="choices">
        {found.map((i) => (
          <li key={i.code}>
            <button type="button" class="thumb" onClick={() => onChoose(i.code)}>
              <b>{i.code}</b> <span>{i.words}</span>
            </button>
          </li>
        ))}
      </ul>
      {query !== '' && found.length === 0 && <p class="large-note">{t('entry.nothing_found')}</p>}
    </div>
  );
}
