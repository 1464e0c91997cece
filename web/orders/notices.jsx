// SPDX-License-Identifier: MIT
// Whom to tell what by when, and the evidence that it was done; what money is owed.

import { Component } from 'preact';
import { useState } from 'preact/hooks';
import { newKey, send, withQuery } from '../shared/net/api.js';
import { Dialog, Field, Form, Loaded, say, sayError } from '../shared/dialog.jsx';
import { PlainTable } from '../shared/grid/plain.jsx';
import { hashOf } from '../shared/route.js';
import { useSearch } from '../shared/search.jsx';
import { rights, useSeason } from '../shared/season.jsx';
import { Code } from '../shared/tag.jsx';
import { sentence } from '../shared/strings/prose.js';
import { t, word } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';
import { Outbox, SendLetters, ShopTold } from './outbox.jsx';
import { Templates } from './templates.jsx';

/**
 * @typedef {object} Notice
 * @property {number} notice
 * @property {string} order
 * @property {number | null} line
 * @property {string} kind
 * @property {string} due_on
 * @property {boolean} overdue
 * @property {string} state
 * @property {string | null} customer
 * @property {string | null} email
 * @property {string} amount
 * @property {string} sentence
 */

export function NoticesPage() {
  const { session } = useSeason();
  const [all, setAll] = useState(false);
  const notices = useResource(withQuery('/api/notices', { state: all ? 'all' : undefined }), { keep: true });
  const timetable = useResource('/api/timetable').data;
  const [done, setDone] = useState(/** @type {{notices: Notice[], how: 'sent' | 'drop'} | null} */ (null));
  const [templates, setTemplates] = useState(false);
  const may = rights(session).office;
  const make = async () => {
    try {
      const made = await send('POST', '/api/notices/make', {}, { key: newKey() });
      say(t('notices.made', { n: made?.made ?? 0, kept: made?.kept ?? 0, withdrawn: made?.withdrawn ?? 0 }));
      touch();
    } catch (e) {
      sayError(e);
    }
  };
  return (
    <>
      <div class="page-head">
        <h1 class="page-title">{t('notices.title')}</h1>
        {may && (
          <button type="button" class="main-button" onClick={make}>
            {t('notices.make')}
          </button>
        )}
        {may && (
          <button type="button" onClick={() => setTemplates(true)}>
            {t('notices.templates')}
          </button>
        )}
        <a href="/api/notices.csv" download>
          {t('notices.csv')}
        </a>
        <button type="button" onClick={() => window.print()}>
          {t('print.print')}
        </button>
        <label class="check">
          <input type="checkbox" checked={all} onChange={(e) => setAll(e.currentTarget.checked)} /> {t('notices.all')}
        </label>
      </div>
      <p class="caution">{timetable?.caution ? sentence(timetable.caution) : t('notices.caution')}</p>
      <Loaded of={notices}>
        {(list) =>
          list.length === 0 ? (
            <p class="sheet quiet">{t('notices.none')}</p>
          ) : (
            <ByDate list={list} may={may} onDone={(notices, how) => setDone({ notices, how })} />
          )
        }
      </Loaded>
      <Outbox may={may} />
      <ShopTold may={may} />
      <Refunds />
      {done && <DoneDialog {...done} onClose={() => setDone(null)} />}
      {templates && <Templates onClose={() => setTemplates(false)} />}
    </>
  );
}

/** @param {{list: Notice[], may: boolean, onDone: (notices: Notice[], how: 'sent' | 'drop') => void}} props */
function ByDate({ list, may, onDone }) {
  const { format } = useSeason();
  const { found, field } = useSearch(
    list,
    (n) => [n.order, n.customer, n.email, word('notice', n.kind), n.sentence],
    t('notices.find'),
  );
  const [ticked, setTicked] = useState(/** @type {Set<number>} */ (new Set()));
  const due = found.filter((n) => n.state === 'due');
  const chosen = due.filter((n) => ticked.has(n.notice));
  /** @param {Notice[]} some @param {boolean} on */
  const tick = (some, on) => {
    // From what stands when it is set: a row that was not written anew since has an older one in hand.
    setTicked((was) => {
      const now = new Set(was);
      for (const { notice } of some)
        if (on) now.add(notice);
        else now.delete(notice);
      return now;
    });
  };
  /** @type {Map<string, Notice[]>} */
  const days = new Map();
  for (const n of [...found].sort((a, b) => a.due_on.localeCompare(b.due_on)))
    if (days.has(n.due_on)) days.get(n.due_on)?.push(n);
    else days.set(n.due_on, [n]);
  return (
    <>
      {field}
      {may && due.length > 0 && (
        <div class="form-actions">
          <label class="check">
            <input
              type="checkbox"
              checked={chosen.length === due.length}
              onChange={(e) => tick(due, e.currentTarget.checked)}
            />{' '}
            {t('notices.tick.all', { n: due.length })}
          </label>
          <button
            type="button"
            class="main-button"
            disabled={chosen.length === 0}
            onClick={() => onDone(chosen, 'sent')}
          >
            {t('notices.sent.all', { n: chosen.length })}
          </button>
          <SendLetters chosen={chosen} />
        </div>
      )}
      {[...days].map(([day, due]) => (
        <section key={day} class="sheet">
          <h2>
            {t('notices.due', { day: format.day(day) })}{' '}
            {due.some((n) => n.overdue && n.state === 'due') ? <b class="late">{t('notices.late')}</b> : null}
          </h2>
          <ul class="rows">
            {due.map((n) => (
              <Row
                key={n.notice}
                n={n}
                may={may}
                kind={word('notice', n.kind)}
                ticked={ticked.has(n.notice)}
                amount={Number(n.amount) > 0 ? format.money(n.amount) : ''}
                onTick={(on) => tick([n], on)}
                onDone={(how) => onDone([n], how)}
              />
            ))}
          </ul>
        </section>
      ))}
    </>
  );
}

