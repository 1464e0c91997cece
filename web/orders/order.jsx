// SPDX-License-Identifier: MIT
// An order's sheet: each line's fate in a sentence that can be read out on the phone, and what may be done about it.

import { useState } from 'preact/hooks';
import { newKey, send } from '../shared/net/api.js';
import { Loaded, ReasonDialog, useBusy } from '../shared/dialog.jsx';
import { hashOf } from '../shared/route.js';
import { rights, useSeason } from '../shared/season.jsx';
import { Code } from '../shared/tag.jsx';
import { LANGUAGES } from '../shared/strings/languages.js';
import { sentence } from '../shared/strings/prose.js';
import { t, word } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';
import { ActionDialog } from './actions.jsx';
import { AddLineDialog } from './addline.jsx';
import { Besides } from './besides.jsx';
import { OrderClaims } from './claims.jsx';
import { CorrectDialog } from './correct.jsx';
import { ParcelActions } from './parcels.jsx';

/** @param {{number: string}} props */
export function OrderSheet({ number }) {
  const order = useResource(`/api/orders/${encodeURIComponent(number)}`);
  return (
    <section class="order sheet" aria-label={t('order.title', { order: number })}>
      <Loaded of={order}>{(data) => <Order data={data} reload={order.reload} />}</Loaded>
    </section>
  );
}

/** @param {{data: import('../contract').Answers['GET /api/orders/{order}'], reload: () => void}} props */
function Order({ data, reload }) {
  const { format, session } = useSeason();
  const [action, setAction] = useState(/** @type {import('./actions.jsx').Action | null} */ (null));
  const [correcting, setCorrecting] = useState(false);
  const [adding, setAdding] = useState(false);
  const o = data.order;
  const may = rights(session).office && o.state === 'open';
  // A claim comes after the parcel, often after the order is closed.
  const mayClaim = rights(session).office && data.parcels.some((p) => p.state === 'shipped');
  const total = data.lines.reduce(
    (/** @type {number} */ sum, /** @type {any} */ l) => sum + Math.round(Number(l.unit_price) * 100) * l.quantity,
    0,
  );
  return (
    <>
      <header class="order-head">
        <h1>
          <span class="quiet">{t('order.order')}</span> <span class="figure">{o.order}</span>
        </h1>
        <p class="order-who">
          <b>{o.customer || '–'}</b>
          {o.email && <a href={`mailto:${o.email}`}>{o.email}</a>}
          {o.name2 && <span>{o.name2}</span>}
          {o.street && <span>{o.street}</span>}
          <span>{[o.postcode, o.town, o.region, o.country].filter(Boolean).join(' ')}</span>
          {o.phone && <a href={`tel:${o.phone}`}>{o.phone}</a>}
        </p>
        <dl class="facts facts-row">
          <Fact name={t('order.received')} value={format.instant(o.received_at)} />
          <Fact name={t('order.tier')} value={word('tier', o.tier) || word('tier', 'retail')} />
          <Fact name={t('order.week')} value={format.week(o.week)} />
          <Fact name={t('order.wish')} value={o.wish_week ? format.week(o.wish_week) : t('order.no_wish')} />
          {o.language && <Fact name={t('new.language')} value={LANGUAGES[o.language].name} />}
          {o.zone && (
            <Fact
              name={t('order.zone')}
              value={o.zone_by_range ? t('order.zone.by_range', { zone: o.zone }) : o.zone}
            />
          )}
          <Fact name={t('order.state')} value={word('state', o.state)} />
          <Fact name={t('order.value')} value={format.money((total / 100).toFixed(2))} />
          <Fact name={t('order.paid')} value={<Paid order={o} />} />
        </dl>
        {o.replaces && (
          <p>
            <a href={hashOf(['orders', 'order', o.replaces])}>{t('order.replaces', { order: o.replaces })}</a>
          </p>
        )}
        {o.merged_into && (
          <p>
            <a href={hashOf(['orders', 'order', o.merged_into])}>{t('order.merged_into', { order: o.merged_into })}</a>
          </p>
        )}
        {o.kept_unpaid && o.state === 'open' && (
          <p class="note gate" role="status">
            <b>{t('order.kept_unpaid')}</b>
          </p>
        )}
        {o.state === 'open' && <Gates order={o} />}
        {may && <Besides order={o} />}
      </header>
      <ol class="lines">
        {data.lines.map((l) => (
          <Line key={l.line} l={l} order={o} may={may} mayClaim={mayClaim} onAction={setAction} />
        ))}
      </ol>
      {rights(session).office && (
        <div class="form-actions">
          {may && !o.replaces && (
            <button type="button" onClick={() => setAdding(true)}>
              {t('add.open')}
            </button>
          )}
          <button type="button" onClick={() => setCorrecting(true)}>
            {t('order.act.correct')}
          </button>
          {may && (
            <>
              <button type="button" onClick={() => setAction({ kind: 'week', order: o })}>
                {t('order.act.week')}
              </button>
              <button type="button" onClick={() => setAction({ kind: 'cancel', order: o })}>
                {t('order.act.cancel')}
              </button>
            </>
          )}
        </div>
      )}
      <Parts data={data} number={o.order} />
      {adding && <AddLineDialog data={data} onClose={() => setAdding(false)} />}
      {correcting && <CorrectDialog data={data} onClose={() => setCorrecting(false)} />}
      {action && <ActionDialog action={action} onClose={() => setAction(null)} onDone={reload} />}
    </>
  );
}

