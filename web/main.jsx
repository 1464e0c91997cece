// SPDX-License-Identifier: MIT
import './style/tokens.css';
import './style/base.css';
import './style/dialog.css';
import './style/frame.css';
import './style/grid.css';
import './style/tuber.css';
import './style/winter.css';
import './style/bench.css';
import './style/orders.css';
import './style/sheets.css';
import './style/cellar.css';
import './style/plain.css';
import './style/records.css';
import './style/print.css';
import { Fragment, render } from 'preact';
import { useEffect, useMemo, useState } from 'preact/hooks';
import { AccountPage } from './shared/account/account.jsx';
import { forgetAll, get, send, setCsrf, watchEnd } from './shared/net/api.js';
import { Conflict } from './shared/net/conflict.jsx';
import { Messages, Wrong, sayError, unsayAll } from './shared/dialog.jsx';
import { dropDrafts } from './shared/net/draft.js';
import { language, speakTo } from './shared/language.js';
import { makeFormat } from './shared/strings/format.js';
import { watchIdle } from './shared/account/idle.js';
import { route, startRouting } from './shared/route.js';
import { startBack } from './shared/back.js';
import { Season } from './shared/season.jsx';
import { SignIn } from './shared/account/signin.jsx';
import { Hatching } from './shared/chart/tuber.jsx';
import { spokenLocale, t } from './shared/strings/text.js';
import { Work } from './shared/net/work.jsx';
import { askRevision, readKept, startPolling, useResource, useStore } from './shared/net/use.js';
import { AnyDesk, fetchDesk } from './shared/desks.jsx';
import { HelpPage } from './help/help.jsx';
import { box, handOver, startOutbox } from './cellar/box.js';
import { WhoseWait } from './cellar/waiting.jsx';
import { registerWorker } from './shared/net/shell.js';

/** What the cellar needs to start without a network. */
const LAST_SESSION = 'session';

function App() {
  const [session, setSession] = useState(/** @type {any} */ (null));
  const [error, setError] = useState(/** @type {Error | null} */ (null));
  const ask = async () => {
    try {
      const now = await get('/api/session');
      // Whoever is not signed in asks for nothing more: the answer would be that the session has ended, and all would begin anew.
      if (!now.accounts || now.signed_in) await askRevision();
      await speakTo(now.name);
      setCsrf(now.csrf ?? '', now.name);
      void handOver();
      localStorage.setItem(`clumpwise.${LAST_SESSION}`, JSON.stringify({ ...now, csrf: '' }));
      setSession(now);
      setError(null);
    } catch (e) {
      const last = /** @type {any} */ (readKept(LAST_SESSION, null));
      if (last) {
        setCsrf('', last.name);
        void handOver();
        setSession(last);
      } else setError(e instanceof Error ? e : new Error(String(e)));
    }
  };
  // Nothing of one person's stays on the screen or in this browser for the next; what waits to be sent does.
  const leave = async () => {
    forgetAll();
    unsayAll();
    setCsrf('', null);
    for (const name of [LAST_SESSION, 'packer']) localStorage.removeItem(`clumpwise.${name}`);
    setSession((/** @type {any} */ s) => (s?.accounts ? { ...s, signed_in: false, name: null, role: null } : s));
    await (await box()).forgetCopies();
    await speakTo(null);
  };
  useEffect(() => {
    watchEnd(() => void leave().then(ask));
    void ask();
  }, []);
  if (error)
    return (
      <main class="signin" id="main">
        <Wrong error={error} />
        <button type="button" onClick={ask}>
          {t('action.again')}
        </button>
      </main>
    );
  if (!session) return null;
  if (session.accounts && !session.signed_in)
    return (
      <SignIn onDone={() => void ask()}>
        <WhoseWait />
      </SignIn>
    );
  const signOut = async () => {
    try {
      await send('DELETE', '/api/session');
      dropDrafts();
      await leave();
      await ask();
    } catch (e) {
      sayError(e);
    }
  };
  const idle = async () => {
    await send('DELETE', '/api/session').catch(() => {}); // without a network it ends there by itself
    await leave();
  };
  return <Desks session={session} signOut={signOut} idle={idle} />;
}

/** Where somebody begins. @param {string | null | undefined} role */
const firstDesk = (role) =>
  role === 'office' ? 'orders' : role === 'packer' || role === 'cellar' ? 'cellar' : 'winter';

/** @param {{session: any, signOut: () => void, idle: () => void}} props */
function Desks({ session, signOut, idle }) {
  const at = useStore(route);
  const fetched = useResource('/api/nursery').data;
  const nursery = fetched ?? readKept('nursery', null);
  const hours = Number(nursery?.settings?.session_hours ?? 0);
  useEffect(() => startPolling(), []);
  useEffect(
    () => (session.accounts && hours > 0 ? watchIdle(hours * 3600000, idle) : undefined),
    [session.accounts, hours],
  );
  useEffect(() => {
    if (fetched) localStorage.setItem('clumpwise.nursery', JSON.stringify(fetched));
  }, [fetched]);
  const format = useMemo(() => makeFormat(spokenLocale(), nursery ?? {}), [nursery?.currency, nursery?.timezone]);
  const shared = useMemo(
    () => ({
      session,
      nursery: nursery
        ? { ...nursery, settings: nursery.settings ?? {} }
        : { season: 0, ship: '', currency: 'USD', timezone: 'UTC', today: '', settings: {} },
      format,
      signOut,
    }),
    [session, nursery, format],
  );
  const [desk = firstDesk(session.role), ...steps] = at.steps;
  return (
    <Season.Provider value={shared}>
      <Hatching />
      {desk === 'account' && session.accounts ? (
        <AccountPage />
      ) : desk === 'help' ? (
        <HelpPage steps={steps} values={at.values} />
      ) : (
        <AnyDesk name={desk} steps={steps} values={at.values} />
      )}
    </Season.Provider>
  );
}

/** All that is on the page, drawn anew in another language. */
function Page() {
  return (
    <Fragment key={useStore(language)}>
      <App />
      <aside class="corner" aria-label={t('frame.news')}>
        <Work />
        <Messages />
        <Conflict />
      </aside>
    </Fragment>
  );
}

const last = /** @type {any} */ (readKept(LAST_SESSION, null));
startRouting();
// Beside the texts and the session, not after them; what fails here is asked for again, and told, where it is shown.
void fetchDesk(route.get().steps[0] ?? firstDesk(last?.role)).catch(() => {});
await speakTo(last?.name);
startBack();
startOutbox();
registerWorker();
const root = document.getElementById('app');
if (root) render(<Page />, root);
