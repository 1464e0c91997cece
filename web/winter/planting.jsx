// SPDX-License-Identifier: MIT
// How many to keep for planting: every variety in one table, the beds above it, and the writing of hold-backs.

import { useEffect, useMemo, useState } from 'preact/hooks';
import { newKey, send } from '../shared/net/api.js';
import { Dialog, Form, Loaded, say, sayError } from '../shared/dialog.jsx';
import { Grid } from '../shared/grid/grid.jsx';
import { FindingTools, useFinding } from './finding.jsx';
import { PlantingLegend } from './legend.jsx';
import { TuberRow } from '../shared/chart/tuber.jsx';
import { go } from '../shared/route.js';
import { rights, useSeason } from '../shared/season.jsx';
import { readNumber } from '../shared/strings/format.js';
import { rich, t } from '../shared/strings/text.js';
import { Code } from '../shared/tag.jsx';
import { touch, useKept, useResource, useWidthRem } from '../shared/net/use.js';
import { Moves } from './moves.jsx';
import { SHOWS, SORTS, findText, nextSpring, writeItems } from './planting.js';

/** @typedef {import('./planting.js').KeepRow} KeepRow */
/** @typedef {import('./planting.js').Typed} Typed */

const MOST = 1_000_000;
const CHOICES = /** @type {const} */ ({
  all: 'planting.show.all',
  other: 'planting.show.other',
  build: 'planting.show.build',
  wanting: 'planting.show.wanting',
});

export function PlantingPage() {
  const { session } = useSeason();
  const plan = useResource('/api/keep', { keep: true });
  const runs = useResource('/api/keep-runs');
  const [typed, setTyped] = useState(/** @type {Typed} */ ({}));
  const [ticked, setTicked] = useState(/** @type {Set<string>} */ (new Set()));
  const [writing, setWriting] = useState(false);
  const last = (runs.data ?? []).find((r) => r.undone_at === null);
  const undo = async (/** @type {number} */ run) => {
    try {
      const { changes } = await send('POST', '/api/keep-runs/undo', { run });
      say(t('planting.undone', { n: changes.length }));
    } catch (error) {
      sayError(error);
    }
    touch();
  };
  return (
    <Loaded of={plan}>
      {(data) => (
        <>
          <section class="planting-top">
            <Beds beds={data.beds} owner={rights(session).owner} />
            <p class="plan-act">
              {rights(session).owner && (
                <button type="button" class="main-button" onClick={() => setWriting(true)}>
                  {t('planting.write')}
                </button>
              )}
              {rights(session).owner && last && (
                <button type="button" onClick={() => void undo(last.run)}>
                  {t('planting.undo', { n: last.varieties })}
                </button>
              )}
              <a href="/print/planting" target="_blank" rel="noopener">
                {t('planting.print')}
              </a>
              <a href="/api/keep.csv" download>
                {t('planting.csv')}
              </a>
            </p>
          </section>
          <Table
            rows={data.varieties}
            typed={typed}
            setTyped={setTyped}
            ticked={ticked}
            setTicked={setTicked}
            owner={rights(session).owner}
          />
          {writing && (
            <WriteDialog
              rows={data.varieties}
              typed={typed}
              ticked={ticked}
              onClose={() => setWriting(false)}
              onUndo={undo}
              onDone={() => (setTyped({}), setTicked(new Set()))}
            />
          )}
        </>
      )}
    </Loaded>
  );
}

/**
 * What the beds hold, and what a place is worth.
 * @param {{beds: import('../contract').Answers['GET /api/keep']['beds'], owner: boolean}} props
 */
function Beds({ beds, owner }) {
  const { format } = useSeason();
  const planted = format.whole(Math.round(beds.planted));
  const full = beds.places !== null && Number(beds.price) > 0;
  return (
    <div class="totals">
      <h1>{t('planting.title')}</h1>
      <p>
        {beds.places === null
          ? rich('planting.no_end', { planted: <b class="big">{planted}</b> })
          : rich('planting.beds', {
              planted: <b class="big">{planted}</b>,
              places: <b>{format.whole(beds.places)}</b>,
            })}{' '}
        {full
          ? rich('planting.price', { price: <b>{format.money(beds.price)}</b> })
          : beds.places !== null && t('planting.room')}{' '}
        <span class="quiet">{t('planting.held', { n: beds.held_back })}</span>
      </p>
      {beds.wanting > 0 && <p class="note">{t('planting.wanting', { n: beds.wanting })}</p>}
      {owner && <BedsField places={beds.places} />}
    </div>
  );
}

