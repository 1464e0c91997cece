// SPDX-License-Identifier: MIT
// The frame of every page: three desks as tags on a twine, the pages of the desk, who sits here, light or dark.

import { useEffect, useRef } from 'preact/hooks';
import { say } from './dialog.jsx';
import { contact, useKept, useResource, useStore, useWidthRem } from './net/use.js';
import { choose, language } from './language.js';
import { rights, useSeason } from './season.jsx';
import { hashOf, route } from './route.js';
import { LANGUAGES } from './strings/languages.js';
import { t } from './strings/text.js';

/** @typedef {import('./strings/text.js').Key} Key */
/**
 * group: what stands under one heading; asks: the question that it answers
 * @typedef {{step: string, name: Key, group?: {name: Key, asks: Key}}} Page
 */

const DESKS = /** @type {const} */ ([
  { step: 'winter', name: 'desk.winter', hint: 'desk.winter.hint' },
  { step: 'orders', name: 'desk.orders', hint: 'desk.orders.hint' },
  { step: 'cellar', name: 'desk.cellar', hint: 'desk.cellar.hint' },
]);

/**
 * @param {object} props
 * @param {string} props.desk
 * @param {Page[]} props.pages
 * @param {string} props.page
 * @param {string} [props.title] what the screen is called where its desk has no list of pages
 * @param {number} [props.waiting] entries not handed over yet
 * @param {import('preact').ComponentChildren} props.children
 */
export function Frame({ desk, pages, page, title, waiting = 0, children }) {
  const { session, nursery, signOut } = useSeason();
  const up = useStore(contact);
  const { steps: at, values } = useStore(route);
  const asks = hashOf(['help', ...(at.length > 0 ? at : [desk])], values);
  useHelpKey(desk === 'help' ? null : asks);
  useTitle([
    desk === 'help' ? undefined : at[2],
    title ?? pages.find((p) => p.step === page),
    DESKS.find((d) => d.step === desk),
  ]);
  return (
    <div class={`page desk-${desk}`}>
      <a class="skip" href="#main" onClick={(e) => (e.preventDefault(), document.getElementById('main')?.focus())}>
        {t('frame.skip')}
      </a>
      <header class="frame">
        <p class="mark">
          Clumpwise <span class="quiet">{nursery.season || ''}</span>
        </p>
        <nav class="twine" aria-label={t('frame.desks')}>
          {DESKS.filter((d) => d.step === 'cellar' || rights(session).office).map((d) => (
            <a
              key={d.step}
              class="hang"
              href={hashOf([d.step])}
              title={t(d.hint)}
              aria-current={d.step === desk ? 'page' : undefined}
            >
              <span>{t(d.name)}</span>
            </a>
          ))}
        </nav>
        <div class="frame-side">
          <span class="frame-news">
            {!up && (
              <span class="offline" role="status">
                {t('frame.offline')}
              </span>
            )}
            {waiting > 0 && <span class="waiting">{t('frame.waiting', { n: waiting })}</span>}
          </span>
          <Language />
          {desk !== 'help' && (
            <a class="quiet-button help-link" href={asks} title={t('help.open')} aria-label={t('help.open')}>
              ?
            </a>
          )}
          <Theme />
          {session.accounts && session.signed_in && (
            <>
              <a class="quiet-button" href={hashOf(['account'])} aria-current={desk === 'account' ? 'page' : undefined}>
                {t('frame.account')}
              </a>
              <button type="button" class="quiet-button" onClick={signOut}>
                {t('frame.sign_out', { name: session.name })}
              </button>
            </>
          )}
        </div>
      </header>
      {pages.length > 1 && <Pages desk={desk} pages={pages} page={page} />}
      <main id="main" tabIndex={-1}>
        <ClosedNote />
        {children}
      </main>
      <Foot />
    </div>
  );
}

/**
 * The desk's pages; of a desk that groups them, the groups and the pages of this one. On a phone they are one line that
 * unfolds.
 * @param {{desk: string, pages: Page[], page: string}} props
 */
