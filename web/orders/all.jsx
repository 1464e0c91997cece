// SPDX-License-Identifier: MIT
// All short varieties at once: what each rule would do in sum, which orders it would make too small, and the one made firm.

import { useState } from 'preact/hooks';
import { newKey, send, withQuery } from '../shared/net/api.js';
import { Form, Loaded, say } from '../shared/dialog.jsx';
import { PlainTable } from '../shared/grid/plain.jsx';
import { hashOf } from '../shared/route.js';
import { rights, useSeason } from '../shared/season.jsx';
import { t, word } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';
import { PLAIN } from './rules.js';
import { UndoMade } from './undo.jsx';

const MOST_SHOWN = 50;

/** @param {{supply: string}} props */
export function ShareAll({ supply }) {
  const [open, setOpen] = useState(false);
  return (
    <details class="sheet" open={open} onToggle={(e) => setOpen(e.currentTarget.open)}>
      <summary>{t('all.title')}</summary>
      {open && <All supply={supply} />}
    </details>
  );
}

/** @param {{supply: string}} props */
function All({ supply }) {
  const { format, session } = useSeason();
  const [rule, setRule] = useState(PLAIN);
  const [key, setKey] = useState(newKey);
  const [made, setMade] = useState(/** @type {import('./undo.jsx').Made | null} */ (null));
  const preview = useResource(withQuery('/api/allocation', { supply }), { keep: true });
  return (
    <Loaded of={preview}>
      {(data) => (
        <>
          <PlainTable label={t('all.sum')}>
            <thead>
              <tr>
                <th scope="col">{t('rules.which')}</th>
                {
                  /** @type {const} */ ([
                    'all.waiting',
                    'all.placed',
                    'short.short',
                    'all.whole',
                    'all.part',
                    'all.none',
                  ]).map((head) => (
                    <th key={head} scope="col" class="right">
                      {t(head)}
                    </th>
                  ))
                }
              </tr>
            </thead>
            <tbody>
              {
                /** @type {import('./rules.js').Sum[]} */ (data.sums).map((sum) => (
                  <tr key={sum.rule}>
                    <td>
                      <label class="check">
                        <input
                          type="radio"
                          name="rule of all"
                          checked={sum.rule === rule}
                          onChange={() => setRule(sum.rule)}
                        />{' '}
                        {word('rule', sum.rule)}
                      </label>
                    </td>
                    <td class="right">{format.whole(sum.lines)}</td>
                    <td class="right">{format.whole(sum.placed)}</td>
                    <td class="right">{format.whole(sum.short)}</td>
                    <td class="right">{format.whole(sum.whole)}</td>
                    <td class="right">{format.whole(sum.part)}</td>
                    <td class="right">{format.whole(sum.none)}</td>
                  </tr>
                ))
              }
            </tbody>
          </PlainTable>
          <p class="quiet">{t('all.enough', { n: data.enough ?? 0 })}</p>
          <Small supply={supply} rule={rule} />
          <UndoMade made={made} onUndone={() => setMade(null)} />
          {rights(session).office && (
            <Form
              class="commit"
              save={t('all.commit', { rule: word('rule', rule) })}
              onSave={async () => {
                const run = await send(
                  'POST',
                  '/api/allocation',
                  { rule, supply, tiers_first: data.tiers_first, digest: data.digest },
                  { key },
                );
                const text = t('rules.done', { n: run.placed ?? 0, short: run.short ?? 0 });
                say(text);
                setMade({ text, run: run.run, placed: run.placed ?? 0 });
                setKey(newKey());
                touch();
              }}
            >
              <p class="quiet">{t('rules.firm')}</p>
            </Form>
          )}
        </>
      )}
    </Loaded>
  );
}

/** Orders that the rule's shorts would bring below the order minimum. @param {{supply: string, rule: string}} props */
function Small({ supply, rule }) {
  const { format } = useSeason();
  const list = /** @type {{order: string, customer: string | null, asked: string, left: string}[]} */ (
    useResource(withQuery('/api/allocation/small', { supply, rule })).data ?? []
  );
  if (list.length === 0) return <p class="quiet">{t('all.no_small')}</p>;
  return (
    <>
      <p>{t('all.small', { n: list.length })}</p>
      <ul class="rows">
        {list.slice(0, MOST_SHOWN).map((o) => (
          <li key={o.order}>
            <a class="figure" href={hashOf(['orders', 'order', o.order])}>
              {o.order}
            </a>{' '}
            {o.customer} {format.money(o.asked)} → <b>{format.money(o.left)}</b>
          </li>
        ))}
      </ul>
      {list.length > MOST_SHOWN && <p class="quiet">{t('weeks.more', { n: list.length - MOST_SHOWN })}</p>}
    </>
  );
}
