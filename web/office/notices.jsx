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
  const timetable = useResource('/api/timetable');
  const [settling, setSettling] = useState(/** @type {{notice: any, drop: boolean} | null} */ (null));
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
        <a href="/api/refunds.csv" download>
          {t('notices.refunds')}
        </a>
      </div>
      <p class="caution">
        {t('notices.caution')} <Loaded of={timetable}>{(rule) => <span>{`${rule.timetable}: ${rule.caution}`}</span>}</Loaded>
      </p>
      <Loaded of={notices}>{(list) => (list.length === 0 ? <p class="sheet quiet">{t('notices.none')}</p> : <ByDate list={list} may={may} onSettle={(notice, drop) => setSettling({ notice, drop })} />)}</Loaded>
      {settling && <SettleDialog notice={settling.notice} drop={settling.drop} onClose={() => setSettling(null)} />}
      {templates && <Templates onClose={() => setTemplates(false)} />}
    </>
  );
}

/** @param {{list: any[], may: boolean, onSettle: (notice: any, drop: boolean) => void}} props */
function ByDate({ list, may, onSettle }) {
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
              <li key={n.notice} class="notice-row">
                <a class="figure" href={hashOf(['orders', 'order', n.order])}>
                  {n.order}
                </a>
                <b>{word('notice', n.kind)}</b>
                <span>{n.sentence ?? n.customer}</span>
                {Number(n.amount) > 0 && <span class="figure">{format.money(n.amount)}</span>}
                {may && n.email && (
                  <a href={`/api/notices/${n.notice}.eml`} download aria-label={t('notices.eml.one', { order: n.order })}>
                    {t('notices.eml')}
                  </a>
                )}
                {may && (
                  <button type="button" onClick={() => onSettle(n, false)}>
                    {t('notices.sent')}
                  </button>
                )}
                {may && (
                  <button type="button" class="link-button" onClick={() => onSettle(n, true)}>
                    {t('notices.drop')}
                  </button>
                )}
              </li>
            ))}
          </ul>
        </section>
      ))}
    </>
  );
}

/** @param {{notice: any, drop: boolean, onClose: () => void}} props */
function SettleDialog({ notice, drop, onClose }) {
  const [words, setWords] = useState('');
  const [key] = useState(newKey);
  return (
    <Dialog title={t(drop ? 'notices.drop.title' : 'notices.sent.title', { order: notice.order })} onClose={onClose}>
      <Form
        save={t('notices.sent.save')}
        onCancel={onClose}
        onSave={async () => {
          const path = `/api/notices/${notice.notice}`;
          if (drop) await send('POST', `${path}/drop`, { why: words.trim() }, { key });
          else await send('POST', `${path}/sent`, { evidence: words.trim() }, { key });
          touch();
          onClose();
        }}
      >
        <Field label={t(drop ? 'notices.drop.why' : 'notices.evidence')} hint={drop ? undefined : t('notices.evidence.hint')}>
          <textarea rows={2} required value={words} onInput={(e) => setWords(e.currentTarget.value)} />
        </Field>
      </Form>
    </Dialog>
  );
}

/** @param {{onClose: () => void}} props */
function Templates({ onClose }) {
  const templates = useResource('/api/templates');
  return (
    <Dialog title={t('notices.templates')} onClose={onClose} wide>
      <Loaded of={templates}>{(list) => <TextForm list={list} onClose={onClose} />}</Loaded>
    </Dialog>
  );
}

/** @param {{list: any[], onClose: () => void}} props */
function TextForm({ list, onClose }) {
  const [kind, setKind] = useState(String(list[0].kind));
  const was = list.find((x) => x.kind === kind);
  const [subject, setSubject] = useState(String(was.subject));
  const [body, setBody] = useState(String(was.body));
  const [shown, setShown] = useState(/** @type {any} */ (null));
  const choose = (/** @type {string} */ next) => {
    const to = list.find((x) => x.kind === next);
    setKind(next);
    setSubject(to.subject);
    setBody(to.body);
    setShown(null);
  };
  return (
    <Form
      save={t('action.save')}
      disabled={subject === was.subject && body === was.body}
      onCancel={onClose}
      onSave={async () => {
        await send('PUT', '/api/templates', { kind, subject, body });
        say(t('settings.saved'));
        onClose();
      }}
    >
      <Field label={t('notices.text.kind')}>
        <select value={kind} onChange={(e) => choose(e.currentTarget.value)}>
          {list.map((x) => (
            <option key={x.kind} value={x.kind}>
              {word('notice', x.kind)}
            </option>
          ))}
        </select>
      </Field>
      <Field label={t('notices.text.subject')}>
        <input type="text" required maxLength={200} value={subject} onInput={(e) => setSubject(e.currentTarget.value)} />
      </Field>
      <Field label={t('notices.text.body')} hint={t('notices.text.hint')}>
        <textarea rows={12} required value={body} onInput={(e) => setBody(e.currentTarget.value)} />
      </Field>
      <button
        type="button"
        onClick={async () => {
          try {
            setShown(await send('POST', '/api/templates/preview', { kind, subject, body }));
          } catch (e) {
            sayError(e);
          }
        }}
      >
        {t('notices.text.preview')}
      </button>
      {shown && (
        <div class="sheet">
          <b>{shown.subject}</b>
          <p class="preview-text">{shown.body}</p>
        </div>
      )}
    </Form>
  );
}
