// SPDX-License-Identifier: MIT
// All varieties in one table, the confidence that moves all quantities, and the release that makes them so.

import { useCallback, useEffect, useMemo, useRef, useState } from 'preact/hooks';
import { send, withQuery } from '../shared/net/api.js';
import { Loaded, Wrong, say } from '../shared/dialog.jsx';
import { Grid } from '../shared/grid/grid.jsx';
import { go, hashOf } from '../shared/route.js';
import { rights, useSeason } from '../shared/season.jsx';
import { rich, t } from '../shared/strings/text.js';
import { Today } from '../shared/today.jsx';
import { touch, useKept, useResource, useThrottled, useWidthRem } from '../shared/net/use.js';
import { planColumns } from './columns.jsx';
import { PlanCurves } from './curve.jsx';
import { FindingTools, useFinding } from './finding.jsx';
import { Measures } from './measures.jsx';
import { TuberLegend } from './legend.jsx';
import { SET, SHOWS, SORTS, findText, roughPlan, withDrafts, firstBasis, ground } from './plan.js';
import { ReleaseDialog } from './release.jsx';
import { Start, countOf, isEmpty } from './start.jsx';

/** @typedef {import('./plan.js').PlanRow} PlanRow */
/** @typedef {import('./plan.js').Drafts} Drafts */

/** How often the figures are asked for while the confidence is being moved. */
const ASK_MS = 250;

const CHOICES = /** @type {const} */ ({
  all: 'plan.show.all',
  changed: 'plan.show.changed',
  over: 'plan.show.over',
  beyond: 'plan.show.beyond',
  soldout: 'plan.show.soldout',
});

/**
 * An empty file leads instead, until there is something to project or the reader wants the plan all the same.
 * @param {{values: Record<string, string>}} props
 */
export function PlanPage({ values }) {
  const begun = useResource('/api/begun');
  return (
    <Loaded of={begun}>
      {(rows) =>
        isEmpty(countOf(rows)) && !values['plan'] ? (
          <Start n={countOf(rows)} />
        ) : (
          <Plan key={values['show']} asked={values['show']} />
        )
      }
    </Loaded>
  );
}

/** @param {{asked: string | undefined}} props which varieties are asked for by the address */
function Plan({ asked: first }) {
  const { nursery, session } = useSeason();
  const [kept, setKept] = useKept('basis', firstBasis(nursery.settings));
  const basis = { ...firstBasis(nursery.settings), ...kept };
  const latest = useRef(basis); // two fields may change before the page is drawn again
  latest.current = basis;
  const setBasis = (/** @type {Partial<import('./plan.js').Basis>} */ change) =>
    setKept((latest.current = { ...latest.current, ...change }));
  const [live, setLive] = useState(basis.confidence); // where the slider is; the figures follow
  const ask = useThrottled((/** @type {number} */ confidence) => setBasis({ confidence }), ASK_MS);
  const asked = ground(basis) ?? { confidence: basis.confidence };
  const plan = useResource(withQuery('/api/plan', asked), { keep: true });
  const moving = basis.by !== 'money' && (plan.loading || live !== basis.confidence);
  const [keptShow, setShow] = useKept('plan.show', 'all');
  const [turned, setTurned] = useState(false);
  const show = first && !turned ? first : keptShow;
  const [drafts, setDrafts] = useState(/** @type {Drafts} */ ({}));
  const [releasing, setReleasing] = useState(false);
  return (
    <Loaded of={plan}>
      {(data) => (
        <>
          <Today desk="winter" />
          <section class="plan-top">
            <div class="plan-words">
              <Totals data={data} onTooFar={() => (setTurned(true), setShow('over'))} />
              <Basis
                basis={basis}
                live={live}
                planned={data.totals.confidence}
                onLive={(confidence) => {
                  setLive(confidence);
                  ask(confidence);
                }}
                onBasis={setBasis}
              />
              {rights(session).owner && (
                <p class="plan-act">
                  <button type="button" class="main-button" onClick={() => setReleasing(true)}>
                    {t('plan.release')}
                  </button>
                  {Object.keys(drafts).length > 0 && (
                    <span>
                      {t('plan.drafts', { n: Object.keys(drafts).length })}{' '}
                      <button type="button" class="link-button" onClick={() => setDrafts({})}>
                        {t('plan.drafts_drop')}
                      </button>
                    </span>
                  )}
                </p>
              )}
              <Wrong error={plan.error} />
            </div>
            <PlanCurves
              path={withQuery('/api/plan/curve', basis.by === 'money' ? asked : {})}
              totals={data.totals}
              moving={moving ? live : null}
            />
          </section>
          <Measures path={withQuery('/api/plan/measures', asked)} />
          <PlanTable
            rows={data.varieties}
            drafts={drafts}
            setDrafts={setDrafts}
            show={show}
            onShow={(to) => (setTurned(true), setShow(to))}
            rough={moving ? live : null}
          />
          {releasing && (
            <ReleaseDialog
              rows={withDrafts(data.varieties, drafts)}
              drafts={drafts}
              basis={basis}
              onClose={() => setReleasing(false)}
              onDone={() => setDrafts({})}
            />
          )}
        </>
      )}
    </Loaded>
  );
}

