// SPDX-License-Identifier: MIT
// Substitution worklist: what is short, what the buyer allows, what is proposed and why.

import { useState } from 'preact/hooks';
import { newKey, send, withQuery } from '../shared/net/api.js';
import { Form, Loaded, ReasonDialog, say, sayError } from '../shared/dialog.jsx';
import { PlainTable } from '../shared/grid/plain.jsx';
import { hashOf } from '../shared/route.js';
import { useSearch } from '../shared/search.jsx';
import { rights, useSeason } from '../shared/season.jsx';
import { Code } from '../shared/tag.jsx';
import { rich, t, word } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';
import { SupplyChoice, useSupply } from './supply.jsx';
import { UndoMade } from './undo.jsx';

export function SubstitutesPage() {
  const [supply, setSupply] = useSupply();
  const plan = useResource(withQuery('/api/substitution', { supply }), { keep: true });
  return (
    <>
      <div class="page-head">
        <h1 class="page-title">{t('sub.title')}</h1>
        <SupplyChoice supply={supply} onSupply={setSupply} />
      </div>
      <Loaded of={plan}>{(data) => <Proposals data={data} supply={supply} />}</Loaded>
      <Banned />
    </>
  );
}

/** @param {{data: import('../contract').Answers['GET /api/substitution'], supply: string}} props */
function Proposals({ data, supply }) {
  const { format, session } = useSeason();
  const [key, setKey] = useState(newKey);
  const [forbidding, setForbidding] = useState(
    /** @type {import('../contract').Answers['GET /api/substitution']['lines'][number] | null} */ (null),
  );
  const [made, setMade] = useState(/** @type {import('./undo.jsx').Made | null} */ (null));
  const lines = data.lines ?? [];
  const { found, field } = useSearch(
    lines,
    (l) => [l.order, l.wanted, l.substitute, word('consent', l.consent), l.sentence],
    t('sub.find'),
  );
  const [folded, setFolded] = useState(/** @type {Set<string | null>} */ (new Set()));
  const may = rights(session).office;
  const save = async () => {
    const run = await send('POST', '/api/substitution', { supply, digest: data.digest }, { key });
    const text = t('sub.done', { n: run?.placed ?? data.placed });
    say(text);
    setMade({ text, run: run.run, placed: run.placed ?? data.placed });
    setKey(newKey());
    touch();
  };
  return (
    <>
      <p class="rules-supply">
        {t('sub.summary', { n: data.placed ?? 0, cost: format.money(data.extra_cost ?? 0) })}{' '}
        {data.proven ? t('sub.proven') : t('sub.bound', { n: data.at_most })}
      </p>
      <UndoMade made={made} onUndone={() => setMade(null)} />
      {may && lines.length > 0 && (
        <Form class="commit" save={t('sub.commit', { n: data.placed ?? 0 })} onSave={save}>
          <p class="quiet">{t('sub.caution')}</p>
        </Form>
      )}
      {lines.length === 0 ? (
        <p class="sheet quiet">{t('sub.none')}</p>
      ) : (
        <section class="sheet">
          {field}
          <PlainTable label={t('sub.title')}>
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
                {may && (
                  <th scope="col">
                    <span class="hidden">{t('sub.forbid')}</span>
                  </th>
                )}
              </tr>
            </thead>
            {grouped(found).map(({ wanted, lines: own }) => (
              <tbody key={wanted ?? ''}>
                {found.length > FEW && (
                  <tr class="sub-group">
                    <th scope="rowgroup" colSpan={may ? 8 : 7}>
                      <button
                        type="button"
                        class="quiet-button"
                        aria-expanded={!folded.has(wanted)}
                        onClick={() => setFolded(toggled(folded, wanted))}
                      >
                        {t(folded.has(wanted) ? 'sub.unfold' : 'sub.fold')}
                      </button>{' '}
                      {wanted ? <Code code={wanted} /> : t('sub.assortment')}{' '}
                      {t('sub.group', { n: own.length, divisions: own.reduce((sum, l) => sum + l.quantity, 0) })}
                    </th>
                  </tr>
                )}
                {!(found.length > FEW && folded.has(wanted)) &&
                  own.map((l) => (
                    <tr key={`${l.order} ${l.line} ${l.substitute}`}>
                      <td>
                        <a class="figure" href={hashOf(['orders', 'order', l.order])}>
                          {l.order}
                        </a>{' '}
                        <span class="quiet">{l.line}</span>
                      </td>
                      <td>{l.wanted ? <Code code={l.wanted} /> : t('sub.assortment')}</td>
                      <td class="right">{l.short}</td>
                      <td class="still">
                        <b>{l.quantity}</b> × <Code code={l.substitute} />
                      </td>
                      <td>{word('consent', l.consent)}</td>
                      <td class="right">{format.money(l.extra_cost)}</td>
                      <td class="reason">
                        {l.sentence.replace(/\d+\.\d\d(?= dearer)/, (/** @type {string} */ m) => format.money(m))}
                      </td>
                      {may && (
                        <td class="act">
                          <button
                            type="button"
                            class="link-button"
                            aria-label={t('sub.forbid.of', { order: l.order, line: l.line, code: l.substitute })}
                            onClick={() => setForbidding(l)}
                          >
                            {t('sub.forbid')}
                          </button>
                        </td>
                      )}
                    </tr>
                  ))}
              </tbody>
            ))}
          </PlainTable>
        </section>
      )}
      {forbidding && <ForbidDialog l={forbidding} supply={supply} onClose={() => setForbidding(null)} />}
    </>
  );
}

