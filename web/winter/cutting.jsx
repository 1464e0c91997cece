// SPDX-License-Identifier: MIT
// The cutting room: what is washed and cut on the next working days, lots to be moved by hand, each move with its price.

import { useState } from 'preact/hooks';
import { Dialog, Field, Form, Loaded, say, sayError } from '../shared/dialog.jsx';
import { send } from '../shared/net/api.js';
import { touch, useResource } from '../shared/net/use.js';
import { PlainTable } from '../shared/grid/plain.jsx';
import { rights, useSeason } from '../shared/season.jsx';
import { t, word } from '../shared/strings/text.js';
import { dayHead, daysOf, minutesText, totalsOf } from './cutting.js';

/** @typedef {import('../contract').Answers['GET /api/bench']} Board */
/** @typedef {Board['tasks'][number]} Task */
/** @typedef {Board['days'][number]} Day */

const SHOWN_DAYS = 9; // five working days and the days off between them

export function CuttingPage() {
  const board = useResource(`/api/bench?days=${SHOWN_DAYS}`);
  return (
    <>
      <h1 class="page-title">{t('winter.page.cutting')}</h1>
      <Loaded of={board}>
        {(data) =>
          data.days.length === 0 ? <p class="sheet quiet">{t('cutting.no_days')}</p> : <Bench board={data} />
        }
      </Loaded>
    </>
  );
}

/** @param {{board: Board}} props */
function Bench({ board }) {
  const { session, format } = useSeason();
  const may = rights(session).office;
  const days = daysOf(board);
  const [lot, setLot] = useState(/** @type {{task: Task, day: string} | null} */ (null));
  const [crew, setCrew] = useState(/** @type {Day | null} */ (null));
  const sums = totalsOf(board, days);
  const dropped = (/** @type {string} */ code, /** @type {string} */ day) => {
    const task = board.tasks.find((k) => k.lot === code && k.step === 'cut');
    if (task && may) setLot({ task, day });
  };
  return (
    <>
      <section class="sheet bench-top">
        <p>
          {sums.clumps === 0
            ? t('cutting.nothing')
            : t('cutting.frees', {
                n: sums.clumps,
                days: days.length,
                divisions: format.whole(sums.frees),
                money: format.money(sums.brings),
              })}
        </p>
        <p class="quiet">
          {board.proven ? t('cutting.proven') : t('cutting.above', { share: format.percent(board.above, 1) })}
        </p>
        {board.notes.length > 0 && (
          <ul class="bench-notes">
            {board.notes.map((note) => (
              <li key={note}>{note}</li>
            ))}
          </ul>
        )}
        <p class="bench-actions">
          {may && (
            <button type="button" class="main-button" disabled={sums.clumps === 0} onClick={() => void freeze()}>
              {t('cutting.freeze')}
            </button>
          )}
          <a class="button" href="/print/bench" target="_blank" rel="noreferrer">
            {t('cutting.print')}
          </a>
        </p>
      </section>
      <ol class="bench-board" aria-label={t('cutting.board')}>
        {days.map((day) => (
          <DayColumn
            key={day.day}
            day={day}
            tasks={board.tasks.filter((k) => k.day === day.day)}
            may={may}
            onLot={(task, to) => setLot({ task, day: to })}
            onDrop={dropped}
            onCrew={() => setCrew(day)}
          />
        ))}
      </ol>
      <section class="sheet">
        <h2>{t('cutting.as_table')}</h2>
        <Rows tasks={board.tasks.filter((k) => days.some((d) => d.day === k.day))} />
      </section>
      <Rota />
      <p class="caution">{t('cutting.caution')}</p>
      {lot && <MoveLot task={lot.task} first={lot.day} days={days} onClose={() => setLot(null)} />}
      {crew && <Crew day={crew} onClose={() => setCrew(null)} />}
    </>
  );
}

async function freeze() {
  try {
    const rows = await send('POST', '/api/bench/freeze', {});
    say(t('cutting.frozen', { n: rows.length }));
    touch();
  } catch (error) {
    sayError(error);
  }
}

