// SPDX-License-Identifier: MIT
// In which language a buyer is written to.

import { LANGUAGES } from '../shared/strings/languages.js';
import { t } from '../shared/strings/text.js';

/** @param {{value: string, onLanguage: (language: string) => void}} props "": the nursery's */
export function LanguageSelect({ value, onLanguage }) {
  return (
    <select value={value} onChange={(e) => onLanguage(e.currentTarget.value)}>
      <option value="">{t('new.language.none')}</option>
      {Object.entries(LANGUAGES).map(([code, { name }]) => (
        <option key={code} value={code} lang={code}>
          {name}
        </option>
      ))}
    </select>
  );
}
