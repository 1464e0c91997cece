// SPDX-License-Identifier: MIT
// Substitution worklist: what is short, what the buyer allows, what is proposed and why.

import { useState } from 'preact/hooks';
import { newKey, send, withQuery } from '../shared/api.js';
import { Form, Loaded, say } from '../shared/dialog.jsx';
import { hashOf } from '../shared/route.js';
import { rights, useSeason } from '../shared/season.jsx';
import { Code } from '../shared/tag.jsx';
import { t, word } from '../shared/text.js';
import { touch, useKept, useResource } from '../shared/use.js';
import { SupplyChoice } from './short.jsx';

export function SubstitutesPage() {
  const [supply, setSupply] = useKept('supply', 'projected');
  const plan = useResource(withQuery('/api/substitution', { supply }), { keep: true });
  return (
    <>
      <div class="page-head">
        <h1 class="page-title">{t('sub.title')}</h1>
        <SupplyChoice supply={supply} onSupply={setSupply} />
      </div>
      <Loaded of={plan}>{(data) => <Proposals data={data} supply={supply} />}</Loaded>
    </>
  );
}

/** @param {{data: any, supply: string}} props */
function Proposals({ data, supply }) {
  const { format, session } = useSeason();
  const [key, setKey] = useState(newKey);
  const lines = data.lines ?? [];
  const save = async () => {
    const run = await send('POST', '/api/substitution', { supply, digest: data.digest }, { key });
    say(t('sub.done', { n: run?.placed ?? data.placed }));
    setKey(newKey());
    touch();
  };
  return (
    <>
      <p class="rules-supply">
        {t('sub.summary', { n: data.placed ?? 0, cost: format.money(data.extra_cost ?? 0) })} {data.proven ? t('sub.proven') : ''}
      </p>
      {rights(session).office && lines.length > 0 && (
        <Form class="commit" save={t('sub.commit', { n: data.placed ?? 0 })} onSave={save}>
          <p class="quiet">{t('sub.caution')}</p>
        </Form>
      )}
      {lines.length === 0 ? (
        <p class="sheet quiet">{t('sub.none')}</p>
      ) : (
        <div class="sheet scroll-x" tabIndex={0} role="region" aria-label={t('sub.title')}>
          <table class="plain">
            <thead>
              <tr>
                <th scope="col">{t('rules.order')}</th>
                <th scope="col">{t('sub.wanted')}</th>
                <th scope="col" class="right">
                  {t('line.short')}
                </th>
                <th scope="col">{t('sub.proposed')}</th>
                <th scope="col">{t('sub.consent')}</th>
                <th scope="col" class="right">
                  {t('sub.extra')}
                </th>
                <th scope="col">{t('sub.why')}</th>
              </tr>
            </thead>
            <tbody>
              {lines.map((/** @type {any} */ l, /** @type {number} */ i) => (
                <tr key={i}>
                  <td>
                    <a class="figure" href={hashOf(['orders', 'order', l.order])}>
                      {l.order}
                    </a>{' '}
                    <span class="quiet">{l.line}</span>
                  </td>
                  <td>{l.wanted ? <Code code={l.wanted} /> : t('sub.assortment')}</td>
                  <td class="right">{l.short}</td>
                  <td>
                    <b>{l.quantity}</b> × <Code code={l.substitute} />
                  </td>
                  <td>{word('consent', l.consent)}</td>
                  <td class="right">{format.money(l.extra_cost)}</td>
                  <td class="reason">{l.sentence}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      )}
    </>
  );
}
