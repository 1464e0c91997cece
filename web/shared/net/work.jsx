// SPDX-License-Identifier: MIT
// What is under way for longer than a moment: a bar with words, and a button that stops it.

import { useEffect, useRef, useState } from 'preact/hooks';
import { giveUp, tasks } from './task.js';
import { t, word } from '../strings/text.js';
import { makeStore, useStore } from './use.js';

/** Where it can be shown; the one that came last does: a dialog, or a page that has a place for it, before the corner. */
const places = makeStore(/** @type {symbol[]} */ ([]));

/** A listener is told of each quarter, no more. */
const PARTS = 4;

export function Work() {
  const me = useRef(Symbol('place'));
  const [first, ...others] = useStore(tasks);
  const last = useStore(places).at(-1);
  useEffect(() => {
    places.set([...places.get(), me.current]);
    return () => places.set(places.get().filter((p) => p !== me.current));
  }, []);
  if (last !== me.current) return null;
  return (
    <div class={first ? 'work' : 'work-none'}>
      <span class="hidden" role="status" aria-live="polite">
        {first && spoken(first)}
      </span>
      {first && <Bar key={first.name} task={first} others={others.length} />}
    </div>
  );
}

/** @param {import('./task.js').Task} task */
function words(task) {
  if (task.state === 'waiting') return t('work.waits');
  if (task.state === 'given-up') return t('work.stopping');
  if (task.all > 0 && task.done >= task.all) return t('work.recording');
  return task.what ? word('work', task.what) : t('work.at_work');
}

/** @param {import('./task.js').Task} task */
function spoken(task) {
  const quarter = task.all > 0 && task.state === 'working' ? Math.floor((PARTS * task.done) / task.all) : 0;
  return quarter > 0 && quarter < PARTS
    ? t('work.so_far', { what: words(task), percent: (100 / PARTS) * quarter })
    : words(task);
}

/** @param {{task: import('./task.js').Task, others: number}} props */
function Bar({ task, others }) {
  const known = task.all > 0 && task.state === 'working';
  const percent = known ? Math.floor((100 * task.done) / task.all) : 0;
  const [asked, setAsked] = useState(false);
  return (
    <>
      <span class="work-words" aria-hidden="true">
        {words(task)} {known && percent < 100 && <span class="quiet">{percent} %</span>}
        {others > 0 && <span class="quiet"> {t('work.others', { n: others })}</span>}
      </span>
      <progress aria-label={words(task)} max={100} {...(known ? { value: percent } : {})} />
      {task.writes && (
        <button type="button" disabled={asked} onClick={() => (setAsked(true), void giveUp(task.name))}>
          {t('work.stop')}
        </button>
      )}
    </>
  );
}