/**
 * @param {object} props
 * @param {Day} props.day
 * @param {Task[]} props.tasks
 * @param {boolean} props.may
 * @param {(task: Task, day: string) => void} props.onLot
 * @param {(lot: string, day: string) => void} props.onDrop
 * @param {() => void} props.onCrew
 */
function DayColumn({ day, tasks, may, onLot, onDrop, onCrew }) {
  const [over, setOver] = useState(false);
  /** What is dragged is a lot's code; where it lands is a question, not an order. @param {DragEvent} event */
  const drop = (event) => {
    event.preventDefault();
    setOver(false);
    const dragged = event.dataTransfer?.getData('text/plain');
    if (dragged) onDrop(dragged, day.day);
  };
  return (
    <li
      class={`board-day ${over ? 'board-over' : ''}`}
      onDragOver={(e) => (e.preventDefault(), setOver(true))}
      onDragLeave={() => setOver(false)}
      onDrop={drop}
    >
      <header>
        <h2>{dayHead(day.day)}</h2>
        {may ? (
          <button type="button" class="quiet-button" onClick={onCrew}>
            {t('cutting.people', { cut: day.cutters, wash: day.washers, hours: day.hours })}
          </button>
        ) : (
          <span class="quiet">{t('cutting.people', { cut: day.cutters, wash: day.washers, hours: day.hours })}</span>
        )}
      </header>
      {
        /** @type {const} */ (['wash', 'cut']).map((step) => (
          <Lane key={step} step={step} day={day} tasks={tasks.filter((k) => k.step === step)} may={may} onLot={onLot} />
        ))
      }
    </li>
  );
}

/**
 * @param {object} props
 * @param {'wash' | 'cut'} props.step
 * @param {Day} props.day
 * @param {Task[]} props.tasks
 * @param {boolean} props.may
 * @param {(task: Task, day: string) => void} props.onLot
 */
function Lane({ step, day, tasks, may, onLot }) {
  const there = step === 'cut' ? day.cut_minutes : day.wash_minutes;
  const used = step === 'cut' ? day.cut_used : day.wash_used;
  return (
    <div class={`lane lane-${step}`}>
      <h3>{word('step', step)}</h3>
      <p class="lane-minutes">
        <meter
          min={0}
          max={Math.max(there, 1)}
          value={Math.min(used, there)}
          aria-label={t('cutting.minutes', { used: minutesText(used), there: minutesText(there) })}
        />
        <span>{t('cutting.minutes', { used: minutesText(used), there: minutesText(there) })}</span>
      </p>
      {tasks.length === 0 ? (
        <p class="quiet">{t('cutting.none')}</p>
      ) : step === 'cut' ? (
        <ul>
          {tasks.map((k) => (
            <li key={k.lot}>
              <LotTag task={k} may={may} onPress={() => onLot(k, k.day)} />
            </li>
          ))}
        </ul>
      ) : (
        <details>
          <summary>
            {t('cutting.wash', { n: tasks.length, clumps: tasks.reduce((sum, k) => sum + k.clumps, 0) })}
          </summary>
          <ul>
            {tasks.map((k) => (
              <li key={k.lot}>
                <WashLine task={k} />
              </li>
            ))}
          </ul>
        </details>
      )}
    </div>
  );
}

/** @param {{task: Task}} props */
function WashLine({ task }) {
  return (
    <p class="wash-line">
      <span class="code">{task.variety}</span> {task.lot}{' '}
      <span class="quiet">{t('cutting.clumps', { n: task.clumps })}</span>
    </p>
  );
}

/** @param {{task: Task, may: boolean, onPress: () => void}} props */
function LotTag({ task, may, onPress }) {
  const { format } = useSeason();
  const inner = (
    <>
      <span class="lot-tag-head">
        <span class="code">{task.variety}</span> <b>{task.lot}</b>
        {task.kept && <span class="kept">{word('kept', task.kept)}</span>}
      </span>
      <span>{t('cutting.tag', { n: task.clumps, minutes: minutesText(task.minutes) })}</span>
      {task.frees > 0 && (
        <span class="quiet">
          {t('cutting.brings', { n: format.whole(task.frees), money: format.money(task.brings) })}
        </span>
      )}
      {Number(task.late) > 0 && <span class="lot-late">{t('cutting.late', { money: format.money(task.late) })}</span>}
    </>
  );
  if (!may) return <span class="lot-tag">{inner}</span>;
  return (
    <button
      type="button"
      class="lot-tag"
      draggable
      onDragStart={(e) => e.dataTransfer?.setData('text/plain', task.lot)}
      onClick={onPress}
    >
      {inner}
    </button>
  );
}

