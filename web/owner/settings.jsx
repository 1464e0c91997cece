// SPDX-License-Identifier: MIT
// The nursery's settings; the people who may sign in and the keys of programs stand beside them.

import { useState } from 'preact/hooks';
import { send } from '../shared/api.js';
import { Field, Form, say } from '../shared/dialog.jsx';
import { useSeason } from '../shared/season.jsx';
import { t, word } from '../shared/text.js';
import { touch } from '../shared/use.js';
import { Keys, People } from './people.jsx';

export function SettingsPage() {
  const { nursery, session } = useSeason();
  return (
    <>
      <h1 class="page-title">{t('settings.title')}</h1>
      <div class="two">
        <section class="sheet">
          <h2>{t('settings.nursery')}</h2>
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
      </div>
    </>
  );
}

/** @param {{settings: Record<string, any>}} props */
function Settings({ settings }) {
  const [typed, setTyped] = useState(/** @type {Record<string, string>} */ ({}));
  return (
    <Form
      class="form settings-form"
      save={t('action.save')}
      disabled={Object.keys(typed).length === 0}
      onSave={async () => {
        await send('PATCH', '/api/settings', typed);
        setTyped({});
        say(t('settings.saved'));
        touch();
      }}
    >
      {Object.entries(settings).map(([name, value]) => (
        <Setting key={name} name={name} value={typed[name] ?? String(value ?? '')} onValue={(now) => setTyped({ ...typed, [name]: now })} />
      ))}
    </Form>
  );
}

/** What is one of a few words is chosen, not typed. @type {Record<string, [string, import('../shared/text.js').Key][]>} */
const CHOICES = {
  demand_caps: [['0', 'choice.no'], ['1', 'choice.yes']],
  counts_look: [['0', 'choice.no'], ['1', 'choice.yes']],
  best_first: [['0', 'choice.no'], ['1', 'choice.yes']],
  supply: [['counted', 'supply.counted'], ['projected', 'supply.projected']],
  tiers_first: [['0', 'choice.no'], ['1', 'choice.yes']],
  timetable: [['us-435', 'timetable.us-435'], ['eu-2011-83', 'timetable.eu-2011-83'], ['uk-cra', 'timetable.uk-cra'], ['own', 'timetable.own']],
};

/** @param {{name: string, value: string, onValue: (value: string) => void}} props */
function Setting({ name, value, onValue }) {
  const choices = CHOICES[name];
  return (
    <Field label={word('setting', name)} hint={name === 'holidays' ? t('setting.holidays.hint') : undefined}>
      {choices ? (
        <select value={value} onChange={(e) => onValue(e.currentTarget.value)}>
          {choices.map(([choice, key]) => (
            <option key={choice} value={choice}>
              {t(key)}
            </option>
          ))}
        </select>
      ) : (
        <input type={/** @type {any} */ (name === 'promised_by' ? 'date' : 'text')} value={value} onInput={(e) => onValue(e.currentTarget.value)} />
      )}
    </Field>
  );
}
