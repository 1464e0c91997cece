// SPDX-License-Identifier: MIT
// One variety for the beds: this spring's tuber with the earth line to be moved, next spring's that swells with it, the years that
// follow, and why. On top of each other and on one scale, so that what is kept and what comes of it can be compared by eye.

import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import { get, send, withQuery } from '../shared/net/api.js';
import { Loaded, say, sayError } from '../shared/dialog.jsx';
import { Chart, useMeasured } from '../shared/chart/charts.jsx';
import { bandPath, linePath } from '../shared/chart/scale.js';
import { slide } from '../shared/chart/slide.js';
import { outline, piecePath, reachOf, slabsOfPmf, slabsOfQuantiles } from '../shared/chart/tuber.js';
import { hashOf } from '../shared/route.js';
import { rights, useSeason } from '../shared/season.jsx';
import { CrateTag } from '../shared/tag.jsx';
import { rich, t } from '../shared/strings/text.js';
import { touch, useResource, useThrottled } from '../shared/net/use.js';
import { Legend } from './legend.jsx';
import { atKeep, lossAt, nextSpring } from './planting.js';

/** @typedef {import('./planting.js').KeepSheet} KeepSheet */

/** How often the years are asked for while the line is being moved. */
const ASK_MS = 250;

/** @param {{code: string}} props */
export function EarthPage({ code }) {
  const { session } = useSeason();
  const [keep, setKeep] = useState(/** @type {number | null} */ (null)); // where the line is; null: at the best figure
  const [asked, setAsked] = useState(/** @type {number | null} */ (null));
  const ask = useThrottled(setAsked, ASK_MS);
  const sheet = useResource(withQuery(`/api/keep/${encodeURIComponent(code)}`, asked === null ? {} : { keep: asked }), {
    keep: true,
  });
  const move = (/** @type {number} */ next) => {
    setKeep(next);
    ask(next);
  };
  return (
    <>
      <p>
        <a href={hashOf(['winter', 'planting'])}>{t('planting.back')}</a>
      </p>
      <Loaded of={sheet}>
        {(data) => (
          <Sheet sheet={data} keep={keep ?? data.asked ?? data.hold_back} onKeep={move} owner={rights(session).owner} />
        )}
      </Loaded>
    </>
  );
}

/** @param {{sheet: KeepSheet, keep: number, onKeep: (keep: number) => void, owner: boolean}} props */
function Sheet({ sheet, keep, onKeep, owner }) {
  const { format } = useSeason();
  const loss = lossAt(sheet, keep);
  const whole = (/** @type {number | null} */ n) => (n === null ? '–' : format.whole(Math.round(n)));
  const forSale = atKeep(sheet.curve, keep, 'for_sale');
  const next = atKeep(sheet.curve, keep, 'next');
  const words = t('planting.line.text', { n: keep, loss: loss === null ? '–' : format.money(loss), next: whole(next) });
  const write = async () => {
    try {
      await send(
        'POST',
        '/api/keep',
        { items: [{ variety: sheet.variety, keep }] },
        { base: { [sheet.variety]: sheet.hold_back }, of: sheet.variety },
      );
      say(t('planting.written', { n: 1 }));
    } catch (error) {
      sayError(error);
    }
    touch();
  };
  return (
    <>
      <header class="variety-head">
        <CrateTag variety={{ code: sheet.variety, name: sheet.name }} />
        <h1>{t('planting.of', { name: sheet.name })}</h1>
      </header>
      {sheet.asked === null ? (
        <p class="note">{t(sheet.needs === 'price' ? 'planting.no_price' : 'planting.no_demand')}</p>
      ) : (
        <section class="sheet earth" aria-label={t('planting.line')}>
          <p class="earth-words" aria-live="polite">
            {rich('planting.line.words', {
              keep: <b class="big">{format.whole(keep)}</b>,
              sale: <b>{whole(forSale)}</b>,
              next: <b>{whole(next)}</b>,
              loss: <b>{loss === null ? '–' : format.money(loss)}</b>,
            })}
          </p>
          <EarthLine sheet={sheet} keep={keep} onKeep={onKeep} words={words} />
          <p class="plan-act">
            {owner && (
              <button
                type="button"
                class="main-button"
                disabled={keep === sheet.hold_back}
                onClick={() => void write()}
              >
                {t('planting.hold', { n: keep })}
              </button>
            )}
            <button type="button" onClick={() => onKeep(sheet.keep ?? 0)}>
              {t('planting.best', { n: sheet.keep ?? 0 })}
            </button>
            <button type="button" onClick={() => onKeep(sheet.hold_back)}>
              {t('planting.as_held', { n: sheet.hold_back })}
            </button>
          </p>
        </section>
      )}
      <div class="two">
        {sheet.years.length > 1 && (
          <section class="sheet">
            <h2>{t('planting.years')}</h2>
            <Years years={sheet.years} />
          </section>
        )}
        <section class="sheet">
          <h2>{t('planting.why')}</h2>
          <ul class="sentences">
            {sheet.sentences.map((s) => (
              <li key={s}>{s}</li>
            ))}
          </ul>
          {owner && <OwnFigures sheet={sheet} />}
        </section>
      </div>
    </>
  );
}

