// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { makeFormat } from './format.js';
import { inReadersForm, parseAnswer } from './prose.js';

const us = makeFormat('en-US');
const gb = makeFormat('en-GB');
/** Intl writes some spaces as non-breaking or thin ones, and by its age some or none around a range's dash. @param {string} text */
const spaces = (text) => text.replace(/[\u00a0\u2009\u202f]/g, ' ').replace(/ ?– ?/g, '–');

test('days and weeks in sentences', () => {
  const rows = [
    [
      'to leave by 2031-11-03, now expected by 2032-05-07; silence is consent (16 CFR 435.2(b)(1)(ii))',
      'to leave by Nov 3, 2031, now expected by May 7, 2032; silence is consent (16 CFR 435.2(b)(1)(ii))',
      'to leave by 3 Nov 2031, now expected by 7 May 2032; silence is consent (16 CFR 435.2(b)(1)(ii))',
    ],
    [
      'Leaves in week 2032-W16, as the buyer wished.',
      'Leaves in week 16 (Apr 12–18), as the buyer wished.',
      'Leaves in week 16 (12–18 Apr), as the buyer wished.',
    ],
    ['Week 2032-W03 is past.', 'Week 3 (Jan 12–18) is past.', 'Week 3 (12–18 Jan) is past.'],
    ['order 2031-0002 line 3', 'order 2031-0002 line 3', 'order 2031-0002 line 3'],
    ['2032-99-99 is no day', '2032-99-99 is no day', '2032-99-99 is no day'],
    ['write a day such as "2032-04-19"', 'write a day such as "2032-04-19"', 'write a day such as "2032-04-19"'],
    ['at 2032-01-05T13:44:33Z', 'at 2032-01-05T13:44:33Z', 'at 2032-01-05T13:44:33Z'],
  ];
  for (const [text, american, british] of rows) {
    assert.equal(spaces(inReadersForm(String(text), us)), american);
    assert.equal(spaces(inReadersForm(String(text), gb)), british);
  }
});

test('only sentences are rewritten; days as values stay what programs need', () => {
  const answer = parseAnswer('{"ship":"2032-04-19","why":"by 2032-04-19","lines":[{"sentence":"by 2032-04-19"}]}');
  assert.equal(answer.ship, '2032-04-19');
  assert.equal(answer.why, 'by 2032-04-19');
  assert.equal(answer.lines[0].sentence.includes('2032-04-19'), false);
});
