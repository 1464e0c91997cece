// SPDX-License-Identifier: MIT
// Another pace than this machine's, to find what only works at this one. CLUMPWISE_PACE says which:
//   server   each answer of the server comes 50 to 400 ms late
//   write    the answers to what writes come late, and those to what is read soon after: the server has done it, the page does not know
//   page     the page's processor is five times slower
// A number after a colon draws other delays (server:7).

const PACES = ['server', 'write', 'page'];
const [name = '', drawn = '1'] = (process.env.CLUMPWISE_PACE ?? '').split(':');
if (name !== '' && !PACES.includes(name))
  throw new Error(`CLUMPWISE_PACE is ${name}: it is one of ${PACES.join(', ')}`);

const LATE_MS = { from: 50, to: 400 };
/** So long after a write's answer what is read comes late, too. */
const AFTER_WRITE_MS = 1500;
const TIMES_SLOWER = 5;

let seed = Number(drawn);

/** The next delay: the same row of them for the same number. */
function drawMs() {
  seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0;
  return LATE_MS.from + ((LATE_MS.to - LATE_MS.from) * seed) / 2 ** 32;
}

/** Holds back answers after the server gave them: what it did is done. @param {import('playwright-core').CDPSession} session */
async function holdAnswers(session) {
  let lateUntil = 0;
  session.on('Fetch.requestPaused', ({ requestId, request }) => {
    const reads = request.method === 'GET' || request.method === 'HEAD';
    if (!reads) lateUntil = Infinity;
    const ms = name === 'server' || Date.now() < lateUntil ? drawMs() : 0;
    setTimeout(() => {
      if (!reads) lateUntil = Date.now() + AFTER_WRITE_MS;
      // What the page gave up meanwhile is not there any more.
      session.send('Fetch.continueRequest', { requestId }).catch(() => {});
    }, ms);
  });
  await session.send('Fetch.enable', { patterns: [{ urlPattern: '*/api/*', requestStage: 'Response' }] });
}

/** @param {import('playwright-core').Page} page */
async function slow(page) {
  const session = await page.context().newCDPSession(page);
  if (name === 'page') await session.send('Emulation.setCPUThrottlingRate', { rate: TIMES_SLOWER });
  else await holdAnswers(session);
}

/**
 * A new page at the pace that was asked for; those that open beside it have it, too.
 * @param {import('playwright-core').BrowserContext} context
 */
export async function atPace(context) {
  const page = await context.newPage();
  if (name === '') return page;
  await slow(page);
  context.on('page', (other) => void slow(other).catch(() => {})); // it may be closed by then
  return page;
}
