// SPDX-License-Identifier: MIT
// The nursery's settings; the people who may sign in and the keys of programs stand beside them.

import { useEffect, useState } from 'preact/hooks';
import { Problem, send } from '../shared/net/api.js';
import { readNumber } from '../shared/strings/format.js';
import { Field, Form, say } from '../shared/dialog.jsx';
import { useSeason } from '../shared/season.jsx';
import { LANGUAGES, isLanguage } from '../shared/strings/languages.js';
import { t, word } from '../shared/strings/text.js';
import { touch } from '../shared/net/use.js';
import { Hook } from './hook.jsx';
import { MailAccount } from './mail.jsx';
import { Keys, People } from './people.jsx';
import { PERCENT, toKeep, toShow } from '../shared/percent.js';
import { grouped } from './settings.js';
import { ShipDay } from './shipday.jsx';

/** @typedef {import('../shared/strings/text.js').Key} Key */
/** @typedef {import('../shared/strings/languages.js').Language} Language */

export function SettingsPage() {
  const { nursery, session } = useSeason();
  return (
    <>
      <h1 class="page-title">{t('settings.title')}</h1>
      <div class="two">
        <section class="sheet wide">
          <h2>{t('settings.nursery')}</h2>
          <ShipDay ship={nursery.ship} />
          <Settings settings={nursery.settings ?? {}} />
        </section>
        <section class="sheet">
          <h2>{t('settings.people')}</h2>
          <People accounts={session.accounts} />
        </section>
        <section class="sheet">
          <h2>{t('settings.keys')}</h2>
          <Keys />
        </section>
        <section class="sheet">
          <h2>{t('mail.title')}</h2>
          <MailAccount />
        </section>
        <section class="sheet">
          <h2>{t('told.title')}</h2>
          <Hook />
        </section>
      </div>
    </>
  );
}

/** @param {{settings: Record<string, any>}} props */
function Settings({ settings }) {
  const [typed, setTyped] = useState(/** @type {Record<string, string>} */ ({}));
  const [shown, setShown] = useState(/** @type {Record<string, string>} */ ({}));
  // What was saved here stands until the settings are read anew: else whoever types on at once would clash with themselves.
  const [saved, setSaved] = useState(/** @type {Record<string, string>} */ ({}));
  useEffect(() => setSaved({}), [settings]);
  const all = { ...settings, ...saved };
  /** @param {string} name @param {string} before @param {string} now */
  const type = (name, before, now) => {
    // What was shown when it was typed over: settings read anew meanwhile do not count as seen.
    if (!(name in typed)) setShown((all) => ({ ...all, [name]: before }));
    setTyped((all) => ({ ...all, [name]: now }));
  };
  return (
    <Form
      class="form settings-form"
      save={t('action.save')}
      disabled={Object.keys(typed).length === 0}
      onSave={async () => {
        const done = await save(typed, settings, shown);
        setSaved((all) => ({ ...all, ...done }));
        // What was typed on while it was saved is still to be saved.
        setTyped((now) => Object.fromEntries(Object.entries(now).filter(([name, text]) => text !== typed[name])));
        say(t('settings.saved'));
        touch();
      }}
    >
      {grouped(Object.keys(all)).map(({ ask, names }) => (
        <Question key={ask} ask={ask}>
          {names.map((name) => (
            <Setting
              key={name}
              name={name}
              value={typed[name] ?? toShow(name, String(all[name] ?? ''))}
              onValue={(now) => type(name, String(all[name] ?? ''), now)}
            />
          ))}
        </Question>
      ))}
    </Form>
  );
}

/**
 * Figures are taken in the reader's own writing, and what is refused is named as the page names it.
 * @param {Record<string, string>} typed @param {Record<string, any>} settings
 * @param {Record<string, string>} shown what each showed when it was typed over
 * @returns what was saved
 */
async function save(typed, settings, shown) {
  const plain = { ...typed };
  for (const [name, text] of Object.entries(typed)) {
    const n = readNumber(text);
    if (text.trim() !== '' && /^-?\d+(\.\d+)?$/.test(String(settings[name])) && Number.isNaN(n))
      throw new Error(t('error.setting', { name: word('setting', name), text }));
    if (PERCENT[name]) {
      const kept = toKeep(name, n);
      if (kept === null)
        throw new Error(
          t('error.percent', { name: word('setting', name), low: PERCENT[name][0], high: PERCENT[name][1], text }),
        );
      plain[name] = kept;
    } else if (!Number.isNaN(n) && !CHOICES[name] && /^-?\d+(\.\d+)?$/.test(String(settings[name])))
      plain[name] = String(n);
  }
  try {
    await send('PATCH', '/api/settings', plain, {
      of: t('settings.one'),
      base: Object.fromEntries(Object.keys(plain).map((name) => [name, shown[name]])),
    });
  } catch (e) {
    if (e instanceof Problem)
      e.message = e.message.replace(/^([a-z_]+):? /, (all, name) =>
        name in settings ? `${word('setting', name)}: ` : all,
      );
    throw e;
  }
  return plain;
}

/**
 * What is one of a few words is chosen, not typed.
 * @type {Record<string, [string, Key | Language][]>}
 */
const CHOICES = {
  demand_caps: [
    ['0', 'choice.no'],
    ['1', 'choice.yes'],
  ],
  counts_look: [
    ['0', 'choice.no'],
    ['1', 'choice.yes'],
  ],
  best_first: [
    ['0', 'choice.no'],
    ['1', 'choice.yes'],
  ],
  supply: [
    ['counted', 'supply.counted'],
    ['projected', 'supply.projected'],
  ],
  tiers_first: [
    ['0', 'choice.no'],
    ['1', 'choice.yes'],
  ],
  hold_unpaid: [
    ['none', 'hold_unpaid.none'],
    ['retail', 'hold_unpaid.retail'],
    ['all', 'hold_unpaid.all'],
  ],
  language: Object.keys(LANGUAGES)
    .filter(isLanguage)
    .map((code) => [code, code]),
  timetable: [
    ['us-435', 'timetable.us-435'],
    ['eu-2011-83', 'timetable.eu-2011-83'],
    ['uk-cra', 'timetable.uk-cra'],
    ['own', 'timetable.own'],
  ],
};

/** What is rarely changed is folded. @param {{ask: string, children: import('preact').ComponentChildren}} props */
function Question({ ask, children }) {
  const asks = word('settings.ask', ask);
  if (ask === 'rare')
    return (
      <details class="settings-part">
        <summary>{asks}</summary>
        <div class="settings-fields">{children}</div>
      </details>
    );
  return (
    <fieldset class="settings-part">
      <legend>{asks}</legend>
      <div class="settings-fields">{children}</div>
    </fieldset>
  );
}

/** @param {{name: string, value: string, onValue: (value: string) => void}} props */
function Setting({ name, value, onValue }) {
  const choices = CHOICES[name];
  return (
    <Field
      label={`${word('setting', name)}${PERCENT[name] ? ' (%)' : ''}`}
      hint={word('setting', `${name}.hint`).replace(/^\w+\.hint$/, '') || undefined}
    >
      {choices ? (
        <select value={value} onChange={(e) => onValue(e.currentTarget.value)}>
          {choices.map(([choice, key]) => (
            <option key={choice} value={choice}>
              {isLanguage(key) ? LANGUAGES[key].name : t(key)}
            </option>
          ))}
        </select>
      ) : (
        <input
          type={/** @type {any} */ (name === 'promised_by' ? 'date' : 'text')}
          value={value}
          onInput={(e) => onValue(e.currentTarget.value)}
        />
      )}
    </Field>
  );
}
