// SPDX-License-Identifier: MIT
// Claims under the guarantee, open ones first, and their answers: a replacement, a refund or a refusal.

import { useState } from 'preact/hooks';
import { newKey, send, withQuery } from '../shared/net/api.js';
import { Dialog, Field, Form, Loaded, say } from '../shared/dialog.jsx';
import { hashOf } from '../shared/route.js';
import { useSearch } from '../shared/search.jsx';
import { rights, useSeason } from '../shared/season.jsx';
import { Code } from '../shared/tag.jsx';
import { t, word } from '../shared/strings/text.js';
import { touch, useFields, useResource } from '../shared/net/use.js';

/**
 * @typedef {object} Claim
 * @property {number} claim
 * @property {string} order
 * @property {number} line
 * @property {string | null} customer
 * @property {string} variety
 * @property {string} name
 * @property {number} quantity
 * @property {string} at
 * @property {string} why
 * @property {string} answer
 * @property {string | null} lot
 * @property {string} amount
 * @property {string | null} reply
 * @property {string | null} answered_at
 * @property {string | null} answered_by
 * @property {string | null} replacement
 */

export function ClaimsPage() {
  const [answer, setAnswer] = useState('');
  const claims = useResource(withQuery('/api/claims', { answer }), { keep: true });
  return (
    <>
      <div class="page-head">
        <h1 class="page-title">{t('claims.title')}</h1>
        <label>
          {t('find.state')}{' '}
          <select value={answer} onChange={(e) => setAnswer(e.currentTarget.value)}>
            <option value="">{t('claims.all')}</option>
            {
              /** @satisfies {import('../contract').Some<'claim_answers'>} */ ([
                'open',
                'replace',
                'refund',
                'refused',
              ]).map((a) => (
                <option key={a} value={a}>
                  {word('answer', a)}
                </option>
              ))
            }
          </select>
        </label>
      </div>
      <Loaded of={claims}>{(list) => <ClaimList list={list} />}</Loaded>
    </>
  );
}

/** @param {{list: Claim[]}} props */
function ClaimList({ list }) {
  const { found, field } = useSearch(
    list,
    (c) => [c.order, c.customer, c.variety, c.name, c.why, c.reply, c.lot],
    t('claims.find'),
  );
  if (list.length === 0) return <p class="sheet quiet">{t('claims.none')}</p>;
  return (
    <section class="sheet" aria-label={t('claims.title')}>
      {field}
      <ClaimRows list={found} order />
    </section>
  );
}

/** The claims of one order, on its sheet. @param {{number: string}} props */
export function OrderClaims({ number }) {
  const all = /** @type {Claim[]} */ (useResource('/api/claims').data ?? []);
  const list = all.filter((c) => c.order === number);
  if (list.length === 0) return null;
  return (
    <section>
      <h2>{t('claims.of_order')}</h2>
      <ClaimRows list={list} />
    </section>
  );
}

/** @param {{list: Claim[], order?: boolean}} props */
function ClaimRows({ list, order }) {
  const { format, session } = useSeason();
  const [answering, setAnswering] = useState(/** @type {Claim | null} */ (null));
  return (
    <>
      <ul class="rows">
        {list.map((c) => (
          <li key={c.claim} class="claim-row">
            <p>
              {order && (
                <a class="figure" href={hashOf(['orders', 'order', c.order])}>
                  {c.order}
                </a>
              )}{' '}
              <b>{c.quantity}</b> × <Code code={c.variety} /> {c.name}{' '}
              <span class="quiet">{[order ? c.customer : '', format.instant(c.at)].filter(Boolean).join(' · ')}</span>
            </p>
            <p>{t('claims.says', { why: c.why })}</p>
            <p>
              <b>{word('answer', c.answer)}</b>
              {c.lot ? ` · ${t('walk.lot', { lot: c.lot })}` : ''}
              {c.answer === 'refund' ? ` · ${format.money(c.amount)}` : ''}
              {c.replacement && (
                <>
                  {' '}
                  ·{' '}
                  <a href={hashOf(['orders', 'order', c.replacement])}>
                    {t('claims.leaves', { order: c.replacement })}
                  </a>
                </>
              )}
              {c.reply ? ` · ${t('claims.told', { reply: c.reply })}` : ''}
              {c.answered_at && (
                <span class="quiet">
                  {' '}
                  · {[c.answered_by, format.instant(c.answered_at)].filter(Boolean).join(', ')}
                </span>
              )}
            </p>
            {c.answer === 'open' && rights(session).office && (
              <button
                type="button"
                aria-label={t('claims.answer.of', { order: c.order, line: c.line })}
                onClick={() => setAnswering(c)}
              >
                {t('claims.answer')}
              </button>
            )}
          </li>
        ))}
      </ul>
      {answering && <AnswerDialog claim={answering} onClose={() => setAnswering(null)} />}
    </>
  );
}

