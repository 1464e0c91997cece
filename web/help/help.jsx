// SPDX-License-Identifier: MIT
// Help inside: a short page for each screen, found by words, there without a network, and good on paper. Its texts are
// fetched when they are asked for, and kept with the page (worker.js).

import { useEffect, useLayoutEffect, useRef, useState } from 'preact/hooks';
import { Wrong } from '../shared/dialog.jsx';
import { Frame } from '../shared/frame.jsx';
import { language } from '../shared/language.js';
import { useStore } from '../shared/net/use.js';
import { hashOf } from '../shared/route.js';
import { isLanguage } from '../shared/strings/languages.js';
import { t } from '../shared/strings/text.js';
import { backFrom, pageOf, pieces, search } from './parse.js';

/** @typedef {import('./parse.js').Page} Page */

/** The same pages in each language. */
const TEXTS = {
  de: () => import('./pages.de.md'),
  en: () => import('./pages.md'),
  fr: () => import('./pages.fr.md'),
  nl: () => import('./pages.nl.md'),
};

/** @param {{steps: string[], values: Record<string, string>}} props the address that is asked about */
export function HelpPage({ steps, values }) {
  const [pages, setPages] = useState(/** @type {Page[]} */ ([]));
  const [error, setError] = useState(/** @type {Error | null} */ (null));
  const [query, setQuery] = useState('');
  const heading = useRef(/** @type {HTMLHeadingElement | null} */ (null));
  const screen = steps.slice(0, 2).join('/') || 'winter';
  const page = pageOf(pages, screen);
  const back = backFrom(pages, steps);
  const spoken = useStore(language);
  useEffect(() => {
    let asked = true;
    setError(null);
    (isLanguage(spoken) ? TEXTS[spoken] : TEXTS.en)().then((m) => asked && setPages(m.default), setError);
    return () => void (asked = false);
  }, [spoken]);
  useLayoutEffect(() => heading.current?.focus(), [page]);
  const found = search(pages, query);
  return (
    <Frame desk="help" pages={[]} page="" title={page ? `${t('help.title')}: ${page.title}` : t('help.title')}>
      <div class="help">
        <nav class="help-list" aria-label={t('help.pages')}>
          <label class="find">
            <span class="hidden">{t('help.find')}</span>
            <input
              type="search"
              placeholder={t('help.find')}
              value={query}
              onInput={(e) => setQuery(e.currentTarget.value)}
            />
          </label>
          <p class="quiet" role="status">
            {query.trim() === '' ? '' : t('search.found', { n: found.length, all: pages.length })}
          </p>
          <ul>
            {found.map((p) => (
              <li key={p.screen}>
                <a href={hashOf(['help', ...p.screen.split('/')])} aria-current={p === page ? 'page' : undefined}>
                  {p.title}
                </a>
              </li>
            ))}
          </ul>
        </nav>
        <article class="sheet help-page">
          <Wrong error={error} />
          {page && (
            <>
              <h1 tabIndex={-1} ref={heading}>
                {page.title}
              </h1>
              {page.blocks.map((b, i) =>
                b.list ? (
                  <ul key={i} class="help-points">
                    {b.lines.map((line) => (
                      <li key={line}>
                        <Line text={line} />
                      </li>
                    ))}
                  </ul>
                ) : (
                  <p key={i}>
                    <Line text={b.lines[0] ?? ''} />
                  </p>
                ),
              )}
              <p class="help-back">
                {back && <a href={hashOf(back.steps, values)}>{t('help.back', { screen: back.title })}</a>}{' '}
                <button type="button" onClick={() => window.print()}>
                  {t('help.print')}
                </button>
              </p>
            </>
          )}
        </article>
      </div>
    </Frame>
  );
}

/** @param {{text: string}} props */
function Line({ text }) {
  return (
    <>
      {pieces(text).map(({ as, text: piece }, i) =>
        as === 'b' ? <b key={i}>{piece}</b> : as === 'code' ? <code key={i}>{piece}</code> : piece,
      )}
    </>
  );
}
