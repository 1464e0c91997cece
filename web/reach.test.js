// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import { readFile, readdir } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { test } from 'node:test';
import { fileURLToPath } from 'node:url';

const web = dirname(fileURLToPath(import.meta.url));
const server = join(web, '..', 'server');

/** The files of `server/<folder>` that end with a table of routes or verbs. @param {string} folder */
async function families(folder) {
  const all = [];
  for (const file of (await readdir(join(server, folder))).filter((name) => name.endsWith('.c'))) {
    const text = await readFile(join(server, folder, file), 'utf8');
    const table = /^const cw_(?:route|verb) cw_(?:routes|verbs)_(\w+)\[\] = \{$/m.exec(text)?.[1];
    if (table) all.push({ file, table, text });
  }
  return all;
}

test('every family of routes, and of verbs, stands in the list', async () => {
  for (const [folder, list] of [
    ['routes', 'http/route.c'],
    ['cli', 'cli/verbs.c'],
  ]) {
    const text = await readFile(join(server, list ?? ''), 'utf8');
    const listed = [...text.matchAll(/\bF\((\w+)\)(?! [&#a-z])/g)].map((m) => m[1]);
    const found = await families(folder ?? '');
    assert.ok(found.length > 20);
    for (const { file, table } of found) {
      assert.equal(file, `${table}.c`);
      assert.ok(listed.includes(table), `server/${list} does not list ${table}`);
    }
  }
});

test('every write that the server knows is reached from the page', async () => {
  const table = (await families('routes')).map((family) => family.text).join('');
  /** @type {string[]} */
  const files = [];
  for (const folder of ['.', 'shared', 'winter', 'orders', 'cellar'])
    for (const file of await readdir(join(web, folder), { recursive: folder !== '.' }))
      if (/\.jsx?$/.test(file) && !/\ben\.|\.test\./.test(file))
        files.push(await readFile(join(web, folder, file), 'utf8'));
  const writes = [...table.matchAll(/CW_ROUTE\((POST|PUT|PATCH|DELETE), "([^"]+)"/g)].map((m) => `${m[1]} ${m[2]}`);
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