/**
 * One notice. There may be thousands: a row is written anew only when it or its tick has changed, so that a tick costs one row.
 * @typedef {{n: Notice, may: boolean, kind: string, ticked: boolean, amount: string, onTick: (on: boolean) => void,
 *   onDone: (how: 'sent' | 'drop') => void}} RowProps
 * @extends {Component<RowProps>}
 */
class Row extends Component {
  /** @param {RowProps} next */
  shouldComponentUpdate(next) {
    const { n, may, kind, ticked, amount } = this.props;
    return next.n !== n || next.may !== may || next.kind !== kind || next.ticked !== ticked || next.amount !== amount;
  }

  render() {
    const { n, may, kind, ticked, amount, onTick, onDone } = this.props;
    return (
      <li class="notice-row">
        {may && n.state === 'due' && (
          <label class="check">
            <input
              type="checkbox"
              aria-label={t('notices.tick', { order: n.order, kind })}
              checked={ticked}
              onChange={(e) => onTick(e.currentTarget.checked)}
            />
          </label>
        )}
        <a class="figure" href={hashOf(['orders', 'order', n.order])}>
          {n.order}
        </a>
        <b>{kind}</b>
        <span class="notice-words">
          {n.customer ? `${n.customer}: ` : ''}
          {n.sentence}
        </span>
        {amount && <span class="figure">{amount}</span>}
        {n.state !== 'due' && <span class="quiet">{word('state', n.state)}</span>}
        {may && n.state === 'due' && (
          <span class="notice-actions">
            {n.email && (
              <a href={`/api/notices/${n.notice}.eml`} download aria-label={t('notices.eml.one', { order: n.order })}>
                {t('notices.eml')}
              </a>
            )}
            <button type="button" onClick={() => onDone('sent')}>
              {t('notices.sent')}
            </button>
            <button type="button" class="link-button" onClick={() => onDone('drop')}>
              {t('notices.drop')}
            </button>
          </span>
        )}
      </li>
    );
  }
}

/** @param {{notices: Notice[], how: 'sent' | 'drop', onClose: () => void}} props */
function DoneDialog({ notices, how, onClose }) {
  const [words, setWords] = useState('');
  const [key] = useState(newKey);
  const sent = how === 'sent';
  const order = notices[0]?.order ?? '';
  const title =
    notices.length > 1
      ? t('notices.sent.all', { n: notices.length })
      : sent
        ? t('notices.sent.title', { order })
        : t('notices.drop.title', { order });
  return (
    <Dialog title={title} onClose={onClose}>
      <Form
        save={t('notices.sent.save')}
        onCancel={onClose}
        onSave={async () => {
          if (sent)
            await send(
              'POST',
              '/api/notices/sent',
              { notices: notices.map(({ notice }) => ({ notice })), evidence: words.trim() },
              { key },
            );
          else await send('POST', `/api/notices/${notices[0]?.notice}/drop`, { why: words.trim() }, { key });
          touch();
          onClose();
        }}
      >
        <Field
          label={sent ? t('notices.evidence') : t('notices.drop.why')}
          hint={sent ? t('notices.evidence.hint') : undefined}
        >
          <textarea rows={2} required value={words} onInput={(e) => setWords(e.currentTarget.value)} />
        </Field>
      </Form>
    </Dialog>
  );
}

/** Money that is owed, to the cent. */
function Refunds() {
  const { format } = useSeason();
  const list = useResource('/api/refunds').data ?? [];
  const { found, field } = useSearch(list, (r) => [r.order, r.customer, r.variety, r.why], t('refunds.find'));
  if (list.length === 0) return null;
  return (
    <details class="sheet">
      <summary>{t('refunds.title', { n: list.length })}</summary>
      <p>
        <a href="/api/refunds.csv" download>
          {t('refunds.csv')}
        </a>
      </p>
      {field}
      <PlainTable label={t('refunds.title', { n: list.length })}>
        <thead>
          <tr>
            <th scope="col">{t('order.order')}</th>
            <th scope="col">{t('rules.customer')}</th>
            <th scope="col">{t('col.code')}</th>
            <th scope="col">{t('action.why')}</th>
            <th scope="col" class="right">
              {t('refunds.owed')}
            </th>
            <th scope="col" class="right">
              {t('refunds.done')}
            </th>
            <th scope="col" class="right">
              {t('refunds.left')}
            </th>
          </tr>
        </thead>
        <tbody>
          {found.map((r, i) => (
            <tr key={i}>
              <td>
                <a class="figure" href={hashOf(['orders', 'order', r.order])}>
                  {r.order}
                </a>
              </td>
              <td>{r.customer}</td>
              <td>{r.variety ? <Code code={r.variety} /> : '–'}</td>
              <td>{r.why}</td>
              <td class="right">{format.money(r.owed)}</td>
              <td class="right">{format.money(r.refunded)}</td>
              <td class="right">
                <b>{format.money(r.left)}</b>
              </td>
            </tr>
          ))}
        </tbody>
      </PlainTable>
    </details>
  );
}