/** @param {{claim: Claim, onClose: () => void}} props */
function AnswerDialog({ claim, onClose }) {
  const [given, putGiven] = useFields({ answer: 'replace', lot: '', reply: '' });
  const [key] = useState(newKey);
  return (
    <Dialog title={t('claims.answer.title', { order: claim.order, line: claim.line })} onClose={onClose}>
      <Form
        save={t('claims.answer.save')}
        onCancel={onClose}
        onSave={async () => {
          await send('POST', `/api/claims/${claim.claim}/answer`, answerBody(given), { key });
          say(t('action.done'));
          touch();
          onClose();
        }}
      >
        <p>
          {claim.quantity} × <Code code={claim.variety} /> {claim.name}. {t('claims.says', { why: claim.why })}
        </p>
        <AnswerFields given={given} answers={['replace', 'refund', 'refused']} onGiven={putGiven} />
      </Form>
    </Dialog>
  );
}

/**
 * All that a parcel brought has failed: one claim for it, one answer.
 * @param {{parcel: number, slot: number, onClose: () => void}} props
 */
export function ParcelClaimDialog({ parcel, slot, onClose }) {
  const [why, setWhy] = useState('');
  const [given, putGiven] = useFields({ answer: 'refund', lot: '', reply: '' });
  const [key] = useState(newKey);
  return (
    <Dialog title={t('claims.parcel.title', { slot })} onClose={onClose}>
      <Form
        save={t('action.claim.save')}
        onCancel={onClose}
        onSave={async () => {
          const { answer, reply } = answerBody(given);
          const done = await send('POST', `/api/parcels/${parcel}/claim`, { why: why.trim(), answer, reply }, { key });
          say(t('claims.parcel.done', { n: done.divisions, lines: done.claims }));
          touch();
          onClose();
        }}
      >
        <p>{t('claims.parcel.about')}</p>
        <Field label={t('action.why')}>
          <textarea rows={2} required value={why} onInput={(e) => setWhy(e.currentTarget.value)} />
        </Field>
        <AnswerFields given={given} answers={['refund', 'replace', 'refused', 'open']} onGiven={putGiven} whole />
      </Form>
    </Dialog>
  );
}

/** @typedef {{answer: string, lot: string, reply: string}} Given */

/** What the server is told of an answer. @param {Given} given */
export function answerBody({ answer, lot, reply }) {
  return { answer, lot: answer === 'replace' && lot.trim() ? lot.trim() : undefined, reply: reply.trim() || undefined };
}

/**
 * @param {object} props
 * @param {Given} props.given
 * @param {string[]} props.answers
 * @param {(part: Partial<Given>) => void} props.onGiven
 * @param {boolean} [props.whole] of a parcel, from any lot
 */
export function AnswerFields({ given, answers, onGiven, whole }) {
  return (
    <>
      <Field label={t('action.answer')}>
        <select value={given.answer} onChange={(e) => onGiven({ answer: e.currentTarget.value })}>
          {answers.map((a) => (
            <option key={a} value={a}>
              {word('answer', a)}
            </option>
          ))}
        </select>
      </Field>
      {given.answer !== 'open' && (
        <Field label={t('action.reply')}>
          <textarea
            rows={2}
            required={given.answer === 'refused'}
            value={given.reply}
            onInput={(e) => onGiven({ reply: e.currentTarget.value })}
          />
        </Field>
      )}
      {given.answer === 'replace' && !whole && (
        <Field label={t('action.lot')} hint={t('claims.lot.hint')}>
          <input value={given.lot} onInput={(e) => onGiven({ lot: e.currentTarget.value })} />
        </Field>
      )}
    </>
  );
}
