// SPDX-License-Identifier: MIT
// Whom to tell what by when, and the evidence that it was done.

import { useState } from 'preact/hooks';
import { newKey, send } from '../shared/api.js';
import { Dialog, Field, Form, Loaded, say, sayError } from '../shared/dialog.jsx';
import { hashOf } from '../shared/route.js';
import { rights, useSeason } from '../shared/season.jsx';
import { t, word } from '../shared/text.js';
import { touch, useResource } from '../shared/use.js';

export function NoticesPage() {
  const { session } = useSeason();
  const notices = useResource('/api/notices');
  const [sending, setSending] = useState(/** @type {any} */ (null));
  const [templates, setTemplates] = useState(false);
  const may = rights(session).office;
  const make = async () => {
    try {
      await send('POST', '/api/notices/make', {}, { key: newKey() });
      say(t('notices.made'));
      touch();
    } catch (e) {
      sayError(e);
    }
  };
  return (
    <>
      <div class="page-head">
        <h1 class="page-title">{t('notices.title')}</h1>
        {may && (
          <button type="button" class="main-button" onClick={make}>
            {t('notices.make')}
          </button>
        )}
        {may && (
          <button type="button" onClick={() => setTemplates(true)}>
            {t('notices.templates')}
          </button>
        )}
        <a href="/api/notices.csv" download>
          {t('notices.csv')}
        </a>
        <a href="/api/notices.zip" download>
          {t('notices.eml')}
        </a>
      </div>
      <p class="caution">{t('notices.caution')}</p>
      <Loaded of={notices}>{(list) => (list.length === 0 ? <p class="sheet quiet">{t('notices.none')}</p> : <ByDate list={list} may={may} onSend={setSending} />)}</Loaded>
      {sending && <SentDialog notice={sending} onClose={() => setSending(null)} />}
      {templates && <Templates onClose={() => setTemplates(false)} />}
    </>
  );
}

/** @param {{list: any[], may: boolean, onSend: (notice: any) => void}} props */
function ByDate({ list, may, onSend }) {
  const { format, nursery } = useSeason();
  /** @type {Map<string, any[]>} */
  const days = new Map();
  for (const n of [...list].sort((a, b) => String(a.due_on).localeCompare(String(b.due_on)))) days.set(n.due_on, [...(days.get(n.due_on) ?? []), n]);
  return (
    <>
      {[...days].map(([day, due]) => (
        <section key={day} class="sheet">
          <h2>
            {t('notices.due', { day: format.day(day) })} {nursery.today && day < nursery.today ? <b class="late">{t('notices.late')}</b> : null}
          </h2>
          <ul class="rows">
            {due.map((n) => (
              <li key={n.id} class="notice-row">
                <a class="figure" href={hashOf(['orders', 'order', n.order])}>
                  {n.order}
                </a>
                <b>{word('notice', n.kind)}</b>
                <span>{n.sentence ?? n.text ?? n.customer}</span>
                {Number(n.amount) > 0 && <span class="figure">{format.money(n.amount)}</span>}
                {n.state === 'due' || n.state === undefined ? (
                  may && (
                    <button type="button" onClick={() => onSend(n)}>
                      {t('notices.sent')}
                    </button>
                  )
                ) : (
                  <span class="quiet">
                    {word('state', n.state)} {n.evidence ?? ''}
                  </span>
                )}
              </li>
            ))}
          </ul>
        </section>
      ))}
    </>
  );
}

/** @param {{notice: any, onClose: () => void}} props */
function SentDialog({ notice, onClose }) {
  const [evidence, setEvidence] = useState('');
  const [key] = useState(newKey);
  return (
    <Dialog title={t('notices.sent.title', { order: notice.order })} onClose={onClose}>
      <Form
        save={t('notices.sent.save')}
        onCancel={onClose}
        onSave={async () => {
          await send('POST', `/api/notices/${notice.id}/sent`, { evidence: evidence.trim() }, { key });
          touch();
          onClose();
        }}
      >
        <Field label={t('notices.evidence')} hint={t('notices.evidence.hint')}>
          <textarea rows={2} required value={evidence} onInput={(e) => setEvidence(e.currentTarget.value)} />
        </Field>
      </Form>
    </Dialog>
  );
}

/** @param {{onClose: () => void}} props */
function Templates({ onClose }) {
  const templates = useResource('/api/templates');
  const [typed, setTyped] = useState(/** @type {Record<string, string>} */ ({}));
  return (
    <Dialog title={t('notices.templates')} onClose={onClose} wide>
      <Loaded of={templates}>
        {(data) => {
          /** @type {[string, string][]} */
          const list = Array.isArray(data) ? data.map((x) => [String(x.kind ?? x.name), String(x.text ?? x.body ?? '')]) : Object.entries(data).map(([k, v]) => [k, String(v)]);
          return (
            <Form
              save={t('action.save')}
              disabled={Object.keys(typed).length === 0}
              onCancel={onClose}
              onSave={async () => {
                await send('PUT', '/api/templates', Array.isArray(data) ? list.map(([kind, text]) => ({ kind, text: typed[kind] ?? text })) : { ...Object.fromEntries(list), ...typed });
                say(t('settings.saved'));
                onClose();
              }}
            >
              {list.map(([kind, text]) => (
                <Field key={kind} label={word('notice', kind)}>
                  <textarea rows={6} value={typed[kind] ?? text} onInput={(e) => setTyped({ ...typed, [kind]: e.currentTarget.value })} />
                </Field>
              ))}
            </Form>
          );
        }}
      </Loaded>
    </Dialog>
  );
}
