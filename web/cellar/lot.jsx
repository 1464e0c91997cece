// SPDX-License-Identifier: MIT
// One lot: where it lies, whether it is held, and what was entered of it; each entry can be taken back by a counter-entry.

import { useCallback, useState } from 'preact/hooks';
import { newKey, send } from '../shared/net/api.js';
import { Loaded, ReasonDialog, say, sayError } from '../shared/dialog.jsx';
import { go, hashOf } from '../shared/route.js';
import { readTag } from '../shared/scanner.js';
import { rights, useSeason } from '../shared/season.jsx';
import { CrateTag } from '../shared/tag.jsx';
import { NamingDialog } from '../shared/naming.jsx';
import { t, word } from '../shared/strings/text.js';
import { touch } from '../shared/net/use.js';
import { Choose } from './choose.jsx';
import { enteredOf } from './entered.js';
import { soundYes } from './sound.js';
import { SplitDialog } from './split.jsx';
import { useOffline, useScanner } from './use.js';

/** @param {{which: string}} props */
export function LotPage({ which }) {
  const scanned = useCallback((/** @type {string} */ text) => {
    soundYes();
    go(['cellar', 'lot', readTag(text).lot]);
  }, []);
  useScanner(scanned);
  return which ? <Lot key={which} code={which} /> : <Find />;
}

function Find() {
  const lots = useOffline('/api/lots');
  return (
    <section class="entry">
      <h1>{t('cellar.lot')}</h1>
      <Choose
        label={t('entry.lot')}
        items={(lots.data ?? []).map((/** @type {any} */ l) => ({
          code: l.lot,
          words: [l.variety, l.name, l.held ? t('lot.held') : ''].filter(Boolean).join(' '),
        }))}
        onChoose={(code) => go(['cellar', 'lot', code])}
      />
    </section>
  );
}

/** @param {{code: string}} props */
function Lot({ code }) {
  const sheet = useOffline(`/api/lots/${encodeURIComponent(code)}`);
  return (
    <section class="entry">
      <Loaded of={sheet}>{(data) => <Sheet data={data} />}</Loaded>
      <a class="thumb" href={hashOf(['cellar', 'lot'])}>
        {t('lot.other')}
      </a>
    </section>
  );
}

/** @param {number} clumps @param {number} divisions */
const amountOf = (clumps, divisions) =>
  [clumps > 0 ? t('lot.clumps', { n: clumps }) : '', divisions > 0 ? t('lot.divisions', { n: divisions }) : '']
    .filter(Boolean)
    .join(', ');

