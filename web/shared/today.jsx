// SPDX-License-Identifier: MIT
// What wants doing at a desk, worst first, each line a door. It follows the nursery's revision by itself; a line that stays keeps its
// element, and so the focus.

import { hashOf } from './route.js';
import { useSeason } from './season.jsx';
import { t } from './strings/text.js';
import { useEvery, useResource } from './net/use.js';

/** @typedef {import('../contract').Answers['GET /api/today/{desk}'][number]} Item */
/** @typedef {import('./strings/text.js').Key} Key */

/**
 * What is said of each, what of its worst, and where it leads.
 * @type {Record<Item['what'], {says: Key, about?: Key, door: (item: Item) => string}>}
 */
const ITEMS = {
  beyond: { says: 'today.beyond', about: 'today.about.beyond', door: () => hashOf(['winter'], { show: 'over' }) },
  too_many: {
    says: 'today.too_many',
    about: 'today.about.too_many',
    door: () => hashOf(['winter'], { show: 'changed' }),
  },
  drying: { says: 'today.drying', about: 'today.about.drying', door: (i) => hashOf(['cellar', 'lot', i.about ?? '']) },
  release: { says: 'today.release', about: 'today.about.release', door: () => hashOf(['winter'], { show: 'changed' }) },
  measure: {
    says: 'today.measure',
    about: 'today.about.measure',
    door: (i) => hashOf(['winter', 'variety', i.about ?? '']),
  },
  forgotten: { says: 'today.forgotten', about: 'today.about.forgotten', door: () => hashOf(['orders', 'parcels']) },
  notices_late: { says: 'today.notices_late', door: () => hashOf(['orders', 'notices']) },
  frost: { says: 'today.frost', door: () => hashOf(['orders', 'weeks']) },
  blocked: {
    says: 'today.blocked',
    about: 'today.about.blocked',
    door: (i) => hashOf(['orders', 'order', i.about ?? '']),
  },
  unsettled: { says: 'today.unsettled', door: () => hashOf(['orders', 'substitutes']) },
  refunds: { says: 'today.refunds', door: () => hashOf(['orders', 'notices']) },
  notices: { says: 'today.notices', door: () => hashOf(['orders', 'notices']) },
  claims: { says: 'today.claims', door: () => hashOf(['orders', 'claims']) },
  short: { says: 'today.short', about: 'today.about.short', door: () => hashOf(['orders', 'short']) },
  unpromised: { says: 'today.unpromised', door: () => hashOf(['orders', 'short']) },
  no_week: { says: 'today.no_week', door: () => hashOf(['orders', 'weeks']) },
  walk: { says: 'today.walk', door: (i) => hashOf(['cellar', 'walk', i.about ?? '']) },
  pack: { says: 'today.pack', door: (i) => hashOf(['cellar', 'parcels', i.about ?? '']) },
  send: { says: 'today.send', door: (i) => hashOf(['cellar', 'parcels', i.about ?? '']) },
  cut: { says: 'today.cut', door: () => hashOf(['cellar', 'cutting']) },
  wash: { says: 'today.wash', door: () => hashOf(['cellar', 'cutting']) },
  dig: { says: 'today.dig', about: 'today.about.dig', door: () => hashOf(['cellar', 'field']) },
  check: { says: 'today.check', about: 'today.about.check', door: (i) => hashOf(['cellar', 'lot', i.about ?? '']) },
};

/** @param {{desk: 'winter' | 'orders' | 'cellar'}} props */
export function Today({ desk }) {
  const list = useResource(`/api/today/${desk}`).data;
  if (!list) return null;
  return (
    <section class="today" aria-label={t('today.title')}>
      <h2>{t('today.title')}</h2>
      <Standby />
      {list.length === 0 ? (
        <p class="quiet">{t('today.nothing')}</p>
      ) : (
        <ol class="today-list">
          {list.map((i) => (
            <li key={i.what} class={i.urgent ? 'today-urgent' : ''}>
              <Line item={i} />
            </li>
          ))}
        </ol>
      )}
    </section>
  );
}

/** @param {{item: Item}} props */
function Line({ item }) {
  const { format } = useSeason();
  const { says, about, door } = ITEMS[item.what];
  const more = [
    item.about && about && t(about, { about: item.about }),
    item.money !== null && format.money(item.money),
    item.day !== null && item.what !== 'release' && format.day(item.day),
  ].filter(Boolean);
  return (
    <a href={door(item)}>
      {item.urgent && <span class="today-mark">{t('today.urgent')}</span>}
      <span class="today-what">{t(says, { n: item.n })}</span>
      {more.length > 0 && <span class="quiet today-more">{more.join(' · ')}</span>}
    </a>
  );
}

/** From so many seconds on a copy that lags is told; the engine needs about one. */
const STANDBY_LATE = 10;

/** The second place lacks something for too long: whoever works here should know before the machine is lost. */
function Standby() {
  const { data, reload } = useResource('/api/standby');
  useEvery(STANDBY_LATE * 1000, data?.kept ?? false, reload);
  if (!data || data.behind < STANDBY_LATE) return null;
  return (
    <p role="status">
      <span class="today-mark">{t('today.urgent')}</span> {t('today.standby', { n: data.behind })}
    </p>
  );
}