/**
 * Paid, unpaid, or nobody said: one click says it, on record.
 * @param {{order: import('../contract').Answers['GET /api/orders/{order}']['order']}} props
 */
function Paid({ order }) {
  const { session } = useSeason();
  const [busy, run] = useBusy();
  const is = order.paid === null ? '' : order.paid ? 'yes' : 'no';
  /** @param {string} paid */
  const say = (paid) =>
    run(async () => {
      await send(
        'PATCH',
        `/api/orders/${encodeURIComponent(order.order)}`,
        { paid },
        { base: { paid: is }, of: t('action.order_of', { order: order.order }) },
      );
      touch();
    });
  const others = ['yes', 'no'].filter((w) => w !== is);
  return (
    <>
      {word('paid', is || 'unsaid')}{' '}
      {rights(session).office &&
        others.map((w) => (
          <button key={w} type="button" class="link-button" aria-disabled={busy} onClick={() => say(w)}>
            {t(w === 'yes' ? 'order.act.paid' : 'order.act.unpaid')}
          </button>
        ))}
    </>
  );
}

/**
 * What keeps the order back, and leave to send it all the same: for a destination the owner's, for frost the office's.
 * @param {{order: import('../contract').Answers['GET /api/orders/{order}']['order']}} props
 */
function Gates({ order }) {
  const { session } = useSeason();
  const [rule, setRule] = useState(/** @type {'destination' | 'frost' | null} */ (null));
  const [key] = useState(newKey);
  const [busy, run] = useBusy();
  const path = `/api/orders/${encodeURIComponent(order.order)}/overrule`;
  const rows = /** @type {const} */ ([
    {
      rule: 'destination',
      text: order.blocked && t('gate.blocked', { what: sentence(order.blocked) }),
      over: order.blocked_overruled && sentence(order.blocked_overruled),
      may: rights(session).owner,
    },
    {
      rule: 'frost',
      text: order.frost && t('gate.frost', { what: sentence(order.frost) }),
      over: order.frost_overruled && sentence(order.frost_overruled),
      may: rights(session).office,
    },
  ]);
  /** @param {string} of */
  const heed = (of) =>
    run(async () => {
      await send('POST', path, { rule: of, heed: true }, { key: newKey() });
      touch();
    });
  return (
    <>
      {order.destination_warning && <p class="note">{t('gate.warning', { what: order.destination_warning })}</p>}
      {rows.map((row) => (
        <div key={row.rule}>
          {row.text && (
            <p class="note gate" role="status">
              <b>{row.text}</b>{' '}
              {row.may && (
                <button type="button" class="link-button" onClick={() => setRule(row.rule)}>
                  {t('gate.overrule')}
                </button>
              )}
            </p>
          )}
          {row.over && (
            <p class="note">
              {row.over}{' '}
              {row.may && (
                <button type="button" class="link-button" aria-disabled={busy} onClick={() => heed(row.rule)}>
                  {t('gate.heed')}
                </button>
              )}
            </p>
          )}
        </div>
      ))}
      {rule && (
        <ReasonDialog
          title={t('gate.overrule')}
          about={t('gate.overrule.about')}
          save={t('gate.overrule')}
          onClose={() => setRule(null)}
          onSave={async (why) => {
            await send('POST', path, { rule, why }, { key: `${key}.${rule}` });
            touch();
          }}
        />
      )}
    </>
  );
}

/** @param {{name: string, value: import('preact').ComponentChildren}} props */
function Fact({ name, value }) {
  return (
    <div>
      <dt>{name}</dt>
      <dd>{value}</dd>
    </div>
  );
}

/**
 * @param {object} props
 * @param {import('../contract').Answers['GET /api/orders/{order}']['lines'][number]} props.l
 * @param {import('../contract').Answers['GET /api/orders/{order}']['order']} props.order
 * @param {boolean} props.may
 * @param {boolean} props.mayClaim
 * @param {(action: import('./actions.jsx').Action) => void} props.onAction
 */
