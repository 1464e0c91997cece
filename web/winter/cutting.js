// SPDX-License-Identifier: MIT
// What the cutting room's board shows, worked out of the plan.

import { spokenLocale } from '../shared/strings/text.js';

/** @typedef {import('../contract').Answers['GET /api/bench']} Board */

const WORKING_DAYS = 5;

/** The next working days. @param {Pick<Board, 'days'>} board */
export function daysOf(board) {
  return board.days.slice(0, WORKING_DAYS);
}

/**
 * What is cut on these days: clumps, divisions that can be offered then, money that they bring. A lot cut on several days counts once.
 * @param {Pick<Board, 'tasks'>} board @param {{day: string}[]} days
 */
export function totalsOf(board, days) {
  const sums = { clumps: 0, frees: 0, brings: 0 };
  const seen = new Set();
  for (const task of board.tasks) {
    if (task.step !== 'cut' || !days.some((d) => d.day === task.day)) continue;
    sums.clumps += task.clumps;
    if (seen.has(task.lot)) continue;
    seen.add(task.lot);
    sums.frees += task.frees;
    sums.brings += Number(task.brings);
  }
  return sums;
}

/** Minutes as hours and minutes: 75 is "1:15". @param {number} minutes */
export function minutesText(minutes) {
  return `${Math.floor(minutes / 60)}:${String(Math.round(minutes % 60)).padStart(2, '0')}`;
}

/** A day as the head of a column: "Mon, Feb 23". @param {string} day */
export function dayHead(day) {
  const head = new Intl.DateTimeFormat(spokenLocale(), {
    weekday: 'short',
    day: 'numeric',
    month: 'short',
    timeZone: 'UTC',
  });
  return head.format(new Date(`${day}T00:00:00Z`));
}