/**
 * @param {object} props
 * @param {Task} props.task
 * @param {string} props.first the day that is proposed
 * @param {Day[]} props.days
 * @param {() => void} props.onClose
 */
function MoveLot({ task, first, days, onClose }) {
  const { format } = useSeason();
  const [day, setDay] = useState(first);
  const other = day !== task.day;
  return (
    <Dialog title={t('cutting.move', { lot: task.lot })} onClose={onClose}>
      <Form
        save={t('cutting.move.save')}
        disabled={!other}
        onCancel={onClose}
        onSave={async () => {
          await send('POST', '/api/bench/move', { lot: task.lot, day });
          say(t('cutting.moved', { lot: task.lot, day: format.day(day) }));
          touch();
          onClose();
        }}
      >
        <p>
          <span class="code">{task.variety}</span> {task.name}, {task.place || t('cutting.no_place')}.{' '}
          {t('cutting.stands', { day: format.day(task.day) })}
        </p>
        <Field label={t('cutting.move.day')}>
          <select value={day} onChange={(e) => setDay(e.currentTarget.value)}>
            {days.map((d) => (
              <option key={d.day} value={d.day}>
                {format.day(d.day)}
              </option>
            ))}
          </select>
        </Field>
        {other && <Price lot={task.lot} day={day} />}
        {task.kept && (
          <p>
            <button
              type="button"
              onClick={async () => {
                try {
                  await send('POST', '/api/bench/let-go', { lot: task.lot });
                  say(t('cutting.let_go.said', { lot: task.lot }));
                  touch();
                  onClose();
                } catch (error) {
                  sayError(error);
                }
              }}
            >
              {t('cutting.let_go')}
            </button>
          </p>
        )}
      </Form>
    </Dialog>
  );
}

/** @param {{lot: string, day: string}} props */
function Price({ lot, day }) {
  const { format } = useSeason();
  const { data, error } = useResource(`/api/bench/price?lot=${encodeURIComponent(lot)}&day=${day}`);
  if (error)
    return (
      <p class="wrong" role="status">
        {error.message}
      </p>
    );
  const price = data?.[0] ? Number(data[0].price) : null;
  return (
    <p role="status">
      {price === null
        ? t('cutting.counting')
        : Math.abs(price) < 0.005
          ? t('cutting.price.none')
          : price > 0
            ? t('cutting.price.more', { money: format.money(price) })
            : t('cutting.price.less', { money: format.money(-price) })}
    </p>
  );
}

/** Which crates to open this week, by what the answer is worth. */
function Rota() {
  const { format } = useSeason();
  const { data } = useResource('/api/rota');
  if (!data) return null;
  /** @type {import('../shared/strings/text.js').Key[]} */
  const numbers = ['cutting.rota.look', 'cutting.rota.there', 'cutting.rota.weeks', 'cutting.rota.expect'];
  return (
    <section class="sheet">
      <h2>{t('cutting.rota')}</h2>
      <p class="quiet">{t('cutting.rota.about')}</p>
      {data.length === 0 ? (
        <p>{t('cutting.rota.none')}</p>
      ) : (
        <PlainTable label={t('cutting.rota')}>
          <thead>
            <tr>
              <th scope="col">{t('cutting.place')}</th>
              <th scope="col">{t('lot.lot')}</th>
              <th scope="col">{t('cutting.variety')}</th>
              {numbers.map((key) => (
                <th key={key} scope="col" class="right">
                  {t(key)}
                </th>
              ))}
              <th scope="col" class="right">
                {t('cutting.minutes_head')}
              </th>
              <th scope="col" class="right">
                {t('cutting.rota.worth')}
              </th>
            </tr>
          </thead>
          <tbody>
            {data.map((k) => (
              <tr key={`${k.lot} ${k.stage}`}>
                <td>{k.place ?? '–'}</td>
                <td>{k.lot}</td>
                <td>
                  <span class="code">{k.variety}</span> {k.name}
                </td>
                <td class="right">{format.whole(k.look)}</td>
                <td class="right">
                  {format.whole(k.there)} {word('stage', k.stage)}
                </td>
                <td class="right">{format.decimal(k.weeks, 1)}</td>
                <td class="right">{format.decimal(k.expect, 1)}</td>
                <td class="right">{format.whole(k.minutes)}</td>
                <td class="right">{format.money(k.worth)}</td>
              </tr>
            ))}
          </tbody>
        </PlainTable>
      )}
      <p>
        <a class="button" href="/print/rota" target="_blank" rel="noreferrer">
          {t('rota.print')}
        </a>
      </p>
    </section>
  );
}