/**
 * What the plan means in sum. What is sold too far already is kept apart: no quantity of this plan changes it.
 * @param {{data: import('../contract').Answers['GET /api/plan'], onTooFar: () => void}} props
 */
function Totals({ data, onTooFar }) {
  const { format, nursery } = useSeason();
  const total = data.totals;
  const short = Math.max(0, total.expected_short - total.too_far_short);
  return (
    <div class="totals">
      <h1>{t('plan.title', { ship: format.day(nursery.ship) })}</h1>
      <p>
        {rich('plan.total', {
          quantity: <b class="big">{format.whole(total.quantity)}</b>,
          varieties: format.whole(data.varieties.length),
          short: <b>{format.decimal(short, short >= 0.05 && short < 9.5 ? 1 : 0)}</b>,
          refunds: <b>{format.money(Math.max(0, Number(total.expected_refunds) - Number(total.too_far_refunds)))}</b>,
          unsold: <b>{format.decimal(total.expected_unsold, 0)}</b>,
        })}{' '}
        <span class="quiet">{t('plan.total.now', { n: total.offered })}</span>
      </p>
      {total.too_far > 0 && (
        <p class="note">
          {rich('plan.too_far', {
            varieties: (
              <button type="button" class="link-button" onClick={onTooFar}>
                {t('plan.too_far.varieties', { n: total.too_far })}
              </button>
            ),
            short: <b>{format.decimal(total.too_far_short, 0)}</b>,
            refunds: <b>{format.money(total.too_far_refunds)}</b>,
            share: <a href={hashOf(['orders', 'short'])}>{t('plan.too_far.share')}</a>,
          })}
        </p>
      )}
    </div>
  );
}

/**
 * @param {object} props
 * @param {import('./plan.js').Basis} props.basis
 * @param {number} props.live
 * @param {number} props.planned the confidence that the money stands for
 * @param {(confidence: number) => void} props.onLive
 * @param {(change: Partial<import('./plan.js').Basis>) => void} props.onBasis
 */
function Basis({ basis, live, planned, onLive, onBasis }) {
  const { format } = useSeason();
  const percent = Math.round(live * 100);
  return (
    <div class="basis">
      <div class="choice" role="group" aria-label={t('plan.basis')}>
        {['confidence', 'money'].map((by) => (
          <button key={by} type="button" aria-pressed={basis.by === by} onClick={() => onBasis({ by })}>
            {by === 'confidence' ? t('plan.by_confidence') : t('plan.by_money')}
          </button>
        ))}
      </div>
      {basis.by === 'confidence' ? (
        <label class="ruler">
          <span>{rich('plan.sure', { odds: <b>{format.odds(live)}</b> })}</span>
          <input
            type="range"
            min="50"
            max="99"
            step="1"
            value={percent}
            aria-valuetext={format.odds(live)}
            onInput={(e) => onLive(Number(e.currentTarget.value) / 100)}
          />
          <span class="ruler-marks" aria-hidden="true">
            {[50, 60, 70, 80, 90, 99].map((m) => (
              <span key={m} style={{ left: `${((m - 50) / 49) * 100}%` }}>
                {m}
              </span>
            ))}
          </span>
        </label>
      ) : (
        <div class="money-basis">
          {
            /** @type {const} */ ([
              ['earns', 'plan.margin'],
              ['costs', 'plan.short_cost'],
            ]).map(([field, label]) => (
              <ShareField
                key={field}
                label={t(label)}
                value={basis[field]}
                wrong={ground(basis) === null}
                onValue={(value) => onBasis({ [field]: value })}
              />
            ))
          }
          <p class="quiet">
            {ground(basis) === null
              ? t('plan.money_wrong')
              : t('plan.money_means', { percent: format.percent(planned) })}
          </p>
        </div>
      )}
    </div>
  );
}

/**
 * A share of the price in percent. What is half typed stays when the page is drawn again beneath it.
 * @param {{label: string, value: string, wrong: boolean, onValue: (value: string) => void}} props
 */
function ShareField({ label, value, wrong, onValue }) {
  const [typed, setTyped] = useState(value);
  useEffect(() => setTyped(value), [value]);
  return (
    <label>
      {label}{' '}
      <input
        inputMode="decimal"
        value={typed}
        aria-invalid={wrong}
        onInput={(e) => setTyped(e.currentTarget.value)}
        onChange={(e) => onValue(e.currentTarget.value)}
      />{' '}
      {t('plan.of_price')}
    </label>
  );
}