/** The two tubers. @param {{sheet: KeepSheet, keep: number, onKeep: (keep: number) => void, words: string}} props */
function EarthLine({ sheet, keep, onKeep, words }) {
  const [frame, width] = useMeasured(720);
  const most = Math.max(sheet.curve[sheet.curve.length - 1]?.keep ?? 0, sheet.hold_back, 1);
  const slabs = useMemo(() => slabsOfPmf(sheet.pmf), [sheet.pmf]);
  // One scale for both springs, which the line does not change: what next spring may be if the most is kept.
  const reach = useMemo(() => {
    const later = nextSpring(
      sheet,
      atKeep(sheet.curve, Math.max(sheet.keep ?? 0, sheet.hold_back) * 1.25, 'places') ?? 0,
    ).p95;
    return Math.max(reachOf(slabs), later, most) * 1.05;
  }, [sheet.curve, slabs, most]);
  const unit = width / reach;
  const now = useMemo(() => outline(slabs, { width, half: 44, max: reach, neck: 1.5 }), [slabs, width, reach]);
  const planted = atKeep(sheet.curve, keep, 'places') ?? 0;
  const then = useMemo(
    () => outline(slabsOfQuantiles(nextSpring(sheet, planted)), { width, half: 44, max: reach, neck: 1.5 }),
    [sheet, planted, width, reach],
  );
  const x = Math.min(keep, reach) * unit;
  const knife = sheet.offered > 0 ? (keep + sheet.offered) * unit : null;
  const { drag, pressed } = slide({
    value: keep,
    most,
    step: Math.max(2, Math.round(most / 15)),
    at: (left) => left / unit,
    onValue: onKeep,
  });
  const side = x > width - 150 ? 'end' : 'start';
  return (
    <div
      ref={frame}
      class="tuber-large earth-line"
      role="slider"
      tabIndex={0}
      aria-label={t('planting.line')}
      aria-valuemin={0}
      aria-valuemax={most}
      aria-valuenow={keep}
      aria-valuetext={words}
      onPointerDown={drag}
      onPointerMove={drag}
      onKeyDown={pressed}
    >
      <svg viewBox={`0 0 ${width} 250`} width={width} height={250} aria-hidden="true" focusable="false">
        <text class="tuber-text" x={width} y={16} text-anchor="end">
          {t('planting.this_spring')}
        </text>
        <rect class="earth-ground" x={0} y={22} width={Math.max(0, x)} height={100} />
        <path class="tuber-kept" d={piecePath(now, 0, x, 72)} />
        <path class="tuber-sure" d={piecePath(now, x, width, 72)} />
        {knife !== null && knife < width && <rect class="tuber-knife" x={knife - 1} y={26} width={2} height={92} />}
        {knife !== null && knife < width && (
          <text
            class="tuber-text"
            x={knife + (knife > width - 130 ? -6 : 6)}
            y={38}
            text-anchor={knife > width - 130 ? 'end' : 'start'}
          >
            {t('planting.offered', { n: sheet.offered })}
          </text>
        )}
        <g class="earth-mark" transform={`translate(${x} 0)`}>
          <line y1="20" y2="126" />
          <path d="M-9 6h18l-9 14Z" />
        </g>
        <text class="tuber-text earth-text" x={x + (side === 'start' ? 14 : -14)} y={16} text-anchor={side}>
          {t('planting.line.keep', { n: keep })}
        </text>
        <text class="tuber-text" x={width} y={152} text-anchor="end">
          {t('planting.next_spring')}
        </text>
        <path class="tuber-next" d={piecePath(then, 0, width, 194)} />
        <line class="rule" x1="0" x2={width} y1="246" y2="246" />
      </svg>
    </div>
  );
}

