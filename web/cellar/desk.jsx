// SPDX-License-Identifier: MIT
// The cellar: one thing a screen, for thumbs in gloves. Works on without a network.

import { Frame } from '../shared/frame.jsx';
import { Field } from '../shared/dialog.jsx';
import { hashOf } from '../shared/route.js';
import { rights, useSeason } from '../shared/season.jsx';
import { survivesReload } from '../shared/net/shell.js';
import { t, word } from '../shared/strings/text.js';
import { Today } from '../shared/today.jsx';
import { contact, useKept, useStore } from '../shared/net/use.js';
import { entries } from './box.js';
import { CheckEntry, CountEntry, DividingEntry, MoveEntry, OtherEntry } from './entries.jsx';
import { DugToday, FieldRows } from './field.jsx';
import { DigEntry, FieldWalkEntry, PlantEntry } from './fieldentries.jsx';
import { CuttingLists } from './lists.jsx';
import { LotPage } from './lot.jsx';
import { ParcelsPage } from './parcels.jsx';
import { RotaList } from './rota.jsx';
import { Told, WaitingPage } from './waiting.jsx';
import { WalkPage } from './walk.jsx';

/** @typedef {import('../shared/strings/text.js').Key} Key */

/** @param {{steps: string[], values: Record<string, string>}} props */
export function Cellar({ steps, values }) {
  const waiting = useStore(entries).length;
  const [step = '', which = ''] = steps;
  return (
    <Frame desk="cellar" pages={[]} page={step} title={word('cellar', step) || undefined} waiting={waiting}>
      {step !== '' && (
        <a class="back" href={hashOf(['cellar'])}>
          ← {t('cellar.back')}
        </a>
      )}
      {step !== 'waiting' && <Told />}
      {step === 'walk' ? (
        <WalkPage which={which} />
      ) : step === 'parcels' ? (
        <ParcelsPage which={which} />
      ) : step === 'cutting' ? (
        <CuttingLists />
      ) : step === 'rota' ? (
        <RotaList />
      ) : step === 'field' ? (
        <FieldRows />
      ) : step === 'dug' ? (
        <DugToday />
      ) : step === 'dig' ? (
        <DigEntry values={values} />
      ) : step === 'fieldwalk' ? (
        <FieldWalkEntry values={values} />
      ) : step === 'plant' ? (
        <PlantEntry />
      ) : step === 'dividing' ? (
        <DividingEntry values={values} />
      ) : step === 'check' ? (
        <CheckEntry values={values} />
      ) : step === 'count' ? (
        <CountEntry />
      ) : step === 'move' ? (
        <MoveEntry values={values} />
      ) : step === 'other' ? (
        <OtherEntry values={values} />
      ) : step === 'lot' ? (
        <LotPage which={which} />
      ) : step === 'waiting' ? (
        <WaitingPage />
      ) : (
        <Doors />
      )}
    </Frame>
  );
}

/** The tasks, each a large tag. */
function Doors() {
  const { session } = useSeason();
  const [packer, setPacker] = useKept('packer', session.accounts ? session.name : '');
  const box = useStore(entries);
  const up = useStore(contact);
  const may = rights(session);
  /** @type {{step: string, name: Key, hint: Key, open: boolean}[]} */
  const all = [
    { step: 'walk', name: 'cellar.walk', hint: 'cellar.walk.hint', open: may.pack },
    { step: 'parcels', name: 'cellar.parcels', hint: 'cellar.parcels.hint', open: may.pack },
    { step: 'field', name: 'cellar.field', hint: 'cellar.field.hint', open: may.cellar },
    { step: 'cutting', name: 'cellar.cutting', hint: 'cellar.cutting.hint', open: may.cellar },
    { step: 'dividing', name: 'cellar.dividing', hint: 'cellar.dividing.hint', open: may.cellar },
    { step: 'rota', name: 'cellar.rota', hint: 'cellar.rota.hint', open: may.cellar },
    { step: 'check', name: 'cellar.check', hint: 'cellar.check.hint', open: may.cellar },
    { step: 'count', name: 'cellar.count', hint: 'cellar.count.hint', open: may.cellar },
    { step: 'move', name: 'cellar.move', hint: 'cellar.move.hint', open: may.cellar },
    { step: 'other', name: 'cellar.other', hint: 'cellar.other.hint', open: may.cellar },
    { step: 'lot', name: 'cellar.lot', hint: 'cellar.lot.hint', open: true },
  ];
  const doors = all.filter((d) => d.open);
  return (
    <div class="doors">
      <h1 class="hidden">{t('desk.cellar')}</h1>
      <Field label={t('cellar.packer')}>
        <input
          class="large-field"
          autoComplete="name"
          value={packer}
          onInput={(e) => setPacker(e.currentTarget.value)}
        />
      </Field>
      {up && <Today desk="cellar" />}
      <ul class="door-list">
        {doors.map((d) => (
          <li key={d.step}>
            <a class="door" href={hashOf(['cellar', d.step])}>
              <b>{t(d.name)}</b>
              <span>{t(d.hint)}</span>
            </a>
          </li>
        ))}
        <li>
          <a class="door" href={hashOf(['cellar', 'waiting'])}>
            <b>{t('cellar.waiting')}</b>
            <span>{box.length === 0 ? t('cellar.waiting.none') : t('cellar.waiting.some', { n: box.length })}</span>
          </a>
        </li>
      </ul>
      <p class="quiet">
        {up ? t('cellar.up') : t('cellar.down')} {survivesReload() ? t('cellar.shell') : t('cellar.no_shell')}
      </p>
      <p class="caution">{t('cellar.caution')}</p>
    </div>
  );
}
