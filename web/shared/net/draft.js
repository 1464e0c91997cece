// SPDX-License-Identifier: MIT
// What somebody is in the middle of typing outlives a look at another screen and a session that ends: in the memory of this tab
// only, and for the same person only.

import { useCallback, useRef, useState } from 'preact/hooks';

/** @type {Map<string, {name: string, value: unknown}>} */
const drafts = new Map();

/** After signing out on purpose nothing is left. */
export function dropDrafts() {
  drafts.clear();
}

/**
 * @template {object} T
 * @param {string} what which form
 * @param {string} name who types
 * @param {T} first the form as it begins
 * @returns {[T, (change: (was: T) => Partial<T>) => void, () => void]} the second changes what stands by then: two fields may
 *     change before the page is drawn again; the last begins anew
 */
export function useDraft(what, name, first) {
  const [value, setValue] = useState(() => {
    const kept = drafts.get(what);
    if (kept?.name === name) return /** @type {T} */ (kept.value);
    drafts.delete(what);
    return first;
  });
  const latest = useRef(value);
  const change = useCallback(
    (/** @type {(was: T) => Partial<T>} */ by) => {
      latest.current = { ...latest.current, ...by(latest.current) };
      drafts.set(what, { name, value: latest.current });
      setValue(latest.current);
    },
    [what, name],
  );
  const drop = useCallback(() => {
    drafts.delete(what);
    setValue((latest.current = first));
  }, [what]);
  return [value, change, drop];
}
