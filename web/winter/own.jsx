// SPDX-License-Identifier: MIT
// What the owner expects of a clump, said once a variety: it counts as knowledge, is named in the why, and scored in hindsight.

import { useState } from 'preact/hooks';
import { send } from '../shared/net/api.js';
import { Field, Form, say } from '../shared/dialog.jsx';
import { useSeason } from '../shared/season.jsx';
import { t } from '../shared/strings/text.js';
import { touch } from '../shared/net/use.js';

/** @param {{code: string, low: number | null, high: number | null, owner: boolean}} props */
export function OwnEstimate({ code, low, high, owner }) {
  const { format } = useSeason();
  const [open, setOpen] = useState(false);
  if (!owner && low === null) return null;
  return (
    <section class="sheet own">
      <h2>{t('own.title')}</h2>
      <p>
        {low === null || high === null
          ? t('own.none')
          : t('own.said', { low: format.decimal(low), high: format.decimal(high) })}{' '}
        {owner && !open && (
          <button type="button" onClick={() => setOpen(true)}>
            {t(low === null ? 'own.say' : 'own.change')}
          </button>
        )}
      </p>
      {open && <Range code={code} low={low} high={high} onDone={() => setOpen(false)} />}
    </section>
  );
}

/** @param {{code: string, low: number | null, high: number | null, onDone: () => void}} props */
function Range({ code, low, high, onDone }) {
  const [from, setFrom] = useState(low === null ? '' : String(low));
  const [to, setTo] = useState(high === null ? '' : String(high));
  // What this was typed over, whatever is read anew meanwhile.
  const [began] = useState({ own_low: low, own_high: high });
  const empty = from === '' && to === '';
  return (
    <Form
      save={empty ? t('own.take_back') : t('action.save')}
      disabled={(from === '') !== (to === '')}
      onCancel={onDone}
      onSave={async () => {
        await send(
          'PATCH',
          `/api/varieties/${encodeURIComponent(code)}`,
          { own_low: Number(from), own_high: Number(to) },
          { base: began, of: code },
        );
        say(t('own.saved', { code }));
        touch();
        onDone();
      }}
    >
      <Field label={t('own.low')} hint={t('own.hint')}>
        <input
          type="number"
          min="0.1"
          max="200"
          step="0.1"
          value={from}
          onInput={(e) => setFrom(e.currentTarget.value)}
        />
      </Field>
      <Field label={t('own.high')}>
        <input type="number" min="0.1" max="200" step="0.1" value={to} onInput={(e) => setTo(e.currentTarget.value)} />
      </Field>
    </Form>
  );
}