function Line({ l, order, may, mayClaim, onAction }) {
  const { format } = useSeason();
  return (
    <li class={`line ${l.short > 0 ? 'line-short' : ''}`}>
      <span class="line-count">
        <b>{l.quantity}</b>&nbsp;×
      </span>
      <div class="line-what">
        <p class="line-name">
          {l.variety ? (
            <>
              <Code code={l.variety} /> {l.name}
            </>
          ) : (
            <>{t('line.assortment', { what: l.assortment ?? '' })}</>
          )}
        </p>
        <p class="line-fate">{l.sentence}</p>
        {(l.substitutes ?? []).length > 0 && (
          <p>
            {t('line.substitutes')}{' '}
            {l.substitutes.map((s) => (
              <span key={s.variety}>
                {s.quantity} × <Code code={s.variety} />{' '}
              </span>
            ))}
          </p>
        )}
        <p class="quiet">
          {t('line.consent')} {word('consent', l.consent)}
          {l.named?.length ? `: ${Array.isArray(l.named) ? l.named.join(' ') : l.named}` : ''}
          {l.all_or_none ? ` · ${t('line.all_or_none')}` : ''} · {format.money(l.unit_price)}
        </p>
      </div>
      <dl class="line-figures">
        <dt>{t('line.firm')}</dt>
        <dd>{l.firm}</dd>
        <dt>{t('line.short')}</dt>
        <dd>{l.short}</dd>
      </dl>
      {(may || mayClaim) && (
        <div class="line-actions">
          {may && (
            <button type="button" class="link-button" onClick={() => onAction({ kind: 'quantity', order, line: l })}>
              {t('line.act.quantity')}
            </button>
          )}
          {may && l.firm > 0 && l.variety && (
            <button type="button" class="link-button" onClick={() => onAction({ kind: 'back', order, line: l })}>
              {t('line.act.back')}
            </button>
          )}
          {may && l.short > 0 && l.variety && (
            <a class="link-button" href={hashOf(['orders', 'short', l.variety])}>
              {t('line.act.share')}
            </a>
          )}
          {mayClaim && (
            <button type="button" class="link-button" onClick={() => onAction({ kind: 'claim', order, line: l })}>
              {t('line.act.claim')}
            </button>
          )}
          {may && l.quantity > 0 && (
            <button type="button" class="link-button" onClick={() => onAction({ kind: 'cancel', order, line: l })}>
              {t('line.act.cancel')}
            </button>
          )}
        </div>
      )}
    </li>
  );
}

/** @param {{data: import('../contract').Answers['GET /api/orders/{order}'], number: string}} props */
function Parts({ data, number }) {
  const { format, session } = useSeason();
  const may = rights(session).office;
  const parcels = data.parcels ?? [];
  const notices = data.notices ?? [];
  const events = data.events ?? [];
  return (
    <div class="order-parts">
      {parcels.length > 0 && (
        <section>
          <h2>{t('order.parcels')}</h2>
          <ul class="rows">
            {parcels.map((p) => (
              <li key={p.parcel}>
                {t('order.parcel', { slot: p.slot })}{' '}
                {[
                  word('state', p.state),
                  p.shipped_on ? format.day(p.shipped_on) : '',
                  p.carrier,
                  p.tracking,
                  p.more_tracking,
                ]
                  .filter(Boolean)
                  .join(' · ')}{' '}
                {may && <ParcelActions parcel={{ ...p, id: p.parcel }} />}
              </li>
            ))}
          </ul>
        </section>
      )}
      <OrderClaims number={number} />
      {notices.length > 0 && (
        <section>
          <h2>{t('order.notices')}</h2>
          <ul class="rows">
            {notices.map((n) => (
              <li key={n.notice}>
                {word('notice', n.kind)} · {t('notices.due', { day: format.day(n.due_on) })} · {word('state', n.state)}
              </li>
            ))}
          </ul>
        </section>
      )}
      {events.length > 0 && (
        <section>
          <h2>{t('order.events')}</h2>
          <ul class="rows">
            {events.map((/** @type {any} */ e, /** @type {number} */ i) => (
              <li key={i}>
                <span class="quiet">{format.instant(e.at)}</span> <b>{e.actor}</b> {word('event', e.kind)}{' '}
                {e.before || e.after ? `${e.before ?? ''} → ${e.after ?? ''}` : ''} {e.note ?? e.why ?? ''}
              </li>
            ))}
          </ul>
        </section>
      )}
    </div>
  );
}
