// SPDX-License-Identifier: MIT
// The texts of notices, one kind at a time, with how they would read.

import { useEffect, useState } from 'preact/hooks';
import { send } from '../shared/net/api.js';
import { Dialog, Field, Form, Loaded, say } from '../shared/dialog.jsx';
import { useSeason } from '../shared/season.jsx';
import { LANGUAGES } from '../shared/strings/languages.js';
import { t, word } from '../shared/strings/text.js';
import { useResource } from '../shared/net/use.js';

/** @typedef {{kind: string, language: import('../shared/strings/languages.js').Language, subject: string, body: string}} Template */

/** @param {{onClose: () => void}} props */
export function Templates({ onClose }) {
  const templates = useResource('/api/templates');
  const { nursery } = useSeason();
  const [kind, setKind] = useState('');
  const [language, setLanguage] = useState(String(nursery.settings.language ?? 'en'));
  return (
    <Dialog title={t('notices.templates')} onClose={onClose} wide>
      <Loaded of={templates}>
        {(list) => {
          const ours = list.filter((/** @type {Template} */ x) => x.language === language);
          const chosen = ours.find((/** @type {Template} */ x) => x.kind === kind) ?? ours[0];
          return (
            <>
              <Field label={t('notices.text.language')}>
                <select value={language} onChange={(e) => setLanguage(e.currentTarget.value)}>
                  {Object.entries(LANGUAGES).map(([code, { name }]) => (
                    <option key={code} value={code} lang={code}>
                      {name}
                    </option>
                  ))}
                </select>
              </Field>
              <Field label={t('notices.text.kind')}>
                <select value={chosen?.kind} onChange={(e) => setKind(e.currentTarget.value)}>
                  {ours.map((/** @type {Template} */ x) => (
                    <option key={x.kind} value={x.kind}>
                      {word('notice', x.kind)}
                    </option>
                  ))}
                </select>
              </Field>
              {chosen && (
                <Editor key={`${chosen.kind} ${chosen.language}`} template={chosen} onSaved={templates.reload} />
              )}
            </>
          );
        }}
      </Loaded>
    </Dialog>
  );
}

/** @param {{template: Template, onSaved: () => void}} props */
function Editor({ template, onSaved }) {
  const [subject, setSubject] = useState(template.subject);
  const [body, setBody] = useState(template.body);
  // The text that this was typed over: one that is read anew meanwhile was not seen.
  const [began, setBegan] = useState({ subject: template.subject, body: template.body });
  const [read, setRead] = useState(/** @type {{subject: string, body: string} | null} */ (null));
  const [wrong, setWrong] = useState('');
  useEffect(() => {
    let over = false; // an older text's answer may come after a newer one's
    const timer = setTimeout(async () => {
      const { kind, language } = template;
      try {
        const reads = await send('POST', '/api/templates/preview', { kind, language, subject, body });
        if (!over) (setRead(reads), setWrong(''));
      } catch (e) {
        if (!over) setWrong(e instanceof Error ? e.message : String(e));
      }
    }, 400);
    return () => {
      over = true;
      clearTimeout(timer);
    };
  }, [subject, body]);
  return (
    <Form
      save={t('action.save')}
      disabled={subject === template.subject && body === template.body}
      onSave={async () => {
        await send(
          'PUT',
          '/api/templates',
          { kind: template.kind, language: template.language, subject, body },
          { of: word('notice', template.kind), base: began },
        );
        setBegan({ subject, body });
        say(t('settings.saved'));
        onSaved();
      }}
    >
      <Field label={t('notices.text.subject')}>
        <input value={subject} onInput={(e) => setSubject(e.currentTarget.value)} />
      </Field>
      <Field label={t('notices.text.body')} hint={t('notices.text.hint')}>
        <textarea rows={9} value={body} onInput={(e) => setBody(e.currentTarget.value)} />
      </Field>
      <div class="note" role="status">
        <b>{t('templates.reads')}</b>
        {wrong ? (
          <p>{wrong}</p>
        ) : (
          <>
            <p>{read?.subject}</p>
            <p class="letter">{read?.body}</p>
          </>
        )}
      </div>
    </Form>
  );
}
