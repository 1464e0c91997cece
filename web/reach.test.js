// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { readFile, readdir } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { test } from 'node:test';
import { fileURLToPath } from 'node:url';

const web = dirname(fileURLToPath(import.meta.url));

test('every write that the server knows is reached from the page', async () => {
  const table = await readFile(join(web, '..', 'server', 'routes', 'routes.def'), 'utf8');
  /** @type {string[]} */
  const files = [];
  for (const folder of ['.', 'shared', 'winter', 'orders', 'cellar'])
    for (const file of await readdir(join(web, folder), { recursive: folder !== '.' }))
      if (/\.jsx?$/.test(file) && !/\ben\.|\.test\./.test(file))
        files.push(await readFile(join(web, folder, file), 'utf8'));
  const writes = [...table.matchAll(/ROUTE\((POST|PUT|PATCH|DELETE), "([^"]+)"/g)].map((m) => `${m[1]} ${m[2]}`);
  assert.ok(writes.length > 40);
  const missing = writes.filter((write) => {
    const words = (write.split(' ')[1] ?? '').split('/').filter((w) => w && !w.startsWith('{'));
    const first = `/api/${words[1]}`;
    const last = words[words.length - 1] ?? '';
    // The last word may be chosen by a variable: then it stands in quotes.
    return !files.some((text) => text.includes(first) && (text.includes(`/${last}`) || text.includes(`'${last}'`)));
  });
  assert.deepEqual(missing, []);
});
