// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { beforeEach, test } from 'node:test';
import { IDBFactory } from 'fake-indexeddb';
import { Problem } from './api.js';
import { Outbox, openBox } from './outbox.js';

/** A server that carries a key out once; `fate` decides what becomes of each request. */
class Server {
  constructor() {
    /** @type {Map<string, unknown>} */
    this.done = new Map();
    this.requests = 0;
    /** @type {() => 'ok' | 'lost before' | 'lost after' | number} */
    this.fate = () => 'ok';
    this.post = async (/** @type {import('./outbox.js').Entry} */ entry) => {
      this.requests++;
      const fate = this.fate();
      if (fate === 'lost before') throw new Problem(0, 'no answer');
      if (typeof fate === 'number') throw new Problem(fate, `status ${fate}`);
      if (!this.done.has(entry.key)) this.done.set(entry.key, entry.body);
      if (fate === 'lost after') throw new Problem(0, 'no answer');
      return [{ key: entry.key, outcome: 'done' }];
    };
  }
}

/** @type {IDBFactory} */
let factory;
/** @type {Server} */
let server;

beforeEach(() => {
  me = 'Ada';
  factory = new IDBFactory();
  server = new Server();
});

let me = 'Ada';
const open = async () => new Outbox(await openBox(factory), server.post, () => me);
const entry = (/** @type {string} */ key) => ({ key, path: '/api/picks', body: { n: key }, label: key });

test('an entry survives a reload and arrives once', async () => {
  const first = await open();
  server.fate = () => 'lost before';
  await first.add(entry('a'));
  assert.equal(await first.drain(), 'unreachable');
  const second = await open();
  assert.deepEqual(
    (await second.all()).map((e) => e.key),
    ['a'],
  );
  server.fate = () => 'ok';
  assert.equal(await second.drain(), 'empty');
  assert.deepEqual([...server.done.keys()], ['a']);
  assert.equal((await second.all()).length, 0);
});

test('300 entries over a line that drops at random arrive exactly once and in order', async () => {
  const seed = Number(process.env.SEED ?? 20320419);
  let state = seed;
  const random = () => (state = (state * 1103515245 + 12345) % 2147483648) / 2147483648;
  const box = await open();
  for (let i = 0; i < 300; i++) await box.add(entry(`k${String(i).padStart(3, '0')}`));
  server.fate = () => (random() < 0.3 ? 'lost before' : random() < 0.3 ? 'lost after' : 'ok');
  let rounds = 0;
  while ((await box.drain()) !== 'empty') assert.ok(rounds++ < 5000, `bounded (seed ${seed})`);
  assert.equal(server.done.size, 300, `seed ${seed}`);
  assert.deepEqual([...server.done.keys()], [...server.done.keys()].sort());
  assert.ok(server.requests > 300);
});

test('a clock that is put right between two entries does not turn them round', async (t) => {
  let now = 1_960_000_000_000;
  t.mock.method(Date, 'now', () => now);
  const box = await open();
  await box.add(entry('first'));
  now -= 3 * 86_400_000; // it ran three days ahead
  await Promise.all([box.add(entry('second')), box.add(entry('third'))]);
  const reloaded = await open();
  now -= 3 * 86_400_000;
  await reloaded.add(entry('fourth'));
  assert.equal(await reloaded.drain(), 'empty');
  assert.deepEqual([...server.done.keys()], ['first', 'second', 'third', 'fourth']);
});

test('what the server refuses stays with its sentence and does not hold up the rest', async () => {
  const box = await open();
  await box.add(entry('bad'));
  await box.add(entry('good'));
  let first = true;
  server.fate = () => {
    const fate = first ? 422 : 'ok';
    first = false;
    return fate;
  };
  assert.equal(await box.drain(), 'empty');
  const left = await box.all();
  assert.deepEqual(
    left.map((e) => [e.key, e.state, e.detail]),
    [['bad', 'refused', 'status 422']],
  );
  assert.deepEqual([...server.done.keys()], ['good']);
  await box.drop('bad');
  assert.equal((await box.all()).length, 0);
});

test('without a sign-in and while the server is busy everything waits', async () => {
  const box = await open();
  await box.add(entry('a'));
  server.fate = () => 401;
  assert.equal(await box.drain(), 'sign in');
  for (const status of [429, 500, 503]) {
    server.fate = () => status;
    assert.equal(await box.drain(), 'unreachable');
  }
  assert.equal((await box.all())[0]?.state, 'waiting');
});

test('two people at the same stop: the clash is kept to be read', async () => {
  const box = new Outbox(
    await openBox(factory),
    async (e) => [{ key: e.key, outcome: 'clash', detail: 'Marta took 3 here.' }],
    () => me,
  );
  await box.add(entry('a'));
  await box.drain();
  assert.deepEqual(
    (await box.all()).map((e) => [e.state, e.detail]),
    [['clash', 'Marta took 3 here.']],
  );
});

test('one drain at a time', async () => {
  const box = await open();
  await box.add(entry('a'));
  const outcomes = await Promise.all([box.drain(), box.drain()]);
  assert.deepEqual(outcomes.sort(), ['busy', 'empty']);
  assert.equal(server.requests, 1);
});

test('keeps copies for when there is no network', async () => {
  const box = await open();
  await box.keep('/api/waves/1', { stops: [1] });
  assert.deepEqual(await (await open()).recall('/api/waves/1'), { stops: [1] });
  assert.equal(await box.recall('nothing'), undefined);
  await box.keep('answers.1', { 7: 'taken' });
  await box.add({ key: 'k-stays', path: '/api/picks', body: {}, label: 'one pick' });
  await box.forgetCopies();
  assert.equal(await box.recall('/api/waves/1'), undefined);
  assert.deepEqual(await box.recall('answers.1'), { 7: 'taken' });
  assert.equal((await box.all()).filter((e) => e.key === 'k-stays').length, 1);
});

test('an entry waits for its author, whoever else signs in, or is handed over by name', async () => {
  const box = await open();
  server.fate = () => 'lost before';
  await box.add(entry('of-ada'));
  await box.drain();
  server.fate = () => 'ok';
  me = '';
  assert.equal(await box.drain(), 'empty');
  me = 'Bo';
  await box.add(entry('of-bo'));
  assert.equal(await box.drain(), 'empty');
  assert.deepEqual([...server.done.keys()], ['of-bo']);
  // Another tab let somebody else sign in: the server says whose it is, and it waits.
  me = 'Ada';
  const refusing = new Outbox(
    box.db,
    () => Promise.reject(new Problem(409, 'Ada entered this', { body: { type: 'urn:clumpwise:problem:author' } })),
    () => me,
  );
  assert.equal(await refusing.drain(), 'sign in');
  assert.deepEqual(
    (await box.all()).map((e) => [e.author, e.state]),
    [['Ada', 'waiting']],
  );
  // Handed over: it keeps its author's name and goes with Bo only.
  me = 'Bo';
  await box.takeOver('Ada');
  me = 'Cy';
  await box.drain();
  assert.deepEqual(
    (await box.all()).map((e) => [e.author, e.handed]),
    [['Ada', 'Bo']],
  );
  me = 'Bo';
  await box.drain();
  assert.deepEqual([...server.done.keys()], ['of-bo', 'of-ada']);
});