/** Places in the beds, for the record. @param {{places: number | null}} props */
function BedsField({ places }) {
  const { nursery } = useSeason();
  const [text, setText] = useState(places === null ? '' : String(places));
  const [wrong, setWrong] = useState('');
  useEffect(() => setText(places === null ? '' : String(places)), [places]);
  const save = async () => {
    const n = text.trim() === '' ? 0 : readNumber(text);
    if (!Number.isInteger(n) || n < 0 || n > MOST) return setWrong(t('error.whole_number'));
    setWrong('');
    if (n === (places ?? 0)) return;
    try {
      await send(
        'PATCH',
        '/api/settings',
        { beds_places: String(n) },
        { base: { beds_places: nursery.settings.beds_places ?? '0' }, of: t('planting.places') },
      );
    } catch (error) {
      sayError(error);
    }
    touch();
  };
  return (
    <label class="planting-beds">
      {t('planting.places')}{' '}
      <input
        inputMode="numeric"
        value={text}
        placeholder={t('planting.places.none')}
        aria-invalid={wrong !== ''}
        onInput={(e) => setText(e.currentTarget.value)}
        onChange={() => void save()}
      />
      {wrong && (
        <span class="wrong" role="alert">
          {wrong}
        </span>
      )}
    </label>
  );
}

/** @param {string} text */
function wholeOf(text) {
  const n = readNumber(text);
  if (!Number.isInteger(n) || n < 0 || n > MOST) throw new Error(t('error.whole_number'));
  return n;
}

/**
 * @param {object} props
 * @param {KeepRow[]} props.rows
 * @param {Typed} props.typed
 * @param {(change: (d: Typed) => Typed) => void} props.setTyped
 * @param {Set<string>} props.ticked
 * @param {(change: (d: Set<string>) => Set<string>) => void} props.setTicked
 * @param {boolean} props.owner
 */
function Table({ rows, typed, setTyped, ticked, setTicked, owner }) {
  const { format } = useSeason();
  const wide = useWidthRem();
  const [show, setShow] = useKept('planting.show', 'all');
  const texts = useMemo(() => new Map(rows.map((r) => [r.variety, findText(r)])), [rows]);
  const finding = useFinding({ name: 'planting', rows, texts, shows: SHOWS, show, sorts: SORTS });
  const columns = keepColumns({ format, wide, owner, typed, ticked, setTyped, setTicked });
  return (
    <section class="plan-table sheet" aria-label={t('planting.table')}>
      <FindingTools finding={finding} choices={CHOICES} show={show} onShow={setShow} legend={<PlantingLegend />} />
      <Grid
        label={t('planting.table')}
        rows={finding.shown}
        columns={columns}
        rowKey={(r) => r.variety}
        sorting={finding.sorting}
        onSort={finding.onSort}
        onOpen={(r) => go(['winter', 'planting', r.variety])}
      />
    </section>
  );
}

/**
 * @param {object} o
 * @param {import('../shared/strings/format.js').Format} o.format
 * @param {number} o.wide
 * @param {boolean} o.owner
 * @param {Typed} o.typed
 * @param {Set<string>} o.ticked
 * @param {(change: (d: Typed) => Typed) => void} o.setTyped
 * @param {(change: (d: Set<string>) => Set<string>) => void} o.setTicked
 * @returns {import('../shared/grid/grid.jsx').Column<KeepRow>[]}
 */
