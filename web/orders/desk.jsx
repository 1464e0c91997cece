// SPDX-License-Identifier: MIT
// The order desk: find an order, share out what is short, substitute, tell buyers, set weeks, take files in.

import { Frame } from '../shared/frame.jsx';
import { hashOf } from '../shared/route.js';
import { rights, useSeason } from '../shared/season.jsx';
import { t } from '../shared/strings/text.js';
import { useResource } from '../shared/net/use.js';
import { ClaimsPage } from './claims.jsx';
import { FindPage } from './find.jsx';
import { ForgetPage } from './forget.jsx';
import { LoadPage } from './load.jsx';
import { NewOrderPage } from './neworder.jsx';
import { NoticesPage } from './notices.jsx';
import { OutgoingPage } from './parcels.jsx';
import { RulesPage } from './rules.jsx';
import { ShortPage } from './short.jsx';
import { SubstitutesPage } from './substitutes.jsx';
import { TracePage } from './trace.jsx';
import { WeeksPage } from './weeks.jsx';

/** @typedef {import('../shared/strings/text.js').Key} Key */

/** @type {{step: string, name: Key}[]} */
const PAGES = [
  { step: '', name: 'orders.page.find' },
  { step: 'short', name: 'orders.page.short' },
  { step: 'substitutes', name: 'orders.page.substitutes' },
  { step: 'notices', name: 'orders.page.notices' },
  { step: 'weeks', name: 'orders.page.weeks' },
  { step: 'parcels', name: 'orders.page.parcels' },
  { step: 'claims', name: 'orders.page.claims' },
  { step: 'trace', name: 'orders.page.trace' },
  { step: 'load', name: 'orders.page.load' },
  { step: 'forget', name: 'orders.page.forget' },
];

/** Parcels whose week is over and that are still here: told on every page until they have left. */
function Forgotten() {
  const waves = useResource('/api/waves').data ?? [];
  const n = waves.reduce((sum, w) => sum + w.forgotten, 0);
  if (n === 0) return null;
  return (
    <p class="note shout" role="status">
      <a href={hashOf(['orders', 'parcels'])}>{t('weeks.forgotten', { n })}</a>
    </p>
  );
}

/** @param {{steps: string[], values: Record<string, string>}} props */
export function OrderDesk({ steps, values }) {
  const { session } = useSeason();
  const [step = '', which = ''] = steps;
  const pages = rights(session).owner ? PAGES : PAGES.filter((p) => p.step !== 'forget');
  const known = pages.some((p) => p.step === step);
  return (
    <Frame desk="orders" pages={pages} page={known ? step : ''} title={step === 'new' ? t('new.title') : undefined}>
      <Forgotten />
      {step === 'short' && which ? (
        <RulesPage key={which} code={which} />
      ) : step === 'short' ? (
        <ShortPage />
      ) : step === 'substitutes' ? (
        <SubstitutesPage />
      ) : step === 'notices' ? (
        <NoticesPage />
      ) : step === 'weeks' ? (
        <WeeksPage />
      ) : step === 'parcels' ? (
        <OutgoingPage />
      ) : step === 'claims' ? (
        <ClaimsPage />
      ) : step === 'trace' ? (
        <TracePage values={values} />
      ) : step === 'load' ? (
        <LoadPage />
      ) : step === 'forget' && known ? (
        <ForgetPage />
      ) : step === 'new' && rights(session).office ? (
        <NewOrderPage />
      ) : (
        <FindPage number={step === 'order' ? which : ''} values={values} />
      )}
    </Frame>
  );
}
