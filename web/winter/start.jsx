// SPDX-License-Identifier: MIT
// An empty file leads: what to bring first, and why; a sample of each file, its columns explained, or a grid to type into; and the first
// figures as soon as there can be any.

import { Loaded } from '../shared/dialog.jsx';
import { PlainTable } from '../shared/grid/plain.jsx';
import { hashOf } from '../shared/route.js';
import { useSeason } from '../shared/season.jsx';
import { rich, t, word } from '../shared/strings/text.js';
import { told } from '../shared/strings/told.js';
import { useResource } from '../shared/net/use.js';

/** @typedef {import('../contract').Answers['GET /api/kinds']} Columns */

/** The file's kind; what must be there before. @type {{kind: string, after: string[], rest?: string[]}[]} */
const STEPS = [
  { kind: 'varieties', after: [] },
  { kind: 'places', after: [] },
  { kind: 'lots', after: ['varieties'] },
  { kind: 'history', after: ['varieties'], rest: ['past_checks', 'past_sales'] },
  { kind: 'zones', after: [], rest: ['zone_ranges', 'destinations'] },
  { kind: 'orders', after: ['varieties'] },
];

/** @param {import('../contract').Answers['GET /api/begun']} begun */
export const countOf = (begun) => Object.fromEntries(begun.map((b) => [b.step, b.n]));

/** Nothing can be projected yet. @param {Record<string, number>} n */
export const isEmpty = (n) => !n['stocked'];

export function StartPage() {
  const begun = useResource('/api/begun');
  return <Loaded of={begun}>{(rows) => <Start n={countOf(rows)} />}</Loaded>;
}

/** @param {{n: Record<string, number>}} props */
export function Start({ n }) {
  const columns = useResource('/api/kinds').data ?? [];
  const { session } = useSeason();
  const next = STEPS.find((s) => !n[s.kind] && s.after.every((a) => n[a]));
  return (
    <>
      <h1 class="page-title">{t('start.title')}</h1>
      <p class="start-lead">{t('start.lead')}</p>
      {n['stocked'] ? (
        <p class="note" role="status">
          {t('start.figures', { n: n['stocked'] })}{' '}
          <a href={hashOf(['winter'], { plan: 'yes' })}>{t('start.to_plan')}</a>
        </p>
      ) : null}
      <ol class="start-steps">
        {STEPS.map((s) => (
          <Step key={s.kind} step={s} n={n} columns={columns} next={s === next} />
        ))}
        <li class={`sheet start-step ${n['people'] ? 'start-done' : ''}`}>
          <h2>
            <Tick done={Boolean(n['people'])} /> {t('start.people')}
          </h2>
          <p>{t('start.people.why')}</p>
          {session.role === 'owner' && (
            <p class="start-ways">
              <a class="button" href={hashOf(['winter', 'settings'])}>
                {t('winter.page.settings')}
              </a>
            </p>
          )}
        </li>
      </ol>
      <section class="sheet">
        <h2>{t('start.demo')}</h2>
        <p>{rich('start.demo.how', { command: <code>scripts/demo</code> })}</p>
      </section>
    </>
  );
}

/** Done is said in words, too. @param {{done: boolean}} props */
function Tick({ done }) {
  return done ? (
    <span class="start-tick">
      <span aria-hidden="true">✓</span>
      <span class="hidden">{t('start.done')}</span>
    </span>
  ) : (
    <span class="start-tick start-open" aria-hidden="true">
      ○
    </span>
  );
}

/** @param {{step: typeof STEPS[number], n: Record<string, number>, columns: Columns, next: boolean}} props */
function Step({ step, n, columns, next }) {
  const { kind, after, rest = [] } = step;
  const count = n[kind] ?? 0;
  const missing = after.filter((a) => !n[a]);
  return (
    <li class={`sheet start-step ${count ? 'start-done' : ''}`} aria-current={next ? 'step' : undefined}>
      <h2>
        <Tick done={count > 0} /> {word('records.kind', kind)}{' '}
        {count > 0 ? (
          <span class="quiet">{t('start.count', { n: count })}</span>
        ) : (
          next && <span class="start-next">{t('start.next')}</span>
        )}
      </h2>
      <p>{word('start.why', kind)}</p>
      {missing.length > 0 && (
        <p class="quiet">{t('start.first', { what: missing.map((m) => word('records.kind', m)).join(', ') })}</p>
      )}
      <Ways kind={kind} />
      <Explained kind={kind} columns={columns} />
      {rest.length > 0 && (
        <details>
          <summary>{t('start.rest', { what: rest.map((k) => word('records.kind', k)).join(', ') })}</summary>
          {rest.map((k) => (
            <div key={k} class="start-rest">
              <h3>{word('records.kind', k)}</h3>
              <p>{word('records.about', k)}</p>
              <Ways kind={k} />
              <Explained kind={k} columns={columns} />
            </div>
          ))}
        </details>
      )}
    </li>
  );
}

/** @param {{kind: string}} props */
function Ways({ kind }) {
  return (
    <p class="start-ways">
      <a class="button" href={kind === 'orders' ? hashOf(['orders', 'new']) : hashOf(['winter', 'records', kind])}>
        {t('start.type')}
      </a>
      <a class="button" href={hashOf(['orders', 'load'])}>
        {t('start.drop')}
      </a>
      <a class="button" href={`/api/samples/${kind}.csv`} download={`${kind}.csv`}>
        {t('start.sample')}
      </a>
    </p>
  );
}

/** @param {{kind: string, columns: Columns}} props */
function Explained({ kind, columns }) {
  return (
    <details>
      <summary>{t('start.columns', { kind: word('records.kind', kind) })}</summary>
      <PlainTable label={t('start.columns', { kind: word('records.kind', kind) })}>
        <thead>
          <tr>
            <th scope="col">{t('start.column')}</th>
            <th scope="col">{t('start.heading')}</th>
            <th scope="col">{t('start.holds')}</th>
            <th scope="col">{t('start.needed')}</th>
          </tr>
        </thead>
        <tbody>
          {columns
            .filter((c) => c.kind === kind)
            .map((c) => (
              <tr key={c.column}>
                <td>{word('field', c.column)}</td>
                <td>
                  <code>{c.column}</code>
                </td>
                <td>{told(c.holds)}</td>
                <td>{t(c.required ? 'choice.yes' : 'choice.no')}</td>
              </tr>
            ))}
        </tbody>
      </PlainTable>
    </details>
  );
}