function keepColumns({ format, wide, owner, typed, ticked, setTyped, setTicked }) {
  const keepOf = (/** @type {KeepRow} */ r) => typed[r.variety] ?? r.keep;
  const tick = (/** @type {KeepRow} */ r, /** @type {boolean} */ on) =>
    setTicked((before) => {
      const next = new Set(before);
      if (on) next.add(r.variety);
      else next.delete(r.variety);
      return next;
    });
  /** @param {'demand' | 'growth' | 'least'} field @param {(r: KeepRow) => string} text */
  const said = (field, text) =>
    owner
      ? {
          text,
          save: async (/** @type {KeepRow} */ r, /** @type {string} */ value) => {
            const of = value
              .trim()
              .replace(/\s*[–-]\s*|\s+/g, '..')
              .replace(/\.{3,}/g, '..');
            await send('PATCH', `/api/keep/${encodeURIComponent(r.variety)}`, { [field]: of });
            touch();
          },
        }
      : undefined;
  /** @type {(import('../shared/grid/grid.jsx').Column<KeepRow> & {from: number})[]} */
  const all = [
    {
      from: 30,
      key: 'tick',
      head: t('planting.tick'),
      width: 3.5,
      cell: (r) => (
        <input
          type="checkbox"
          aria-label={t('planting.tick.of', { code: r.variety })}
          checked={ticked.has(r.variety)}
          onClick={(e) => e.stopPropagation()}
          onChange={(e) => tick(r, e.currentTarget.checked)}
        />
      ),
    },
    { from: 0, key: 'variety', head: t('col.code'), width: 6.75, sorts: true, cell: (r) => <Code code={r.variety} /> },
    { from: 60, key: 'name', head: t('col.name'), width: 11, sorts: true, cell: (r) => r.name },
    {
      from: 0,
      key: 'picture',
      head: t('planting.picture'),
      hint: t('planting.picture.hint'),
      cell: (r) => <Picture row={r} keep={keepOf(r)} />,
    },
    {
      from: 0,
      key: 'keep',
      head: t('planting.keep'),
      hint: t('planting.keep.hint'),
      width: 5,
      right: true,
      sorts: true,
      cell: (r) =>
        r.keep === null && typed[r.variety] === undefined ? (
          <span class="quiet">{t(r.needs === 'price' ? 'planting.needs.price' : 'planting.needs.demand')}</span>
        ) : (
          <b
            title={typed[r.variety] === undefined ? undefined : t('plan.by_hand')}
          >{`${format.whole(keepOf(r) ?? 0)}${typed[r.variety] === undefined ? '' : '*'}`}</b>
        ),
      edit: owner
        ? {
            text: (r) => String(keepOf(r) ?? ''),
            save: async (r, text) => setTyped((d) => ({ ...d, [r.variety]: wholeOf(text) })),
          }
        : undefined,
    },
    {
      from: 76,
      key: 'range',
      head: t('planting.range'),
      hint: t('planting.range.hint'),
      width: 6,
      right: true,
      cell: (r) =>
        r.keep === null ? (
          ''
        ) : (
          <span class="quiet">{`${format.whole(r.low ?? 0)} – ${format.whole(r.high ?? 0)}`}</span>
        ),
    },
    {
      from: 44,
      key: 'hold_back',
      head: t('planting.hold_back'),
      hint: t('planting.hold_back.hint'),
      width: 5,
      right: true,
      sorts: true,
      cell: (r) => format.whole(r.hold_back),
    },
    {
      from: 52,
      key: 'loss',
      head: t('planting.loss'),
      hint: t('planting.loss.hint'),
      width: 6.5,
      right: true,
      sorts: true,
      cell: (r) => (r.loss_of_hold_back === null ? '' : format.money(r.loss_of_hold_back)),
    },
    {
      from: 70,
      key: 'demand',
      head: t('planting.demand'),
      hint: t('planting.demand.hint'),
      width: 6.5,
      right: true,
      sorts: true,
      cell: (r) => own(r.demand_said, r.demand === null ? '?' : format.decimal(r.demand, 0)),
      edit: said('demand', (r) => (r.said_low === null ? '' : `${r.said_low}..${r.said_high}`)),
    },
    {
      from: 82,
      key: 'growth',
      head: t('planting.growth'),
      hint: t('planting.growth.hint'),
      width: 5.5,
      right: true,
      sorts: true,
      cell: (r) => own(r.growth_said, format.decimal(r.growth, 1)),
      edit: said('growth', (r) => (r.growth_said ? String(r.growth) : '')),
    },
    {
      from: 92,
      key: 'least',
      head: t('planting.least'),
      hint: t('planting.least.hint'),
      width: 5,
      right: true,
      sorts: true,
      cell: (r) => (r.least === null ? '' : format.whole(r.least)),
      edit: said('least', (r) => (r.least === null ? '' : String(r.least))),
    },
    {
      from: 100,
      key: 'places',
      head: t('planting.planted'),
      hint: t('planting.planted.hint'),
      width: 5,
      right: true,
      sorts: true,
      cell: (r) => (r.places === null ? '' : format.decimal(r.places, 0)),
    },
  ];
  return all.filter((c) => wide >= c.from);
}

