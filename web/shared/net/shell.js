// SPDX-License-Identifier: MIT
// The service worker keeps the page itself, so that the cellar can open it without a network.

/** @returns {void} */
export function registerWorker() {
  const workers = navigator.serviceWorker;
  if (!workers || !window.isSecureContext) return; // plain http from another machine: the outbox works, a reload does not
  /** @type {any} */
  const types = /** @type {any} */ (window).trustedTypes;
  const policy = types?.createPolicy('clumpwise', {
    /** @param {string} url */
    createScriptURL: (url) => {
      if (url !== '/worker.js') throw new TypeError(url);
      return url;
    },
  });
  const url = policy ? policy.createScriptURL('/worker.js') : '/worker.js';
  workers.register(url, { scope: '/' }).catch(() => {});
  // So that the browser does not drop what waits when space is short.
  navigator.storage?.persist?.().catch(() => {});
}

/** Does this page survive a reload without a network? */
export function survivesReload() {
  return Boolean(navigator.serviceWorker?.controller);
}
