// SPDX-License-Identifier: MIT
// What is written down in the cellar: a dividing session, a storage check, a stock-take, a move, and any other entry.

import { t, word } from '../shared/strings/text.js';
import { Beside } from './beside.jsx';
import { muchRotten } from './beside.js';
import { Entry } from './entry.jsx';
import { CHECK, COUNT, DIVIDING, MOVE, OTHER, n } from './questions.js';

/** @param {{values: Record<string, string>}} props */
export function MoveEntry({ values }) {
  return (
    <Entry
      title={t('cellar.move')}
      questions={MOVE}
      first={values.lot ? { lot: values.lot } : {}}
      path="/api/moves"
      body={(g, day) => ({
        lot: g.lot,
        day,
        from: g.from || undefined,
        to: g.to,
        clumps: n(g, 'clumps') || undefined,
        divisions: n(g, 'divisions') || undefined,
      })}
      said={(g) => t('entry.move.said', { lot: g.lot ?? '', to: g.to ?? '' })}
    />
  );
}

/** @param {{values: Record<string, string>}} props */
export function OtherEntry({ values }) {
  return (
    <Entry
      title={t('cellar.other')}
      questions={OTHER}
      first={values.lot ? { lot: values.lot } : {}}
      path="/api/entries"
      body={(g, day) => ({
        lot: g.lot,
        day,
        reason: g.reason,
        clumps: n(g, 'clumps') || undefined,
        divisions: n(g, 'divisions') || undefined,
        place: g.place || undefined,
        note: g.note?.trim() || undefined,
      })}
      said={(g) =>
        t('entry.other.said', {
          lot: g.lot ?? '',
          n: n(g, 'clumps') + n(g, 'divisions'),
          reason: word('reason', g.reason),
        })
      }
    />
  );
}

/** @param {{values: Record<string, string>}} props */
export function DividingEntry({ values }) {
  return (
    <Entry
      title={t('cellar.dividing')}
      questions={DIVIDING}
      first={values.lot ? { lot: values.lot } : {}}
      path="/api/dividing"
      body={(g, day) => ({
        lot: g.lot,
        divided_on: day,
        clumps: n(g, 'clumps'),
        rotten: n(g, 'rotten'),
        saleable: n(g, 'saleable'),
        blind: n(g, 'blind'),
        place: g.place || undefined,
        minutes: n(g, 'minutes') || undefined,
        people: n(g, 'minutes') > 0 ? n(g, 'people') || 1 : undefined,
      })}
      after={(done) => (
        <>
          {' '}
          <a
            class="link-button"
            href={`/print/tags?lots=${encodeURIComponent(done.lot)}&cut_on=${done.day}`}
            target="_blank"
            rel="noopener"
          >
            {t('entry.tags')}
          </a>
        </>
      )}
      said={(g) => t('entry.dividing.said', { lot: g.lot ?? '', clumps: n(g, 'clumps'), n: n(g, 'saleable') })}
    />
  );
}

/** @param {{values: Record<string, string>}} props */
export function CheckEntry({ values }) {
  const { lot = '', stage = '', inspected = '' } = values; // from the check rota, or from a lot that shares something
  return (
    <Entry
      key={lot}
      title={t('cellar.check')}
      questions={CHECK}
      first={{ ...(lot && { lot }), ...(stage && { stage }), ...(inspected && { inspected }) }}
      after={(done) => muchRotten(n(done.given, 'rotten'), n(done.given, 'inspected')) && <Beside lot={done.lot} />}
      path="/api/checks"
      body={(g, day) => ({
        lot: g.lot,
        checked_on: day,
        stage: g.stage,
        inspected: n(g, 'inspected'),
        rotten: n(g, 'rotten'),
        shrivelled: g.stage === 'clump' ? undefined : n(g, 'shrivelled'),
        why: g.doubt === 'yes' ? 'suspicion' : 'round',
      })}
      said={(g) => t('entry.check.said', { lot: g.lot ?? '', rotten: n(g, 'rotten'), n: n(g, 'inspected') })}
    />
  );
}

export function CountEntry() {
  return (
    <Entry
      title={t('cellar.count')}
      questions={COUNT}
      first={{}}
      path="/api/counts"
      body={(g, day) => ({
        lot: g.lot,
        counted_on: day,
        stage: g.stage,
        count: n(g, 'count'),
        place: g.place || undefined,
        looked: g.looked || undefined,
      })}
      said={(g) => t('entry.count.said', { lot: g.lot ?? '', n: n(g, 'count'), stage: word('stage', g.stage) })}
    />
  );
}
