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

/** @typedef {import('../shared/strings/text.js').Key} Key */

/** @type {{step: string, name: Key, page: (values: Record<string, string>) => import('preact').ComponentChild}[]} */
const PAGES = [
  { step: '', name: 'winter.page.plan', page: (values) => <PlanPage values={values} /> },
  { step: 'planting', name: 'winter.page.planting', page: () => <PlantingPage /> },
  { step: 'changes', name: 'winter.page.changes', page: () => <ChangesPage /> },
  { step: 'hindsight', name: 'winter.page.hindsight', page: () => <HindsightPage /> },
  { step: 'letter', name: 'winter.page.letter', page: () => <LetterPage /> },
  { step: 'cutting', name: 'winter.page.cutting', page: () => <CuttingPage /> },
  { step: 'cellar', name: 'winter.page.cellar', page: () => <CratesPage /> },
  { step: 'whatif', name: 'winter.page.whatif', page: () => <WhatIfPage /> },
  { step: 'air', name: 'winter.page.air', page: () => <AirPage /> },
  { step: 'records', name: 'winter.page.records', page: () => <RecordsPage kind="" /> },
  { step: 'record', name: 'winter.page.record', page: () => <RecordPage /> },
  { step: 'end', name: 'winter.page.end', page: () => <EndPage /> },
  { step: 'print', name: 'winter.page.print', page: () => <PrintPage /> },
  { step: 'start', name: 'winter.page.start', page: () => <StartPage /> },
  { step: 'settings', name: 'winter.page.settings', page: () => <SettingsPage /> },
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
