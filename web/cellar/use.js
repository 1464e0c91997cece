// SPDX-License-Identifier: MIT
import { useCallback, useEffect, useLayoutEffect, useRef, useState } from 'preact/hooks';
import { listen } from '../shared/scanner.js';
import { useResource } from '../shared/net/use.js';
import { box } from './box.js';

/**
 * Something fetched of which a copy is kept on this device: without a network the copy is shown.
 * @param {string | null} path
 * @returns {{data: any, error: Error | null, loading: boolean, old: boolean, reload: () => void}}
 */
export function useOffline(path) {
  const fresh = useResource(path);
  const [copy, setCopy] = useState(/** @type {{path: string | null, data: any}} */ ({ path: null, data: undefined }));
  useEffect(() => {
    let gone = false;
    if (path)
      void box().then(async (b) => {
        const data = await b.recall(path);
        if (!gone) setCopy({ path, data });
      });
    return () => {
      gone = true;
    };
  }, [path]);
  useEffect(() => {
    if (path && fresh.data !== undefined) void box().then((b) => b.keep(path, fresh.data));
  }, [path, fresh.data]);
  const kept = copy.path === path ? copy.data : undefined;
  const data = fresh.data ?? kept;
  return {
    ...fresh,
    data,
    error: data === undefined ? fresh.error : null,
    old: fresh.data === undefined && kept !== undefined,
  };
}

/**
 * Scans come here, whatever has the focus. One listener for as long as the screen is there: what is drawn anew in the middle of a scan, or
 * just before the next one, loses none.
 * @param {(text: string) => void} onScan
 */
export function useScanner(onScan) {
  const latest = useRef(onScan);
  latest.current = onScan;
  useLayoutEffect(() => listen(window, (text) => latest.current(text)), []);
}

/** @typedef {import('./walk.js').Answers} Answers */

/**
 * What was answered on this device, kept with the wave so that a reload forgets nothing.
 * @param {string} id
 * @returns {[Answers | null, (answers: Answers) => Promise<void>]}
 */
export function useAnswers(id) {
  const [answers, setAnswers] = useState(/** @type {Answers | null} */ (null));
  const name = `answers.${id}`;
  useEffect(() => {
    void box().then(async (b) => setAnswers((await b.recall(name)) ?? {}));
  }, [name]);
  const keep = useCallback(
    async (/** @type {Answers} */ next) => {
      setAnswers(next);
      await (await box()).keep(name, next);
    },
    [name],
  );
  return [answers, keep];
}
