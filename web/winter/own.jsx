// SPDX-License-Identifier: MIT
// What the owner expects of a clump, and to be asked for, said once a variety: it counts as knowledge, is named in the why, and
// scored in hindsight.

import { useState } from 'preact/hooks';
import { send } from '../shared/net/api.js';
import { Field, Form, say } from '../shared/dialog.jsx';
import { useSeason } from '../shared/season.jsx';
import { t } from '../shared/strings/text.js';
import { touch } from '../shared/net/use.js';

/** @typedef {(code: string, range: [string, string], began: [number | null, number | null]) => Promise<any>} Save */
/** @typedef {{title: Key, none: Key, said: Key, say: Key, low: Key, least: number, most: number, step: number | 'any', save: Save}} Asks */
/** @typedef {import('../shared/strings/text.js').Key} Key */

/** @type {Record<'clump' | 'asked', Asks>} */
const ASKS = {
  clump: {
    title: 'own.title',
    none: 'own.none',
    said: 'own.said',
    say: 'own.say',
    low: 'own.low',
    least: 0.1,
    most: 200,
    step: 0.1,
    save: (code, [from, to], [low, high]) =>
      send(
        'PATCH',
        `/api/varieties/${encodeURIComponent(code)}`,
        { own_low: Number(from), own_high: Number(to) },
        { base: { own_low: low, own_high: high }, of: code },
      ),
  },
  asked: {
    title: 'own.asked.title',
    none: 'own.asked.none',
    said: 'own.asked.said',
    say: 'own.asked.say',
    low: 'own.asked.low',
    least: 0,
    most: 1000000,
    step: 'any',
    save: (code, [from, to], [low, high]) =>
      send(
        'PATCH',
        `/api/keep/${encodeURIComponent(code)}`,
        { demand: from === '' ? '' : `${from}..${to}` },
        { base: { demand: low === null ? null : `${low}..${high}` }, of: code },
      ),
  },
};

/** @param {{of: 'clump' | 'asked', code: string, low: number | null, high: number | null, owner: boolean}} props */
export function OwnEstimate({ of, code, low, high, owner }) {
  const { format } = useSeason();
  const [open, setOpen] = useState(false);
  const asks = ASKS[of];
  const shown = (/** @type {number} */ v) => format.decimal(v, of === 'asked' && Number.isInteger(v) ? 0 : 1);
  if (!owner && low === null) return null;
  return (
    <section class="sheet own">
      <h2>{t(asks.title)}</h2>
      <p>
        {low === null || high === null ? t(asks.none) : t(asks.said, { low: shown(low), high: shown(high) })}{' '}
        {owner && !open && (
          <button type="button" onClick={() => setOpen(true)}>
            {t(low === null ? asks.say : 'own.change')}
          </button>
        )}
      </p>
      {open && <Range asks={asks} code={code} low={low} high={high} onDone={() => setOpen(false)} />}
    </section>
  );
}

/** @param {{asks: Asks, code: string, low: number | null, high: number | null, onDone: () => void}} props */
function Range({ asks, code, low, high, onDone }) {
  const [from, setFrom] = useState(low === null ? '' : String(low));
  const [to, setTo] = useState(high === null ? '' : String(high));
  // What this was typed over, whatever is read anew meanwhile.
  const [began] = useState(/** @type {[number | null, number | null]} */ ([low, high]));
  const empty = from === '' && to === '';
  const field = (/** @type {string} */ value, /** @type {(v: string) => void} */ set) => (
    <input
      type="number"
      min={asks.least}
      max={asks.most}
      step={asks.step}
      value={value}
      onInput={(e) => set(e.currentTarget.value)}
    />
  );
  return (
    <Form
      save={empty ? t('own.take_back') : t('action.save')}
      disabled={(from === '') !== (to === '')}
      onCancel={onDone}
      onSave={async () => {
        await asks.save(code, [from, to], began);
        say(t('own.saved', { code }));
        touch();
        onDone();
      }}
    >
      <Field label={t(asks.low)} hint={t('own.hint')}>
        {field(from, setFrom)}
      </Field>
      <Field label={t('own.high')}>{field(to, setTo)}</Field>
    </Form>
  );
}