/** The fan of the years, what is asked for, and what is sold. @param {{years: KeepSheet['years']}} props */
function Years({ years }) {
  const { format } = useSeason();
  const first = years[0]?.season ?? 0;
  const last = years[years.length - 1]?.season ?? first + 1;
  const high = Math.max(...years.map((y) => Math.max(y.p90, y.demand))) * 1.05;
  const met = years.find((y) => y.met >= 0.5);
  return (
    <>
      <p>
        {met
          ? met.season === first
            ? t('planting.met.now')
            : t('planting.met', { season: String(met.season) })
          : t('planting.met.never')}
      </p>
      <Chart
        label={t('planting.years.text')}
        xs={[first, last]}
        ys={[0, Math.max(1, high)]}
        xMarks={years.map((y) => y.season)}
        draw={({ x, y }) => (
          <>
            <path
              class="fan-wide"
              d={bandPath(
                years.map((p) => [p.season, p.p10, p.p90]),
                x,
                y,
              )}
            />
            <path
              class="fan-narrow"
              d={bandPath(
                years.map((p) => [p.season, p.p25, p.p75]),
                x,
                y,
              )}
            />
            <path
              class="line-sold"
              d={linePath(
                years.map((p) => [p.season, p.p50]),
                x,
                y,
              )}
            />
            <path
              class="line-asked"
              d={linePath(
                years.map((p) => [p.season, p.demand]),
                x,
                y,
              )}
            />
          </>
        )}
        table={{
          heads: [
            t('planting.season'),
            t('planting.sound'),
            t('planting.8in10'),
            t('planting.keep'),
            t('planting.sold'),
            t('planting.demand'),
            t('planting.chance'),
          ],
          rows: years.map((y) => [
            String(y.season),
            format.whole(y.p50),
            `${format.whole(y.p10)} – ${format.whole(y.p90)}`,
            format.decimal(y.kept, 0),
            format.decimal(y.sold, 0),
            format.decimal(y.demand, 0),
            format.percent(y.met),
          ]),
        }}
      />
      <Legend
        signs={[
          {
            text: t('planting.legend.fan'),
            width: 22,
            sign: (
              <>
                <rect class="fan-wide" width="22" height="12" />
                <rect class="fan-narrow" y="3" width="22" height="6" />
              </>
            ),
          },
          {
            text: t('planting.legend.asked'),
            width: 22,
            sign: <line class="line-asked" x1="0" x2="22" y1="6" y2="6" />,
          },
        ]}
      />
    </>
  );
}

/** @typedef {'demand' | 'growth' | 'cost' | 'least'} OwnField */

/** What the owner has said, as the field shows it; '' where nothing is said. @param {OwnField} field @param {KeepSheet} sheet */
function saidOf(field, sheet) {
  if (field === 'demand') return sheet.demand_said ? `${sheet.demand_low}..${sheet.demand_high}` : '';
  if (field === 'growth') return sheet.growth_said ? String(sheet.growth) : '';
  if (field === 'cost') return sheet.cost_said ? String(sheet.cost) : '';
  return sheet.least === null ? '' : String(sheet.least);
}

/** The owner's own figures in the place of what is learned. @param {{sheet: KeepSheet}} props */
function OwnFigures({ sheet }) {
  const fields = /** @type {const} */ ([
    [
      'demand',
      'planting.own.demand',
      sheet.demand_low === null ? '40..90' : `${sheet.demand_low}..${sheet.demand_high}`,
    ],
    ['growth', 'planting.own.growth', String(sheet.growth)],
    ['cost', 'planting.own.cost', String(sheet.cost)],
    ['least', 'planting.own.least', '0'],
  ]);
  return (
    <div class="own-figures">
      <h3>{t('planting.own')}</h3>
      <p class="quiet">{t('planting.own.about')}</p>
      {fields.map(([field, label, learned]) => (
        <OwnFigure key={field} sheet={sheet} field={field} label={t(label)} learned={learned} />
      ))}
    </div>
  );
}

/** @param {{sheet: KeepSheet, field: OwnField, label: string, learned: string}} props */
function OwnFigure({ sheet, field, label, learned }) {
  const value = saidOf(field, sheet);
  const [text, setText] = useState(value);
  const [wrong, setWrong] = useState('');
  /* What stands on record, and what is on its way there: a figure may be typed over before the page has heard of it. */
  const stands = useRef(value);
  const saving = useRef(Promise.resolve());
  /* What was typed and is not on record yet stays, even where it is what stood there before. */
  const typed = useRef(false);
  const tidy = (/** @type {string} */ s) => s.trim().replace(/\s*[–-]\s*|\s+/g, '..');
  const settle = (/** @type {string} */ said) =>
    setText((now) => {
      if (tidy(now) !== said) return now;
      typed.current = false;
      return stands.current;
    });
  useEffect(() => {
    stands.current = value;
    setText((now) => (typed.current ? now : value));
  }, [value]);
  const saveNow = async (/** @type {string} */ said) => {
    const path = /** @type {const} */ (`/api/keep/${encodeURIComponent(sheet.variety)}`);
    const base = stands.current;
    setWrong('');
    if (said === base) return settle(said);
    try {
      await send('PATCH', path, { [field]: said }, { base: { [field]: base === '' ? null : base }, of: sheet.variety });
      stands.current = saidOf(field, await get(path));
      settle(said);
    } catch (error) {
      return setWrong(error instanceof Error ? error.message : String(error));
    }
    touch();
  };
  const save = () => {
    const said = tidy(text);
    saving.current = saving.current.then(() => saveNow(said));
  };
  return (
    <label class="field">
      <span class="field-label">{label}</span>
      <input
        inputMode={field === 'demand' ? 'text' : 'decimal'}
        value={text}
        placeholder={learned}
        aria-invalid={wrong !== ''}
        onInput={(e) => {
          typed.current = true;
          setText(e.currentTarget.value);
        }}
        onChange={save}
      />
      {wrong && (
        <span class="wrong" role="alert">
          {wrong}
        </span>
      )}
    </label>
  );
}
