// SPDX-License-Identifier: MIT
// The winter desk: how many of each variety to offer, at what risk.

import { Frame } from '../shared/frame.jsx';
import { rights, useSeason } from '../shared/season.jsx';
import { AirPage } from './air.jsx';
import { CratesPage } from './crates.jsx';
import { EndPage } from './end.jsx';
import { CuttingPage } from './cutting.jsx';
import { ChangesPage } from './changes.jsx';
import { HindsightPage } from './hindsight.jsx';
import { LetterPage } from './letter.jsx';
import { PlanPage } from './plan.jsx';
import { EarthPage } from './earth.jsx';
import { PlantingPage } from './planting.jsx';
import { PrintPage } from './catalogue.jsx';
import { RecordPage } from './record.jsx';
import { RecordsPage } from './records.jsx';
import { SettingsPage } from './settings.jsx';
import { StartPage } from './start.jsx';
import { VarietyPage } from './variety.jsx';
import { WhatIfPage } from './whatif.jsx';

/** The pages by the question that each answers. */
const QUANTITIES = /** @type {const} */ ({ name: 'winter.group.quantities', asks: 'winter.group.quantities.asks' });
const STORE = /** @type {const} */ ({ name: 'winter.group.store', asks: 'winter.group.store.asks' });
const SEASONS = /** @type {const} */ ({ name: 'winter.group.seasons', asks: 'winter.group.seasons.asks' });
const RECORDS = /** @type {const} */ ({ name: 'winter.group.records', asks: 'winter.group.records.asks' });
const RULES = /** @type {const} */ ({ name: 'winter.page.settings', asks: 'winter.group.settings.asks' });

/** @type {(import('../shared/frame.jsx').Page & {page: (values: Record<string, string>) => import('preact').ComponentChild})[]} */
const PAGES = [
  { group: QUANTITIES, step: '', name: 'winter.page.plan', page: (values) => <PlanPage values={values} /> },
  { group: QUANTITIES, step: 'planting', name: 'winter.page.planting', page: () => <PlantingPage /> },
  { group: QUANTITIES, step: 'whatif', name: 'winter.page.whatif', page: () => <WhatIfPage /> },
  { group: QUANTITIES, step: 'changes', name: 'winter.page.changes', page: () => <ChangesPage /> },
  { group: STORE, step: 'cutting', name: 'winter.page.cutting', page: () => <CuttingPage /> },
  { group: STORE, step: 'cellar', name: 'winter.page.cellar', page: () => <CratesPage /> },
  { group: STORE, step: 'air', name: 'winter.page.air', page: () => <AirPage /> },
  { group: SEASONS, step: 'hindsight', name: 'winter.page.hindsight', page: () => <HindsightPage /> },
  { group: SEASONS, step: 'letter', name: 'winter.page.letter', page: () => <LetterPage /> },
  { group: SEASONS, step: 'end', name: 'winter.page.end', page: () => <EndPage /> },
  { group: RECORDS, step: 'records', name: 'winter.page.records', page: () => <RecordsPage kind="" /> },
  { group: RECORDS, step: 'record', name: 'winter.page.record', page: () => <RecordPage /> },
  { group: RECORDS, step: 'print', name: 'winter.page.print', page: () => <PrintPage /> },
  { group: RECORDS, step: 'start', name: 'winter.page.start', page: () => <StartPage /> },
  { group: RULES, step: 'settings', name: 'winter.page.settings', page: () => <SettingsPage /> },
];

/** @param {{steps: string[], values: Record<string, string>}} props */
export function WinterDesk({ steps, values }) {
  const { session } = useSeason();
  const [step = '', code = ''] = steps;
  const pages = rights(session).owner ? PAGES : PAGES.filter((p) => p.step !== 'settings' && p.step !== 'end');
  const page = pages.find((p) => p.step === step) ?? pages[0];
  return (
    <Frame desk="winter" pages={pages} page={step === 'variety' ? '' : (page?.step ?? '')}>
      {step === 'variety' && code ? (
        <VarietyPage key={code} code={code} />
      ) : step === 'records' ? (
        <RecordsPage kind={code} />
      ) : step === 'planting' && code ? (
        <EarthPage key={code} code={code} />
      ) : (
        page?.page(values)
      )}
    </Frame>
  );
}
