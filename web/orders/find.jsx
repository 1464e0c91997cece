// SPDX-License-Identifier: MIT
// Any order in two keystrokes: "/" from anywhere, then number, name, e-mail or postcode. The order lies beside the list.

import { useEffect, useRef, useState } from 'preact/hooks';
import { withQuery } from '../shared/net/api.js';
import { Loaded } from '../shared/dialog.jsx';
import { useKeptHere } from '../shared/back.js';
import { go, hashOf } from '../shared/route.js';
import { rights, useSeason } from '../shared/season.jsx';
import { t, word } from '../shared/strings/text.js';
import { Today } from '../shared/today.jsx';
import { useResource } from '../shared/net/use.js';
import { OrderSheet } from './order.jsx';

/** @param {{number: string, values: Record<string, string>}} props */
export function FindPage({ number, values }) {
  const { session } = useSeason();
  const [typed, setTyped] = useKeptHere('find.q', values.q ?? '');
  const [asked, setAsked] = useState(typed.trim());
  const [state, setState] = useKeptHere('find.state', values.state ?? '');
  const input = useRef(/** @type {HTMLInputElement | null} */ (null));
  const list = useRef(/** @type {HTMLUListElement | null} */ (null));
  // The page of what is asked for now; another question begins at its first.
  const [turned, setTurned] = useKeptHere('find.page', { asked, state, page: 1 });
  const page = turned.asked === asked && turned.state === state ? turned.page : 1;
  const found = useResource(withQuery('/api/orders', { q: asked, state, page: page > 1 ? String(page) : '' }), {
    keep: true,
  });
  useSlash(input);
  useEffect(() => {
    const timer = setTimeout(() => setAsked(typed.trim()), 120);
    return () => clearTimeout(timer);
  }, [typed]);
  /** @param {KeyboardEvent} event */
  const pressed = (event) => {
    const links = [...(list.current?.querySelectorAll('a') ?? [])];
    const here = links.indexOf(/** @type {HTMLAnchorElement} */ (document.activeElement));
    if (event.key === 'ArrowDown' || event.key === 'ArrowUp') {
      event.preventDefault();
      const next = here + (event.key === 'ArrowDown' ? 1 : -1);
      if (next < 0) input.current?.focus();
      else links[Math.min(next, links.length - 1)]?.focus();
    } else if (event.key === 'Enter' && document.activeElement === input.current) {
      const first = found.data?.items?.[0];
      if (first) go(['orders', 'order', first.order]);
    }
  };
  return (
    <div class={`find-page ${number ? 'with-order' : ''}`}>
      {!number && <h1 class="hidden">{t('find.title')}</h1>}
      <section class="finder" aria-label={t('find.title')} onKeyDown={pressed}>
        <label class="find-field">
          <span class="hidden">{t('find.label')}</span>
          <input
            ref={input}
            type="search"
            placeholder={t('find.placeholder')}
            value={typed}
            onInput={(e) => setTyped(e.currentTarget.value)}
          />
          <kbd aria-hidden="true">/</kbd>
        </label>
        {rights(session).office && (
          <a class="button find-new" href={hashOf(['orders', 'new'])}>
            {t('new.open')}
          </a>
        )}
        <label class="find-state">
          {t('find.state')}{' '}
          <select value={state} onChange={(e) => setState(e.currentTarget.value)}>
            <option value="">{t('find.state.all')}</option>
            {
              /** @satisfies {import('../contract').Some<'order_states'>} */ (['open', 'shipped', 'cancelled']).map(
                (s) => (
                  <option key={s} value={s}>
                    {word('state', s)}
                  </option>
                ),
              )
            }
          </select>
        </label>
        <Loaded of={found}>
          {(data) => (
            <>
              {data.items.length === 0 && <p class="quiet">{t('find.nothing')}</p>}
              <ul key={page} class="found" ref={list}>
                {data.items.map((/** @type {any} */ o) => (
                  <FoundOrder key={o.order} o={o} here={o.order === number} />
                ))}
              </ul>
              {(data.more || page > 1) && (
                <nav class="find-more" aria-label={t('find.pages')}>
                  <button
                    type="button"
                    disabled={page === 1}
                    onClick={() => setTurned({ asked, state, page: page - 1 })}
                  >
                    {t('find.later')}
                  </button>
                  <span class="quiet">{t('find.page', { n: page })}</span>
                  <button
                    type="button"
                    disabled={!data.more}
                    onClick={() => setTurned({ asked, state, page: page + 1 })}
                  >
                    {t('find.earlier')}
                  </button>
                </nav>
              )}
            </>
          )}
        </Loaded>
      </section>
      {number ? (
        <OrderSheet key={number} number={number} />
      ) : (
        <div class="find-none">
          <Today desk="orders" />
          <p class="quiet">{t('find.none_open')}</p>
        </div>
      )}
    </div>
  );
}

/** @param {{o: import('../contract').Answers['GET /api/orders']['items'][number], here: boolean}} props */
function FoundOrder({ o, here }) {
  const { format } = useSeason();
  return (
    <li>
      <a href={hashOf(['orders', 'order', o.order])} aria-current={here ? 'true' : undefined}>
        <b class="figure">{o.order}</b>
        <span class="found-name">{o.customer || o.email || '–'}</span>
        <span class="quiet">
          {o.postcode} {word('tier', o.tier)}
        </span>
        <span class="found-fate">
          {o.state !== 'open'
            ? word('state', o.state)
            : o.short > 0
              ? t('find.short', { n: o.short })
              : t('find.lines', { n: o.lines })}
          {o.week ? ` · ${t('find.week', { week: format.week(o.week).split(' ')[0] ?? '' })}` : ''}
        </span>
      </a>
    </li>
  );
}

/** "/" puts the cursor into the finder, unless somebody is typing. @param {import('preact').RefObject<HTMLInputElement | null>} input */
function useSlash(input) {
  useEffect(() => {
    /** @param {KeyboardEvent} event */
    const pressed = (event) => {
      const at = event.target;
      const typing =
        at instanceof HTMLInputElement || at instanceof HTMLTextAreaElement || at instanceof HTMLSelectElement;
      if (event.key !== '/' || typing || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault();
      input.current?.focus();
      input.current?.select();
    };
    window.addEventListener('keydown', pressed);
    return () => window.removeEventListener('keydown', pressed);
  }, []);
}