/** So many lines need no grouping. */
const FEW = 20;

/**
 * By what was wanted, what is wanted most first.
 * @template {{wanted: string | null}} L
 * @param {L[]} lines
 */
function grouped(lines) {
  /** @type {Map<string | null, L[]>} */
  const by = new Map();
  for (const l of lines) by.set(l.wanted, [...(by.get(l.wanted) ?? []), l]);
  const groups = [...by].map(([wanted, own]) => ({ wanted, lines: own }));
  return lines.length > FEW ? groups.sort((a, b) => b.lines.length - a.lines.length) : groups;
}

/** @template T @param {Set<T>} set @param {T} item */
function toggled(set, item) {
  const next = new Set(set);
  if (!next.delete(item)) next.add(item);
  return next;
}

/**
 * What it would cost not to place this one, before it is forbidden.
 * @param {object} props
 * @param {import('../contract').Answers['GET /api/substitution']['lines'][number]} props.l
 * @param {string} props.supply
 * @param {() => void} props.onClose
 */
function ForbidDialog({ l, supply, onClose }) {
  const cost = useResource(
    withQuery('/api/substitution/forbidden', { supply, order: l.order, line: l.line, substitute: l.substitute }),
  );
  const [key] = useState(newKey);
  const body = { order: l.order, line: l.line, substitute: l.substitute };
  return (
    <ReasonDialog
      title={t('sub.forbid.of', { order: l.order, line: l.line, code: l.substitute })}
      about={cost.error ? cost.error.message : (cost.data?.sentence ?? t('sub.cost.working'))}
      save={t('sub.forbid')}
      onClose={onClose}
      onSave={async (why) => {
        await send('POST', '/api/substitution/forbid', { ...body, why }, { key });
        say(t('sub.forbidden', { code: l.substitute, order: l.order }), {
          action: {
            label: t('action.undo'),
            run: () =>
              void send(
                'POST',
                '/api/substitution/permit',
                { ...body, why: t('action.undone.why') },
                { key: newKey() },
              ).then(touch, sayError),
          },
        });
        touch();
      }}
    />
  );
}

/** @typedef {{order: string, line: number, wanted: string | null, substitute: string, at: string, actor: string, why: string}} BannedRow */

/** What is forbidden, by whom and why; each can be permitted again. */
function Banned() {
  const { format, session } = useSeason();
  const list = /** @type {BannedRow[]} */ (useResource('/api/substitution/banned').data ?? []);
  const [permitting, setPermitting] = useState(/** @type {BannedRow | null} */ (null));
  const { found, field } = useSearch(list, (b) => [b.order, b.wanted, b.substitute, b.why, b.actor], t('sub.find'));
  const [key, setKey] = useState(newKey);
  if (list.length === 0) return null;
  return (
    <section class="sheet" aria-label={t('sub.banned')}>
      <h2>{t('sub.banned')}</h2>
      {list.length > 8 && field}
      <ul class="rows">
        {found.map((b) => (
          <li key={`${b.order} ${b.line} ${b.substitute}`}>
            <a class="figure" href={hashOf(['orders', 'order', b.order])}>
              {b.order}
            </a>{' '}
            {rich('sub.instead', {
              code: <Code code={b.substitute} />,
              wanted: b.wanted ? <Code code={b.wanted} /> : t('sub.assortment'),
            })}{' '}
            {b.why}{' '}
            <span class="quiet">
              {b.actor}, {format.instant(b.at)}
            </span>{' '}
            {rights(session).office && (
              <button
                type="button"
                class="link-button"
                aria-label={t('sub.permit.of', { order: b.order, line: b.line, code: b.substitute })}
                onClick={() => setPermitting(b)}
              >
                {t('sub.permit')}
              </button>
            )}
          </li>
        ))}
      </ul>
      {permitting && (
        <ReasonDialog
          title={t('sub.permit.of', { order: permitting.order, line: permitting.line, code: permitting.substitute })}
          save={t('sub.permit')}
          onClose={() => setPermitting(null)}
          onSave={async (why) => {
            await send(
              'POST',
              '/api/substitution/permit',
              { order: permitting.order, line: permitting.line, substitute: permitting.substitute, why },
              { key },
            );
            setKey(newKey());
            say(t('action.done'));
            touch();
          }}
        />
      )}
    </section>
  );
}
