// SPDX-License-Identifier: MIT
// What is written down in the field: a walk, what was dug of a row, what was set out. Asked like everything in the cellar.

import { hashOf } from '../shared/route.js';
import { t } from '../shared/strings/text.js';
import { Entry } from './entry.jsx';

/** @typedef {import('./questions.js').Question} Question */
/** @typedef {Record<string, string>} Given */

/** @param {Given} g @param {string} name */
const n = (g, name) => Number(g[name] ?? 0);

/** @type {Question[]} */
const WALK = [
  { name: 'row', kind: 'row', label: 'ground.which' },
  {
    name: 'alive',
    kind: 'number',
    label: 'ground.alive',
    wrong: (g, _, p) => {
      const most = p ? p.plants - p.dug - p.culled - p.rogued : Infinity;
      return n(g, 'alive') > most ? t('ground.alive.most', { n: most }) : '';
    },
  },
  {
    name: 'rogued',
    kind: 'number',
    label: 'ground.rogued',
    wrong: (g) => (n(g, 'rogued') > n(g, 'alive') ? t('entry.more_rotten', { n: n(g, 'alive') }) : ''),
    needless: (g) => n(g, 'alive') === 0,
  },
  { name: 'reason', kind: 'text', label: 'ground.reason', optional: true, needless: (g) => n(g, 'rogued') === 0 },
];

/** @type {Question[]} */
const DIG = [
  { name: 'row', kind: 'row', label: 'ground.which' },
  {
    name: 'clumps',
    kind: 'number',
    label: 'ground.clumps',
    wrong: (g, _, p) => (p && n(g, 'clumps') > p.standing ? t('ground.dug.most', { n: p.standing }) : ''),
  },
  {
    name: 'culled',
    kind: 'number',
    label: 'ground.culled',
    wrong: (g, _, p) =>
      n(g, 'clumps') + n(g, 'culled') < 1
        ? t('entry.least_one')
        : p && n(g, 'clumps') + n(g, 'culled') > p.standing
          ? t('ground.dug.most', { n: p.standing })
          : '',
  },
  { name: 'place', kind: 'place', label: 'ground.place', optional: true },
  { name: 'lot', kind: 'text', label: 'ground.lot', optional: true },
  {
    name: 'done',
    kind: 'yes',
    label: 'ground.done',
    needless: (g, _, p) => p !== null && p !== undefined && n(g, 'clumps') + n(g, 'culled') >= p.standing,
  },
];

/** @type {Question[]} */
const PLANT = [
  { name: 'bed', kind: 'text', label: 'ground.bed' },
  { name: 'variety', kind: 'variety', label: 'ground.variety' },
  {
    name: 'plants',
    kind: 'number',
    label: 'ground.plants',
    wrong: (g) => (n(g, 'plants') < 1 ? t('entry.least_one') : ''),
  },
  { name: 'from', kind: 'text', label: 'ground.from', optional: true },
  { name: 'spacing', kind: 'number', label: 'ground.spacing' },
];

const rowsLeft = () => ({ href: hashOf(['cellar', 'field']), text: t('ground.to_rows') });

/** The row that was chosen in the list. @param {Record<string, string>} values @returns {Given} */
const chosen = (values) => (values.row ? { row: values.row, variety: values.variety ?? '' } : {});

/** @param {{values: Record<string, string>}} props */
export function FieldWalkEntry({ values }) {
  return (
    <Entry
      title={t('cellar.fieldwalk')}
      questions={WALK}
      first={chosen(values)}
      path="/api/field/rounds"
      body={(g, day) => ({
        row: g.row,
        variety: g.variety || undefined,
        seen_on: day,
        alive: n(g, 'alive'),
        rogued: n(g, 'rogued') || undefined,
        reason: (n(g, 'rogued') > 0 && g.reason?.trim()) || undefined,
      })}
      said={(g) => t('ground.walk.said', { row: g.row ?? '', n: n(g, 'alive'), rogued: n(g, 'rogued') })}
      then={rowsLeft()}
    />
  );
}

/** @param {{values: Record<string, string>}} props */
export function DigEntry({ values }) {
  return (
    <Entry
      title={t('cellar.dig')}
      questions={DIG}
      first={chosen(values)}
      path="/api/field/dug"
      body={(g, day) => ({
        row: g.row,
        variety: g.variety || undefined,
        dug_on: day,
        clumps: n(g, 'clumps'),
        culled: n(g, 'culled') || undefined,
        place: g.place || undefined,
        lot: g.lot?.trim() || undefined,
        done: g.done === 'yes' ? 'yes' : undefined,
      })}
      said={(g) => t('ground.dig.said', { row: g.row ?? '', n: n(g, 'clumps'), culled: n(g, 'culled') })}
      then={{ href: hashOf(['cellar', 'dug']), text: t('ground.to_tags') }}
    />
  );
}

export function PlantEntry() {
  return (
    <Entry
      title={t('cellar.plant')}
      questions={PLANT}
      first={{}}
      path="/api/field/plantings"
      body={(g, day) => ({
        row: g.bed?.trim(),
        variety: g.variety,
        plants: n(g, 'plants'),
        planted_on: day,
        lot: g.from?.trim() || undefined,
        spacing_cm: n(g, 'spacing') || undefined,
      })}
      said={(g) => t('ground.plant.said', { row: g.bed ?? '', n: n(g, 'plants'), variety: g.variety ?? '' })}
      then={rowsLeft()}
    />
  );
}