/** The owner's own figure bears a mark. @param {boolean} said @param {string} text */
function own(said, text) {
  return said ? <b title={t('planting.yours')}>{text}*</b> : text;
}

/**
 * This spring's tuber with the earth line and the knife, and next spring's beside it, on one scale.
 * @param {{row: KeepRow, keep: number | null}} props
 */
function Picture({ row, keep }) {
  const { format } = useSeason();
  const kept = keep ?? row.hold_back;
  const next = nextSpring(row, Math.min(kept, row.p95));
  const label = t('planting.picture.text', {
    p10: format.whole(row.p10),
    p90: format.whole(row.p90),
    kept: format.whole(kept),
    offered: format.whole(row.offered),
    next: format.whole(Math.round(next.p50)),
  });
  return (
    <span class={`keep-picture ${row.offered > 0 ? '' : 'keep-unoffered'}`}>
      <TuberRow q={row} kept={kept} quantity={row.offered} sold={0} label={label} width={120} />
      <span class="keep-next">
        <TuberRow
          q={next}
          kept={0}
          quantity={0}
          sold={0}
          label={t('planting.next.text', { next: format.whole(Math.round(next.p50)) })}
          width={120}
        />
      </span>
    </span>
  );
}

/**
 * @param {object} props
 * @param {KeepRow[]} props.rows
 * @param {Typed} props.typed
 * @param {Set<string>} props.ticked
 * @param {() => void} props.onClose
 * @param {(run: number) => Promise<void>} props.onUndo
 * @param {() => void} props.onDone
 */
function WriteDialog({ rows, typed, ticked, onClose, onUndo, onDone }) {
  const [only, setOnly] = useState(ticked.size > 0);
  const [key] = useState(newKey);
  const items = writeItems(rows, typed, only ? ticked : null);
  const save = async () => {
    const body = { items: items.map(({ variety, keep }) => ({ variety, keep })) };
    const { run, changes } = await send('POST', '/api/keep', body, {
      key,
      of: t('planting.hold_back'),
      base: Object.fromEntries(items.map((i) => [i.variety, i.before])),
    });
    say(
      t('planting.written', { n: changes.length }),
      run === null ? {} : { action: { label: t('action.undo'), run: () => onUndo(run) } },
    );
    onDone();
    onClose();
    touch();
  };
  return (
    <Dialog title={t('planting.write.title')} onClose={onClose} wide>
      <Form
        save={t('planting.write.save', { n: items.length })}
        onSave={save}
        onCancel={onClose}
        disabled={items.length === 0}
      >
        {ticked.size > 0 && (
          <div class="choice" role="group" aria-label={t('planting.which')}>
            <button type="button" aria-pressed={only} onClick={() => setOnly(true)}>
              {t('planting.only_ticked', { n: ticked.size })}
            </button>
            <button type="button" aria-pressed={!only} onClick={() => setOnly(false)}>
              {t('planting.all')}
            </button>
          </div>
        )}
        <p>{items.length === 0 ? t('planting.nothing') : t('planting.write.about')}</p>
        {items.length > 0 && (
          <Moves
            label={t('planting.write.title')}
            before={t('planting.hold_back')}
            after={t('planting.keep')}
            items={items.map((i) => ({ ...i, after: i.keep }))}
          />
        )}
      </Form>
    </Dialog>
  );
}
