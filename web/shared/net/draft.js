// SPDX-License-Identifier: MIT
// What somebody is in the middle of typing outlives a look at another screen and a session that ends: in the memory of this tab
// only, and for the same person only.

import { useCallback, useState } from 'preact/hooks';

/** @type {Map<string, {name: string, value: unknown}>} */
const drafts = new Map();

/** After signing out on purpose nothing is left. */
export function dropDrafts() {
  drafts.clear();
}

/**
 * @template T
 * @param {string} what which form
 * @param {string} name who types
 * @param {T} first the form as it begins
 * @returns {[T, (value: T) => void, () => void]} the last begins anew
 */
export function useDraft(what, name, first) {
  const [value, setValue] = useState(() => {
    const kept = drafts.get(what);
    if (kept?.name === name) return /** @type {T} */ (kept.value);
    drafts.delete(what);
    return first;
  });
  const set = useCallback(
    (/** @type {T} */ next) => {
      drafts.set(what, { name, value: next });
      setValue(() => next);
    },
    [what, name],
  );
  const drop = useCallback(() => {
    drafts.delete(what);
    setValue(() => first);
  }, [what]);
  return [value, set, drop];
}
