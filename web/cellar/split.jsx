// SPDX-License-Identifier: MIT
// A part of a lot is another variety, from a day on: it becomes a lot of its own. What that reaches is shown before it is done.

import { useState } from 'preact/hooks';
import { newKey, send } from '../shared/net/api.js';
import { touch, useFields } from '../shared/net/use.js';
import { Dialog, Field, Form, say, sayError } from '../shared/dialog.jsx';
import { Reached } from '../shared/naming.jsx';
import { useSeason } from '../shared/season.jsx';
import { t } from '../shared/strings/text.js';
import { todayOf } from './entry.jsx';

/** @typedef {import('../shared/naming.jsx').Reach} Reach */

/** @param {{lot: string, variety: string, dugOn: string, clumps: number, divisions: number, onClose: () => void}} props */
export function SplitDialog({ lot, variety, dugOn, clumps, divisions, onClose }) {
  const { nursery } = useSeason();
  const today = todayOf(nursery);
  const [typed, put] = useFields({
    to: '',
    as: `${lot}B`,
    from: /** @type {string | null} */ (null), // the nursery's own today, as soon as that is known
    clumps: String(clumps),
    divisions: String(divisions),
    why: '',
  });
  const said = { ...typed, from: typed.from ?? today };
  const [seen, setSeen] = useState(/** @type {{of: string, rows: Reach[]} | null} */ (null));
  const of = JSON.stringify({ ...said, why: '' });
  const looked = seen?.of === of;
  const path = /** @type {'/api/lots/x/variety'} */ (`/api/lots/${encodeURIComponent(lot)}/variety`);
  const save = async () => {
    const body = {
      to: said.to.trim(),
      as: said.as.trim(),
      from: said.from,
      clumps: Number(said.clumps || 0),
      divisions: Number(said.divisions || 0),
      why: said.why.trim(),
      commit: looked,
    };
    const rows = /** @type {Reach[]} */ (await send('POST', path, body, { key: newKey() }));
    if (!looked) {
      setSeen({ of, rows });
      return;
    }
    touch();
    const entry = rows.find((r) => r.part === 'entry')?.quantity;
    const back = { cause: 'move', cause_id: entry, why: t('naming.undone') };
    say(t('split.done', { lot: body.as, name: body.to }), {
      action: {
        label: t('action.undo'),
        run: () => void send('POST', '/api/undo', back, { key: newKey() }).then(touch, sayError),
      },
    });
    onClose();
  };
  /** @param {keyof typeof said} name */
  const field = (name) => ({
    required: true,
    value: said[name],
    onInput: (/** @type {{currentTarget: HTMLInputElement | HTMLTextAreaElement}} */ e) =>
      put({ [name]: e.currentTarget.value }),
  });
  return (
    <Dialog title={t('split.title', { lot })} onClose={onClose}>
      <Form save={looked ? t('naming.do') : t('naming.look')} onCancel={onClose} onSave={save}>
        <p>{t('split.about', { code: variety })}</p>
        <Field label={t('naming.true_variety')}>
          <input class="code" maxLength={32} {...field('to')} />
        </Field>
        <Field label={t('split.as')}>
          <input class="code" maxLength={32} {...field('as')} />
        </Field>
        <Field label={t('split.from')}>
          <input type="date" min={dugOn} max={today} {...field('from')} />
        </Field>
        <Field label={t('split.clumps')}>
          <input type="number" inputMode="numeric" min={0} step={1} {...field('clumps')} />
        </Field>
        <Field label={t('split.divisions')}>
          <input type="number" inputMode="numeric" min={0} step={1} {...field('divisions')} />
        </Field>
        <Field label={t('action.why')}>
          <textarea rows={2} {...field('why')} />
        </Field>
        {looked && <Reached label={t('split.title', { lot })} rows={seen.rows} />}
      </Form>
    </Dialog>
  );
}
