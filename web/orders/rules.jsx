// SPDX-License-Identifier: MIT
// One short variety: three rules side by side, who gains and who loses, and the one that is made firm.

import { useState } from 'preact/hooks';
import { newKey, send, withQuery } from '../shared/net/api.js';
import { Form, Loaded, say } from '../shared/dialog.jsx';
import { PlainTable } from '../shared/grid/plain.jsx';
import { hashOf } from '../shared/route.js';
import { rights, useSeason } from '../shared/season.jsx';
import { Code } from '../shared/tag.jsx';
import { t, word } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';
import { PLAIN, compare, field } from './rules.js';
import { Since } from './since.jsx';
import { SupplyChoice, useSupply } from './supply.jsx';
import { UndoMade } from './undo.jsx';
import { Oversell, Waitlist } from './waitlist.jsx';

/** @param {{code: string}} props */
export function RulesPage({ code }) {
  const { nursery, session } = useSeason();
  const [supply, setSupply] = useSupply();
  const [tiersFirst, setTiersFirst] = useState(nursery.settings.tiers_first === '1');
  const [rule, setRule] = useState(PLAIN);
  const preview = useResource(
    withQuery('/api/allocation', { variety: code, supply, tiers_first: tiersFirst ? 1 : 0 }),
    { keep: true },
  );
  return (
    <>
      <div class="page-head">
        <h1 class="page-title">
          {t('rules.title')} <Code code={code} />
        </h1>
        <a href={hashOf(['orders', 'short'])}>{t('rules.all')}</a>
        <SupplyChoice supply={supply} onSupply={setSupply} />
        {rights(session).owner && <Oversell code={code} />}
        <label class="check">
          <input type="checkbox" checked={tiersFirst} onChange={(e) => setTiersFirst(e.currentTarget.checked)} />{' '}
          {t('rules.tiers_first')}
        </label>
      </div>
      <Loaded of={preview}>
        {(data) => (
          <Preview
            data={data}
            rule={rule}
            onRule={setRule}
            commit={{ supply, tiers_first: tiersFirst, variety: code }}
          />
        )}
      </Loaded>
    </>
  );
}

/**
 * @param {object} props
 * @param {any} props.data
 * @param {import('./rules.js').Rule} props.rule
 * @param {(rule: import('./rules.js').Rule) => void} props.onRule
 * @param {Record<string, unknown>} props.commit
 */
function Preview({ data, rule, onRule, commit }) {
  const { format, session } = useSeason();
  const [key, setKey] = useState(newKey);
  const [made, setMade] = useState(/** @type {import('./undo.jsx').Made | null} */ (null));
  const lines = data.lines ?? [];
  const sums = /** @type {import('./rules.js').Sum[]} */ (data.sums);
  const save = async () => {
    const run = await send('POST', '/api/allocation', { rule, ...commit, digest: data.digest }, { key });
    const text = t('rules.done', { n: run.placed ?? 0, short: run.short ?? 0 });
    say(text);
    setMade({ text, run: run.run, placed: run.placed ?? 0 });
    setKey(newKey());
    touch();
  };
  return (
    <>
      <Since data={data} rule={rule} basis={commit} />
      <UndoMade made={made} onUndone={() => setMade(null)} />
      <p class="rules-supply">{t('rules.supply', { n: data.supply, lines: lines.length })}</p>
      <div class="rules-cards" role="radiogroup" aria-label={t('rules.which')}>
        {sums.map((sum) => (
          <RuleCard
            key={sum.rule}
            sum={sum}
            lines={lines}
            chosen={rule === sum.rule}
            onChoose={() => onRule(sum.rule)}
          />
        ))}
      </div>
      {rights(session).office && (
        <Form class="commit" save={t('rules.commit', { rule: word('rule', rule) })} onSave={save}>
          <p class="quiet">{t('rules.firm')}</p>
        </Form>
      )}
      <Waitlist code={data.variety} />
      <PlainTable label={t('rules.lines')} class="rules-table" frame="sheet">
        <thead>
          <tr>
            <th scope="col">{t('rules.order')}</th>
            <th scope="col">{t('rules.customer')}</th>
            <th scope="col">{t('order.received')}</th>
            <th scope="col" class="right">
              {t('rules.asked')}
            </th>
            <th scope="col" class="right">
              {t('line.firm')}
            </th>
            {sums.map(({ rule: r }) => (
              <th key={r} scope="col" class={`right ${r === rule ? 'chosen' : ''}`}>
                {word('rule', r)}
              </th>
            ))}
            <th scope="col">{t('rules.reason', { rule: word('rule', rule) })}</th>
          </tr>
        </thead>
        <tbody>
          {lines.map((/** @type {any} */ l) => (
            <tr key={`${l.order} ${l.line}`}>
              <td>
                <a class="figure" href={hashOf(['orders', 'order', l.order])}>
                  {l.order}
                </a>
              </td>
              <td>
                {l.customer} <span class="quiet">{l.tier && l.tier !== 'retail' ? word('tier', l.tier) : ''}</span>
              </td>
              <td>{format.instant(l.received_at)}</td>
              <td class="right">{l.quantity}</td>
              <td class="right">{l.firm}</td>
              {sums.map(({ rule: r }) => (
                <td key={r} class={`right ${r === rule ? 'chosen' : ''}`}>
                  <Share n={l[field(r)]} by={l[field(r)] - l[field(PLAIN)]} />
                </td>
              ))}
              <td class="reason">{l[`reason_${field(rule)}`]}</td>
            </tr>
          ))}
        </tbody>
      </PlainTable>
    </>
  );
}

/** @param {{sum: import('./rules.js').Sum, lines: any[], chosen: boolean, onChoose: () => void}} props */
function RuleCard({ sum, lines, chosen, onChoose }) {
  const rule = sum.rule;
  const c = compare(lines, rule);
  return (
    <label class={`rule-card ${chosen ? 'rule-chosen' : ''}`}>
      <input type="radio" name="rule" checked={chosen} onChange={onChoose} />
      <b>{word('rule', rule)}</b>
      <span>{word('rule.words', rule)}</span>
      <span class="rule-figures">
        {t('rules.placed', { n: sum.placed })} · {t('rules.nothing', { n: c.nothing })}
        {sum.others > 0 && (
          <>
            <br />
            {t('rules.others', { n: sum.others })}
          </>
        )}
        {rule !== PLAIN && (
          <>
            <br />
            {t('rules.compare', { n: c.gain, lose: c.lose })}
          </>
        )}
      </span>
    </label>
  );
}

/** @param {{n: number, by: number}} props */
function Share({ n, by }) {
  return (
    <span class="share">
      {by !== 0 && <span class="share-by">{by > 0 ? `▲${by}` : `▼${-by}`}</span>}
      <b>{n}</b>
    </span>
  );
}