function Pages({ desk, pages, page }) {
  const narrow = useWidthRem() < 48;
  const menu = useRef(/** @type {HTMLDetailsElement | null} */ (null));
  const at = pages.find((p) => p.step === page);
  const groups = [...new Set(pages.map((p) => p.group))];
  const of = (/** @type {Page['group']} */ g) => pages.filter((p) => p.group === g);
  const to = (/** @type {Page | undefined} */ p) => hashOf(p?.step ? [desk, p.step] : [desk]);
  const link = (/** @type {Page} */ p) => (
    <a key={p.step} href={to(p)} aria-current={p.step === page ? 'page' : undefined}>
      {t(p.name)}
    </a>
  );
  // Whoever has chosen is done with the list; the focus stays where the next choice begins.
  const fold = () => {
    if (menu.current) menu.current.open = false;
    menu.current?.querySelector('summary')?.focus();
  };
  return (
    <nav class="pages" aria-label={t('frame.pages')}>
      {narrow ? (
        <details ref={menu}>
          <summary>
            {at?.group && at.group.name !== at.name && <span class="quiet">{t(at.group.name)} › </span>}
            {at && t(at.name)}
          </summary>
          {groups.map((g) => (
            <div key={g?.name} class="page-row" onClick={fold}>
              {g && of(g).length > 1 && <span class="page-group">{t(g.name)}</span>}
              {of(g).map(link)}
            </div>
          ))}
        </details>
      ) : (
        <>
          {groups.length > 1 && (
            <div class="page-groups">
              {groups.map(
                (g) =>
                  g && (
                    <a
                      key={g.name}
                      href={to(of(g)[0])}
                      title={t(g.asks)}
                      aria-current={g !== at?.group ? undefined : of(g).length === 1 ? 'page' : 'true'}
                    >
                      {t(g.name)}
                    </a>
                  ),
              )}
            </div>
          )}
          {of(at?.group).length > 1 && <div class="page-row">{of(at?.group).map(link)}</div>}
        </>
      )}
    </nav>
  );
}

/** Whoever opens a closed season reads at once what it still takes. */
function ClosedNote() {
  const { session } = useSeason();
  const state = useResource(session.signed_in || !session.accounts ? '/api/season/closed' : null);
  if (!state.data?.closed) return null;
  return (
    <p class="note" role="status">
      {t('frame.closed', { season: String(state.data.season ?? '') })}
    </p>
  );
}

/** Whose work this is: the licences stand in a file that the build makes of what is really in the page. */
export function Foot() {
  return (
    <footer class="foot">
      <a href="/licences.txt">{t('frame.licences')}</a>
    </footer>
  );
}

/** "?" opens the help of the screen, unless somebody is typing. @param {string | null} address */
function useHelpKey(address) {
  useEffect(() => {
    if (address === null) return undefined;
    /** @param {KeyboardEvent} event */
    const pressed = (event) => {
      const at = event.target;
      const typing =
        at instanceof HTMLInputElement || at instanceof HTMLTextAreaElement || at instanceof HTMLSelectElement;
      if (event.key !== '?' || typing || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault();
      location.hash = address;
    };
    window.addEventListener('keydown', pressed);
    return () => window.removeEventListener('keydown', pressed);
  }, [address]);
}

/**
 * Tabs and the list behind the back button tell screens apart by the document's title, the narrowest part first.
 * @param {(string | {name: Key} | undefined)[]} parts
 */
function useTitle(parts) {
  const title = [
    ...parts.filter((p) => p !== undefined).map((p) => (typeof p === 'string' ? p : t(p.name))),
    'Clumpwise',
  ].join(' – ');
  useEffect(() => {
    document.title = title;
  }, [title]);
}

/** Each language is named in itself, so that whoever reads no other finds it. */
export function Language() {
  const spoken = useStore(language);
  return (
    <label class="theme">
      <span class="hidden">{t('language.label')}</span>
      <select
        value={spoken}
        onChange={(e) => {
          const select = e.currentTarget;
          void choose(/** @type {import('./strings/languages.js').Language} */ (select.value)).catch(() => {
            select.value = spoken;
            say(t('language.failed'), { loud: true });
          });
        }}
      >
        {Object.entries(LANGUAGES).map(([code, { name }]) => (
          <option key={code} value={code} lang={code}>
            {name}
          </option>
        ))}
      </select>
    </label>
  );
}

function Theme() {
  const [theme, setTheme] = useKept('theme', 'system');
  useEffect(() => {
    const dark = window.matchMedia('(prefers-color-scheme: dark)');
    const apply = () => {
      document.documentElement.dataset.theme = theme === 'system' ? (dark.matches ? 'dark' : 'light') : theme;
    };
    apply();
    dark.addEventListener('change', apply);
    return () => dark.removeEventListener('change', apply);
  }, [theme]);
  return (
    <label class="theme">
      <span class="hidden">{t('theme.label')}</span>
      <select value={theme} onChange={(e) => setTheme(e.currentTarget.value)}>
        <option value="system">{t('theme.system')}</option>
        <option value="light">{t('theme.light')}</option>
        <option value="dark">{t('theme.dark')}</option>
      </select>
    </label>
  );
}
