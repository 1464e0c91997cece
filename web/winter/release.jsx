// SPDX-License-Identifier: MIT
// A release: the quantities become what is offered, with who, when and why on record.

import { useState } from 'preact/hooks';
import { newKey, send } from '../shared/net/api.js';
import { Dialog, Field, Form, say } from '../shared/dialog.jsx';
import { t } from '../shared/strings/text.js';
import { touch } from '../shared/net/use.js';
import { Moves } from './moves.jsx';
import { ground, releaseItems } from './plan.js';

/**
 * @param {object} props
 * @param {import('./plan.js').PlanRow[]} props.rows with drafts
 * @param {import('./plan.js').Drafts} props.drafts
 * @param {import('./plan.js').Basis} props.basis
 * @param {() => void} props.onClose
 * @param {() => void} props.onDone
 */
export function ReleaseDialog({ rows, drafts, basis, onClose, onDone }) {
  const hand = Object.keys(drafts).length > 0;
  const [onlyDrafts, setOnlyDrafts] = useState(hand);
  const [why, setWhy] = useState('');
  const [key] = useState(newKey);
  const items = releaseItems(rows, drafts, onlyDrafts);
  const raised = items.filter((i) => i.quantity > i.before).length;
  const save = async () => {
    // Without quantities set by hand the server releases the plan itself.
    const byHand = hand ? { items: items.map(({ variety, quantity }) => ({ variety, quantity })) } : {};
    const body = { ...(ground(basis) ?? { confidence: basis.confidence }), ...byHand, why: why.trim() };
    await send('POST', '/api/releases', body, {
      key,
      of: t('release.of'),
      base: Object.fromEntries(items.map((i) => [i.variety, i.before])),
    });
    say(t('release.done', { n: items.length }));
    onDone();
    onClose();
    touch();
  };
  return (
    <Dialog title={t('release.title')} onClose={onClose} wide>
      <Form
        save={t('release.save', { n: items.length })}
        onSave={save}
        onCancel={onClose}
        disabled={items.length === 0 || why.trim() === ''}
      >
        {hand && (
          <div class="choice" role="group" aria-label={t('release.which')}>
            <button type="button" aria-pressed={onlyDrafts} onClick={() => setOnlyDrafts(true)}>
              {t('release.only_hand')}
            </button>
            <button type="button" aria-pressed={!onlyDrafts} onClick={() => setOnlyDrafts(false)}>
              {t('release.all')}
            </button>
          </div>
        )}
        <p>
          {items.length === 0
            ? t('release.nothing')
            : t('release.summary', { n: items.length, raised, lowered: items.length - raised })}
        </p>
        <Moves
          label={t('release.list')}
          before={t('release.before')}
          after={t('release.after')}
          items={items.map((i) => ({ ...i, after: i.quantity }))}
        />
        <Field label={t('release.why')} hint={t('release.why.hint')}>
          <textarea rows={2} required value={why} onInput={(e) => setWhy(e.currentTarget.value)} />
        </Field>
      </Form>
    </Dialog>
  );
}