/** @param {{day: Day, onClose: () => void}} props */
function Crew({ day, onClose }) {
  const { format } = useSeason();
  const [cutters, setCutters] = useState(String(day.cutters));
  const [washers, setWashers] = useState(String(day.washers));
  const [hours, setHours] = useState(String(day.hours));
  return (
    <Dialog title={t('cutting.crew', { day: format.day(day.day) })} onClose={onClose}>
      <Form
        save={t('action.save')}
        onCancel={onClose}
        onSave={async () => {
          await send('POST', '/api/bench/crew', {
            day: day.day,
            cutters: Number(cutters),
            washers: Number(washers),
            hours: Number(hours),
          });
          say(t('cutting.crew.said'));
          touch();
          onClose();
        }}
      >
        <Field label={t('cutting.crew.cut')}>
          <input
            type="number"
            min="0"
            max="100"
            required
            value={cutters}
            onInput={(e) => setCutters(e.currentTarget.value)}
          />
        </Field>
        <Field label={t('cutting.crew.wash')}>
          <input
            type="number"
            min="0"
            max="100"
            required
            value={washers}
            onInput={(e) => setWashers(e.currentTarget.value)}
          />
        </Field>
        <Field label={t('cutting.crew.hours')}>
          <input
            type="number"
            min="0"
            max="24"
            step="0.25"
            required
            value={hours}
            onInput={(e) => setHours(e.currentTarget.value)}
          />
        </Field>
        <p class="quiet">{t('cutting.crew.settings')}</p>
      </Form>
    </Dialog>
  );
}

/** The same as a table. @param {{tasks: Task[]}} props */
function Rows({ tasks }) {
  const { format } = useSeason();
  /** @type {import('../shared/strings/text.js').Key[]} */
  const money = ['cutting.loss', 'cutting.knowledge', 'cutting.late_cost', 'cutting.worth'];
  return (
    <PlainTable label={t('cutting.as_table')}>
      <thead>
        <tr>
          <th scope="col">{t('cutting.day')}</th>
          <th scope="col">{t('cutting.step')}</th>
          <th scope="col">{t('lot.lot')}</th>
          <th scope="col">{t('cutting.variety')}</th>
          <th scope="col">{t('cutting.place')}</th>
          <th scope="col" class="right">
            {t('cutting.clumps_head')}
          </th>
          <th scope="col" class="right">
            {t('cutting.minutes_head')}
          </th>
          {money.map((key) => (
            <th key={key} scope="col" class="right">
              {t(key)}
            </th>
          ))}
        </tr>
      </thead>
      <tbody>
        {tasks.map((k) => (
          <tr key={`${k.day} ${k.step} ${k.lot}`}>
            <td>{format.day(k.day)}</td>
            <td>{word('step', k.step)}</td>
            <td>{k.lot}</td>
            <td>
              <span class="code">{k.variety}</span>
            </td>
            <td>{k.place ?? '–'}</td>
            <td class="right">{format.whole(k.clumps)}</td>
            <td class="right">{format.whole(k.minutes)}</td>
            <td class="right">{k.step === 'cut' ? format.money(k.loss) : ''}</td>
            <td class="right">{k.step === 'cut' ? format.money(k.knowledge) : ''}</td>
            <td class="right">{k.step === 'cut' ? format.money(k.late) : ''}</td>
            <td class="right">{k.step === 'cut' ? format.money(k.brings) : ''}</td>
          </tr>
        ))}
      </tbody>
    </PlainTable>
  );
}