/** @param {{data: import('../contract').Answers['GET /api/lots/{lot}']}} props */
function Sheet({ data }) {
  const { format, session } = useSeason();
  const lot = data.lot;
  const may = rights(session);
  const [holding, setHolding] = useState(/** @type {{held: string | null} | null} */ (null));
  const [undoing, setUndoing] = useState(/** @type {import('./entered.js').Entered | null} */ (null));
  const [key, setKey] = useState(newKey);
  const [naming, setNaming] = useState(false);
  const [splitting, setSplitting] = useState(false);
  const path = `/api/lots/${encodeURIComponent(lot.lot)}/hold`;
  /** @param {string | undefined} why @param {string | null | undefined} before what held it when this was begun */
  const hold = async (why, before) => {
    await send('POST', path, why ? { why } : {}, { key: newKey(), of: lot.lot, base: { held: before ?? null } });
    touch();
  };
  const free = async () => {
    try {
      await hold(undefined, lot.held);
      say(t('lot.freed', { lot: lot.lot }), {
        action: { label: t('action.undo'), run: () => void hold(lot.held ?? undefined, null).catch(sayError) },
      });
    } catch (e) {
      sayError(e);
    }
  };
  const entered = enteredOf(data);
  return (
    <>
      <CrateTag variety={{ code: lot.variety, name: lot.name }} extra={t('walk.lot', { lot: lot.lot })} huge head />
      {lot.held && (
        <p class="refusal" role="status">
          {t('walk.held', { why: lot.held })}
        </p>
      )}
      <ul class="rows lot-places">
        {data.balances.length === 0 && <li>{t('lot.nothing')}</li>}
        {data.balances.map((b) => (
          <li key={b.place}>
            <b>{b.place}</b> {b.room ? <span class="quiet">{b.room} </span> : null}
            {amountOf(b.clumps, b.divisions)}
          </li>
        ))}
      </ul>
      <div class="thumbs lot-acts">
        {lot.held && may.office && (
          <button type="button" class="thumb" onClick={free}>
            {t('lot.free')}
          </button>
        )}
        {!lot.held && (
          <button type="button" class="thumb" onClick={() => setHolding({ held: lot.held })}>
            {t('lot.hold')}
          </button>
        )}
        {may.cellar &&
          /** @type {const} */ ([
            ['dividing', 'cellar.dividing'],
            ['move', 'cellar.move'],
            ['other', 'cellar.other'],
          ]).map(([step, name]) => (
            <a key={step} class="thumb" href={hashOf(['cellar', step], { lot: lot.lot })}>
              {t(name)}
            </a>
          ))}
        <a class="thumb" href={`/print/tags?lots=${encodeURIComponent(lot.lot)}`} target="_blank" rel="noopener">
          {t('lot.tag')}
        </a>
        {may.office && (
          <button type="button" class="thumb" onClick={() => setNaming(true)}>
            {t('naming.relabel')}
          </button>
        )}
        {may.office && data.balances.length > 0 && (
          <button type="button" class="thumb" onClick={() => setSplitting(true)}>
            {t('split.open')}
          </button>
        )}
        {may.office && (
          <a class="thumb" href={hashOf(['orders', 'trace'], { lot: lot.lot })}>
            {t('lot.trace')}
          </a>
        )}
      </div>
      {naming && (
        <NamingDialog
          path={`/api/lots/${encodeURIComponent(lot.lot)}/variety`}
          title={t('naming.relabel_title', { lot: lot.lot })}
          label={t('naming.true_variety')}
          about={t('naming.relabel_about', { lot: lot.lot, code: lot.variety })}
          onClose={() => setNaming(false)}
          onDone={() => {}}
          back={() => ({ path: `/api/lots/${encodeURIComponent(lot.lot)}/variety`, to: lot.variety })}
        />
      )}
      {splitting && (
        <SplitDialog
          lot={lot.lot}
          variety={lot.variety}
          dugOn={lot.dug_on}
          clumps={data.balances.reduce((n, b) => n + b.clumps, 0)}
          divisions={data.balances.reduce((n, b) => n + b.divisions, 0)}
          onClose={() => setSplitting(false)}
        />
      )}
      <h2>{t('lot.entered')}</h2>
      <ul class="rows">
        {entered.length === 0 && <li class="quiet">{t('lot.none_entered')}</li>}
        {entered.map((e) => (
          <li key={`${e.cause} ${e.id}`} class={`entered ${e.undone ? 'entered-undone' : ''}`}>
            <span>
              <span class="quiet">{format.day(e.day)}</span>{' '}
              {t(e.text, {
                ...e.values,
                stage: word('stage', String(e.values.stage ?? '')),
                reason: word('reason', String(e.values.reason ?? '')),
                what: amountOf(Number(e.values.clumps ?? 0), Number(e.values.divisions ?? 0)),
              })}
              {e.timed && `; ${t('entered.timed', { n: e.timed.people, minutes: e.timed.minutes })}`}
            </span>
            {e.undone ? (
              <span class="quiet">{t('lot.undone')}</span>
            ) : (
              (e.split ? may.office : may.cellar) && (
                <button type="button" class="thumb thumb-small" onClick={() => setUndoing(e)}>
                  {t('lot.undo')}
                </button>
              )
            )}
          </li>
        ))}
      </ul>
      {holding && (
        <ReasonDialog
          title={t('lot.hold.title', { lot: lot.lot })}
          about={t('lot.hold.about')}
          save={t('lot.hold')}
          onClose={() => setHolding(null)}
          onSave={async (why) => {
            await hold(why, holding.held);
            say(t('lot.held_now', { lot: lot.lot }), {
              action: { label: t('action.undo'), run: () => void hold(undefined, why).catch(sayError) },
            });
          }}
        />
      )}
      {undoing && (
        <ReasonDialog
          title={t('lot.undo.title')}
          about={t('lot.undo.about')}
          save={t('lot.undo')}
          onClose={() => setUndoing(null)}
          onSave={async (why) => {
            await send('POST', '/api/undo', { cause: undoing.cause, cause_id: undoing.id, why }, { key });
            setKey(newKey());
            say(t('lot.undo.done'));
            touch();
          }}
        />
      )}
    </>
  );
}
