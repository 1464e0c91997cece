// SPDX-License-Identifier: MIT
// Letters that leave by themselves: how many wait, what a server refused and in which words, and stop all.

import { useEffect } from 'preact/hooks';
import { newKey, send } from '../shared/net/api.js';
import { say, sayError } from '../shared/dialog.jsx';
import { PlainTable } from '../shared/grid/plain.jsx';
import { hashOf } from '../shared/route.js';
import { useSeason } from '../shared/season.jsx';
import { t, word } from '../shared/strings/text.js';
import { touch, useResource } from '../shared/net/use.js';

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
  const list = rows.data ?? [];
  const moves = Boolean(state && state.waits > 0 && !state.stopped);
  useEffect(() => {
    if (!moves) return undefined;
    const timer = setInterval(() => {
      post.reload();
      rows.reload();
    }, 3000);
    return () => clearInterval(timer);
  }, [moves]);
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
        <details open={Boolean(state && state.refused + state.unsure > 0)}>
          <summary>{t('letters.list', { n: list.length })}</summary>
          <PlainTable label={t('letters.title')}>
            <thead>
              <tr>
                <th scope="col">{t('order.order')}</th>
                <th scope="col">{t('letters.state')}</th>
                <th scope="col">{t('letters.words')}</th>
                <th scope="col">{t('letters.what')}</th>
              </tr>
            </thead>
            <tbody>
              {list.map((/** @type {any} */ r) => (
                <tr key={r.letter}>
                  <td>
                    {r.order ? (
                      <a class="figure" href={hashOf(['orders', 'order', r.order])}>
                        {r.order}
                      </a>
                    ) : (
                      t('letters.test')
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
      )}
    </section>
  );
}

/** @param {{row: any}} props */
function Acts({ row }) {
  if (row.state === 'sent' || row.state === 'going') return null;
  const which = row.order ?? t('letters.test');
  return (
    <>
      {row.state !== 'waits' && (
        <button
          type="button"
          class="link-button"
          aria-label={t('letters.again.of', { order: which })}
          onClick={() => act(`/api/outbox/${row.letter}/again`, {})}
        >
          {t('letters.again')}
        </button>
      )}{' '}
      <button
        type="button"
        class="link-button"
        aria-label={t('letters.remove.of', { order: which })}
        onClick={() => act(`/api/outbox/${row.letter}/remove`, {})}
      >
        {t('letters.remove')}
      </button>
    </>
  );
}
