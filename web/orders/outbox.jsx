// SPDX-License-Identifier: MIT
// Letters that leave by themselves: how many wait, what a server refused and in which words, and stop all.

import { newKey, send } from '../shared/net/api.js';
import { say, sayError } from '../shared/dialog.jsx';
import { PlainTable } from '../shared/grid/plain.jsx';
import { hashOf } from '../shared/route.js';
import { useSeason } from '../shared/season.jsx';
import { t, word } from '../shared/strings/text.js';
import { touch, useEvery, useResource } from '../shared/net/use.js';

/** @typedef {import('./notices.jsx').Notice} Notice */

/** @param {string} path @param {Record<string, unknown>} body */
async function act(path, body) {
  try {
    const done = await send('POST', path, body, { key: newKey() });
    touch();
    return done;
  } catch (e) {
    sayError(e);
    return null;
  }
}

/** @param {{chosen: Notice[]}} props */
export function SendLetters({ chosen }) {
  const post = useResource('/api/post').data;
  if (!post?.account) return null;
  return (
    <button
      type="button"
      disabled={chosen.length === 0 || !post.tested}
      title={post.tested ? undefined : t('letters.untested')}
      onClick={async () => {
        const done = await act('/api/post/letters', { notices: chosen.map(({ notice }) => ({ notice })) });
        if (done) say(t('letters.queued', { n: done.queued, known: done.known, without: done.addressless }));
      }}
    >
      {t('letters.send', { n: chosen.length })}
    </button>
  );
}

/** @param {{may: boolean}} props */
export function Outbox({ may }) {
  const { format } = useSeason();
  const post = useResource('/api/post', { keep: true });
  const rows = useResource('/api/outbox', { keep: true });
  const state = post.data;
  const list = (rows.data ?? []).filter((/** @type {any} */ r) => r.kind !== 'hook');
  const moves = Boolean(state && state.waits > 0 && !state.stopped);
  useEvery(3000, moves, () => {
    post.reload();
    rows.reload();
  });
  if (!state?.account && list.length === 0) return null;
  return (
    <section class="sheet outbox">
      <h2>{t('letters.title')}</h2>
      {state && (
        <p>
          {t('letters.counts', { waits: state.waits, sent: state.sent, refused: state.refused, unsure: state.unsure })}{' '}
          {state.stopped && <b class="late">{t('letters.stopped')}</b>}
          {state.quiet_until && t('letters.quiet', { at: format.instant(state.quiet_until), words: state.words ?? '' })}
          {state.account && !state.tested && t('letters.untested')}
          {state.trouble && <b class="late">{state.trouble}</b>}
        </p>
      )}
      {may && state && (
        <p>
          <button type="button" onClick={() => act('/api/post/stop', { stopped: !state.stopped })}>
            {state.stopped ? t('letters.go_on') : t('letters.stop')}
          </button>
        </p>
      )}
      {list.length > 0 && (
        <Rows
          rows={list}
          may={may}
          label={t('letters.title')}
          summary={t('letters.list', { n: list.length })}
          open={Boolean(state && state.refused + state.unsure > 0)}
        />
      )}
    </section>
  );
}

/** What a shop is told by itself: what waits, and what it said. @param {{may: boolean}} props */
export function ShopTold({ may }) {
  const hook = useResource('/api/hook', { keep: true });
  const rows = useResource('/api/outbox', { keep: true });
  const state = hook.data;
  const list = (rows.data ?? []).filter((/** @type {any} */ r) => r.kind === 'hook');
  const moves = Boolean(state?.set && !state.stopped);
  useEvery(3000, moves, () => {
    hook.reload();
    rows.reload();
  });
  if (!state?.set) return null;
  return (
    <section class="sheet outbox">
      <h2>{t('told.title')}</h2>
      <p>
        {t('told.counts', { waits: state.waits, sent: state.sent, refused: state.refused })}{' '}
        {state.stopped && <b class="late">{t('told.stopped')}</b>}
        {!state.tested && t('told.untested')}
        {state.trouble && <b class="late">{state.trouble}</b>}
      </p>
      {may && (
        <p>
          <button type="button" onClick={() => act('/api/hook/stop', { stopped: !state.stopped })}>
            {state.stopped ? t('told.go_on') : t('told.stop')}
          </button>
        </p>
      )}
      {list.length > 0 && (
        <Rows
          rows={list}
          may={may}
          label={t('told.title')}
          summary={t('told.list', { n: list.length })}
          open={state.refused + state.waits > 0}
        />
      )}
    </section>
  );
}

/** @param {any} r */
function named(r) {
  if (r.order) return r.order;
  if (r.kind !== 'hook') return t('letters.test');
  return r.varieties + r.orders > 0 ? t('told.of', { varieties: r.varieties, orders: r.orders }) : t('told.test');
}

/** @param {{rows: any[], may: boolean, label: string, summary: string, open: boolean}} props */
function Rows({ rows, may, label, summary, open }) {
  return (
    <details open={open}>
      <summary>{summary}</summary>
      <PlainTable label={label}>
        <thead>
          <tr>
            <th scope="col">{rows[0].kind === 'hook' ? t('told.what') : t('order.order')}</th>
            <th scope="col">{t('letters.state')}</th>
            <th scope="col">{rows[0].kind === 'hook' ? t('told.words') : t('letters.words')}</th>
            <th scope="col">{t('letters.what')}</th>
          </tr>
        </thead>
        <tbody>
          {rows.map((r) => (
            <tr key={r.letter}>
              <td>
                {r.order ? (
                  <a class="figure" href={hashOf(['orders', 'order', r.order])}>
                    {r.order}
                  </a>
                ) : (
                  named(r)
                )}
              </td>
              <td>{word('outbox', r.state)}</td>
              <td class="words">{r.words}</td>
              <td>{may && <Acts row={r} />}</td>
            </tr>
          ))}
        </tbody>
      </PlainTable>
    </details>
  );
}

/** @param {{row: any}} props */
function Acts({ row }) {
  if (row.state === 'sent' || row.state === 'going') return null;
  const which = named(row);
  const hook = row.kind === 'hook';
  return (
    <>
      {row.state !== 'waits' && (
        <button
          type="button"
          class="link-button"
          aria-label={t(hook ? 'told.again.of' : 'letters.again.of', { order: which, what: which })}
          onClick={() => act(`/api/outbox/${row.letter}/again`, {})}
        >
          {t('letters.again')}
        </button>
      )}{' '}
      <button
        type="button"
        class="link-button"
        aria-label={t(hook ? 'told.remove.of' : 'letters.remove.of', { order: which, what: which })}
        onClick={() => act(`/api/outbox/${row.letter}/remove`, {})}
      >
        {t('letters.remove')}
      </button>
    </>
  );
}