/**
 * @param {object} props
 * @param {PlanRow[]} props.rows
 * @param {Drafts} props.drafts
 * @param {(change: (d: Drafts) => Drafts) => void} props.setDrafts
 * @param {string} props.show
 * @param {(show: string) => void} props.onShow
 * @param {number | null} props.rough confidence that the figures have not caught up with yet
 */
function PlanTable({ rows, drafts, setDrafts, show, onShow, rough }) {
  const { format, session } = useSeason();
  const wide = useWidthRem();
  const [grouped, setGrouped] = useKept('plan.grouped', false);
  const undo = useUndo();

  const former = useResource('/api/former-codes');
  const texts = useMemo(() => {
    /** @param {string} variety */
    const codes = (variety) => (former.data ?? []).filter((f) => f.variety === variety).map((f) => f.code);
    return new Map(rows.map((r) => [r.variety, findText(r, codes(r.variety))]));
  }, [rows, former.data]);
  const full = useMemo(() => withDrafts(rows, drafts), [rows, drafts]);
  const finding = useFinding({ name: 'plan', rows: full, texts, shows: SHOWS, show, sorts: SORTS });
  const { shown } = finding;
  const live = useMemo(
    () =>
      rough === null
        ? shown
        : shown.map((r) => (drafts[r.variety] === undefined ? { ...r, quantity: roughPlan(r, rough) } : r)),
    [shown, rough, drafts],
  );

  /** @param {PlanRow} row @param {string} field @param {unknown} value @param {unknown} before */
  const patch = async (row, field, value, before) => {
    try {
      await send(
        'PATCH',
        `/api/varieties/${encodeURIComponent(row.variety)}`,
        { [field]: value },
        { base: { [field]: before ?? null }, of: row.variety },
      );
    } finally {
      touch();
    }
  };
  /** @param {PlanRow} row @param {'hold_back' | 'reserve' | 'price'} field @param {unknown} value @param {string} name */
  const change = async (row, field, value, name) => {
    const before = row[SET[field]];
    await patch(row, field, value, before);
    undo.push(
      t('plan.changed', { code: row.variety, what: name, before: String(before ?? '–'), after: String(value) }),
      () => patch(row, field, before, value),
    );
  };
  /** @param {PlanRow} row @param {number | undefined} quantity */
  const draft = (row, quantity) => {
    const before = drafts[row.variety];
    const put = (/** @type {number | undefined} */ q) =>
      setDrafts((d) => {
        const { [row.variety]: _, ...rest } = d;
        return q === undefined ? rest : { ...rest, [row.variety]: q };
      });
    put(quantity);
    undo.push(t('plan.drafted', { code: row.variety, n: quantity ?? row.quantity }), async () => put(before));
  };

  const columns = planColumns({ format, wide, owner: rights(session).owner, drafts, change, draft });
  return (
    <section class="plan-table sheet" aria-label={t('plan.table')}>
      <FindingTools
        finding={finding}
        choices={CHOICES}
        show={show}
        onShow={onShow}
        more={
          <label class="check">
            <input type="checkbox" checked={grouped} onChange={(e) => setGrouped(e.currentTarget.checked)} />{' '}
            {t('plan.group')}
          </label>
        }
        legend={<TuberLegend />}
      />
      <Grid
        label={t('plan.table')}
        rows={live}
        columns={columns}
        rowKey={(r) => r.variety}
        sorting={finding.sorting}
        onSort={finding.onSort}
        group={grouped ? formOf : null}
        onOpen={(r) => go(['winter', 'variety', r.variety])}
      />
    </section>
  );
}

/** @param {PlanRow} row */
function formOf(row) {
  return row.form ?? '';
}

/** The last changes, each of which can be taken back once: by the message's button or by Ctrl+Z. */
function useUndo() {
  const stack = useRef(/** @type {{text: string, back: () => Promise<void>}[]} */ ([]));
  const back = useCallback(async () => {
    const last = stack.current.pop();
    if (!last) return;
    try {
      await last.back();
      say(t('plan.undone', { what: last.text }));
    } catch (error) {
      say(error instanceof Error ? error.message : String(error), { loud: true });
    }
  }, []);
  useEffect(() => {
    /** @param {KeyboardEvent} event */
    const pressed = (event) => {
      const inField = event.target instanceof HTMLInputElement && event.target.type !== 'range';
      if ((event.ctrlKey || event.metaKey) && event.key === 'z' && !inField && stack.current.length > 0) {
        event.preventDefault();
        void back();
      }
    };
    window.addEventListener('keydown', pressed);
    return () => window.removeEventListener('keydown', pressed);
  }, [back]);
  return {
    /** @param {string} text @param {() => Promise<void>} undo */
    push(text, undo) {
      stack.current.push({ text, back: undo });
      say(text, { action: { label: t('action.undo'), run: back } });
    },
  };
}
