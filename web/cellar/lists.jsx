// SPDX-License-Identifier: MIT
// Today in the cutting room, on the phone: what is washed, what is cut, in walking order. Works on without a network.

import { hashOf } from '../shared/route.js';
import { useSeason } from '../shared/season.jsx';
import { CrateTag } from '../shared/tag.jsx';
import { useKept } from '../shared/net/use.js';
import { t } from '../shared/strings/text.js';
import { post } from './box.js';
import { soundYes } from './sound.js';
import { useOffline } from './use.js';

/** @typedef {import('../contract').Answers['GET /api/bench']['tasks'][number]} Task */

/** The days of the plan that a phone keeps: a long week-end without a network. */
const KEPT_DAYS = 6;

export function CuttingLists() {
  const { format } = useSeason();
  const board = useOffline(`/api/bench?days=${KEPT_DAYS}`);
  const [washed, setWashed] = useKept('washed', /** @type {string[]} */ ([]));
  if (!board.data)
    return (
      <section class="lists">
        <h1>{t('cellar.cutting')}</h1>
        <p class="large-note" role="status">
          {board.error ? board.error.message : t('lists.loading')}
        </p>
      </section>
    );
  const tasks = /** @type {Task[]} */ (board.data.tasks);
  const today = board.data.today;
  const day = tasks.find((k) => k.day >= today)?.day ?? today;
  const of = (/** @type {string} */ step) => tasks.filter((k) => k.day === day && k.step === step);
  const mark = (/** @type {Task} */ k) => `${k.day} ${k.lot}`;
  const wash = async (/** @type {Task} */ k) => {
    await post('/api/bench/washed', { lot: k.lot, washed_on: today }, t('lists.washed.said', { lot: k.lot }));
    soundYes();
    setWashed([...washed.filter((m) => m.startsWith(day)), mark(k)]);
  };
  return (
    <section class="lists">
      <h1>{t('cellar.cutting')}</h1>
      {board.old && <p class="note">{t('lists.old', { day: format.day(today) })}</p>}
      {day !== today && <p class="note">{t('lists.later', { day: format.day(day) })}</p>}
      <h2>{t('lists.cut', { n: of('cut').length })}</h2>
      {of('cut').length === 0 && <p class="large-note">{t('lists.none_cut')}</p>}
      <ul class="list-tasks">
        {of('cut').map((k) => (
          <li key={k.lot}>
            <a class="list-task" href={hashOf(['cellar', 'dividing'], { lot: k.lot })}>
              <TaskTag task={k} />
              <span class="list-do">{t('lists.enter')}</span>
            </a>
          </li>
        ))}
      </ul>
      <p>
        <a class="link-button" href={`/print/tags?cut_on=${today}`} target="_blank" rel="noopener">
          {t('lists.tags')}
        </a>
      </p>
      <h2>{t('lists.wash', { n: of('wash').length })}</h2>
      {of('wash').length === 0 && <p class="large-note">{t('lists.none_wash')}</p>}
      <ul class="list-tasks">
        {of('wash').map((k) => (
          <li key={k.lot}>
            <TaskTag task={k} />
            {washed.includes(mark(k)) ? (
              <p class="note">{t('lists.is_washed')}</p>
            ) : (
              <button type="button" class="thumb" disabled={day !== today} onClick={() => void wash(k)}>
                {t('lists.washed', { lot: k.lot })}
              </button>
            )}
          </li>
        ))}
      </ul>
      <p class="caution">{t('cellar.caution')}</p>
    </section>
  );
}

/** @param {{task: Task}} props */
function TaskTag({ task }) {
  return (
    <CrateTag
      variety={{ code: task.variety, name: task.name }}
      extra={t('lists.where', {
        lot: task.lot,
        place: task.place ? `${task.place}${task.room ? `, ${task.room}` : ''}` : t('cutting.no_place'),
        n: task.clumps,
        minutes: task.minutes,
      })}
    />
  );
}
