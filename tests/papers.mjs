// SPDX-License-Identifier: MIT
// What the papers say must be there: the tests that server/SECURITY.md names, the files that READMEs link to, a licence for each
// data file that came from outside, every library in the package's copyright file. And sentences say "1 division". Quick.

import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { existsSync, readFileSync, readdirSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { test } from 'node:test';
import { fileURLToPath } from 'node:url';

const root = join(dirname(fileURLToPath(import.meta.url)), '..');
const read = (/** @type {string} */ file) => readFileSync(join(root, file), 'utf8');

/** Where a named test should be, and the function in it: `test_x: some words` is some_words or test_some_words in its file. */
function named(/** @type {string} */ text) {
  return [
    ...text.matchAll(/tests\/browser\/([a-z]+)|(?:tests\/([a-z]+)\/)?(test_[a-z0-9_]+)(?:: ([^,;.:()|]+))?/g),
  ].map(([all, browser, folder = 'http', file, words]) => ({
    all,
    file: browser ? `tests/browser/${browser}.test.mjs` : `tests/${folder}/${file}.c`,
    words: words?.trim().replace(/[’']/g, '').replace(/[ -]+/g, '_'),
  }));
}

/** Does the file of that name hold a function of these words, or one that begins as they do? @param {{file: string, words?: string}} what */
function stands({ file, words }) {
  if (!existsSync(join(root, file))) return false;
  if (!words) return true;
  const functions = [...read(file).matchAll(/cmocka_unit_test\w*\(\s*(?:test_)?(\w+)/g)].map((m) => m[1] ?? '');
  return functions.some((name) => name === words || name.startsWith(`${words}_`) || words.startsWith(`${name}_`));
}

const rows = read('server/SECURITY.md')
  .split('\n')
  .filter((line) => /^\| \d+\.\d+/.test(line))
  .map((line) => line.split(/(?<!\\)\|/).map((cell) => cell.trim()))
  .map(([, number = '', , state = '', why = '']) => ({ number, state, why }));

test('every requirement has one of three states', () => {
  assert.ok(rows.length > 120, `${rows.length} rows`);
  assert.deepEqual(
    rows.filter((row) => !/^(met|n\/a|open)/.test(row.state)),
    [],
  );
});

test('each source that a row names is there', () => {
  const sources = rows.flatMap((row) =>
    [...row.why.matchAll(/`([\w/-]+\.(?:c|h|def|jsx?|sql|sh))`/g)].map((m) => m[1] ?? ''),
  );
  assert.ok(sources.length > 30, `${sources.length} sources`);
  assert.deepEqual(
    sources.filter((file) => !existsSync(join(root, file)) && !existsSync(join(root, 'server', file))),
    [],
  );
});

test('what is met names a test, or says that it was read', () => {
  const bare = rows.filter(
    (row) =>
      row.state.startsWith('met') &&
      named(row.why).length === 0 &&
      !/by reading|\bas \d+\.\d+\.\d+|tests\/|test local_cert/i.test(row.why),
  );
  assert.deepEqual(
    bare.map((row) => row.number),
    [],
  );
});

test('each test that is named is there', () => {
  const gone = rows.flatMap((row) =>
    named(row.why)
      .filter((what) => !stands(what))
      .map((what) => `${row.number}: ${what.all}`),
  );
  assert.deepEqual(gone, []);
});

test('the same of the tests that the table of trouble names', () => {
  const gone = named(read('server/README.md'))
    .map(({ all, file }) => ({ all, file }))
    .filter((what) => !stands(what) && !stands({ file: what.file.replace('/http/', '/fault/') }));
  assert.deepEqual(
    gone.map((what) => what.all),
    [],
  );
});

const papers = [
  'README.md',
  'DEVELOPERS.md',
  'server/README.md',
  'server/SECURITY.md',
  'tests/README.md',
  'scripts/README.md',
  'sql/README.md',
  'web/README.md',
  ...['base', 'desk', 'model', 'store'].map((f) => `core/${f}/README.md`),
];

test('what a README links to is there', () => {
  const broken = papers.flatMap((paper) =>
    [...read(paper).matchAll(/\]\((?!https?:)([^)#]+)[^)]*\)/g)]
      .map((m) => m[1] ?? '')
      .filter((to) => !existsSync(join(root, dirname(paper), to)))
      .map((to) => `${paper}: ${to}`),
  );
  assert.deepEqual(broken, []);
});

/** Every file of the project, from its top. */
const files = ['core', 'server', 'sql', 'tests', 'web', 'scripts'].flatMap((folder) =>
  readdirSync(join(root, folder), { recursive: true, encoding: 'utf8' })
    .map((file) => `${folder}/${file}`)
    .filter((file) => !/(^|\/)(node_modules|dist)\//.test(file)),
);

test('what a paper names by its path or by its name in the code is there', () => {
  const made = read('CMakeLists.txt') + read('tests/CMakeLists.txt'); // libraries, and tests that are no file
  const code =
    made +
    files
      .filter((file) => /\.([ch]|def)$/.test(file))
      .map(read)
      .join('\n');
  const bare = files.map((file) => `/${file}`.replace(/(\.test)?\.[a-z]+$/, ''));
  const there = (/** @type {string} */ name) =>
    /^(cw|CW)_/.test(name)
      ? new RegExp(`\\b${name.replace(/\W.*/, '')}\\b`).test(code)
      : made.includes(name) ||
        files.some(
          (file) => `/${file}`.endsWith(`/${name}`) || file.includes(name.endsWith('/') ? name : `${name}/`),
        ) ||
        bare.some((file) => file.endsWith(`/${name}`));
  const gone = papers.flatMap((paper) =>
    [
      ...read(paper).matchAll(
        /`(cw_\w+(?:\([^`]*)?|CW_\w+(?:\([^`]*)?|[\w.-]+(?:\/[\w.-]+)+\/?|\w+\.(?:[ch]|def|sql|jsx?|mjs|sh))`/g,
      ),
    ]
      .map((m) => m[1] ?? '')
      .filter((name) => !/NNNN|NAME|^(application|build|dist|FOLDER)\//.test(name) && !there(name))
      .map((name) => `${paper}: ${name}`),
  );
  assert.deepEqual(gone, []);
});

test('data from outside stand in the README beside them, which tells their licence', () => {
  for (const folder of ['tests/published/data', 'tests/published/data/flow', 'tests/published/lme4']) {
    const readme = read(`${folder}/README.md`);
    assert.match(readme, /licen[cs]e|\bterms\b/i, folder);
    for (const file of readdirSync(join(root, folder)))
      if (/\.(csv|gz|dimacs)$/.test(file))
        assert.ok(readme.includes(file.replace(/\.dimacs\.gz$/, '')), `${folder}/README.md does not name ${file}`);
  }
});

test('the package’s copyright file names each library that is linked and each package in the page', () => {
  const copyright = read('scripts/package/copyright');
  const linked = [
    ...read('CMakeLists.txt').matchAll(
      /pkg_check_modules\(\w+ REQUIRED IMPORTED_TARGET ([a-z0-9]+)|find_library\(\w+ (\w+)/g,
    ),
  ].map((m) => m[1] ?? m[2] ?? '');
  const bundled = Object.keys(JSON.parse(read('web/package.json')).dependencies);
  assert.ok(linked.length >= 9 && bundled.length >= 1);
  assert.deepEqual(
    [...linked, ...bundled].filter((name) => !copyright.toLowerCase().includes(name.toLowerCase())),
    [],
  );
  const ours = /Permission is hereby[\s\S]*?SOFTWARE\.$/m;
  const plain = (/** @type {string} */ text) => ours.exec(text.replace(/^ \.$/gm, ''))?.[0].replace(/\s+/g, ' ');
  assert.equal(plain(copyright), plain(read('README.md')));
});

test('who reads the README finds what is kept of people, and whose word counts on plant health', () => {
  assert.match(read('README.md'), /kept of buyers[^[]*\[server\/SECURITY\.md\]\(server\/SECURITY\.md\)/);
  assert.match(read('server/SECURITY.md'), /^## What is kept of people, why, how long$/m);
  const strings = readdirSync(join(root, 'web/shared/strings')).filter((file) => /^en\..*\.js$/.test(file));
  const said = strings.flatMap((file) => read(`web/shared/strings/${file}`).split('\n'));
  for (const told of [read('README.md').replace(/\n/g, ' '), ...said.filter((line) => /allow, warn/.test(line))])
    assert.match(told, /allow, warn[^']*the plant-health authority decides/);
  assert.ok(said.some((line) => /allow, warn/.test(line)));
});

test('what a test is held against can be looked up, or is said to be from memory', () => {
  const thin = readdirSync(join(root, 'tests/published'))
    .filter((file) => file.endsWith('.c'))
    .filter((file) =>
      /\b(an? (encyclop\w+|textbook|lecture|website|blog)\b|course notes)/i.test(read(`tests/published/${file}`)),
    );
  assert.deepEqual(thin, []);
});

test('a sentence does not say “1 divisions”: the word beside a number goes by the number', () => {
  const files = ['core/desk', 'server']
    .flatMap((folder) =>
      readdirSync(join(root, folder), { recursive: true, encoding: 'utf8' }).map((file) => `${folder}/${file}`),
    )
    .filter((file) => file.endsWith('.c'));
  assert.ok(files.length > 100);
  const stiff = [];
  for (const file of files)
    for (const hit of read(file).matchAll(
      /(cw_\w+|snprintf|piece)\(([^;]*?)%(?:lld|zu) (?:divisions|clumps|lines|orders|varieties|parcels)\b/g,
    ))
      if (!/^cw_(error|row)_\w+$/.test(hit[1] ?? '') && !/cw_error_\w+\(|cw_row_wrong\(/.test(hit[2] ?? ''))
        stiff.push(`${file}: ${hit[0].slice(-60)}`);
  assert.deepEqual(stiff, []);
});

/** All C headers of a folder, at any depth. @param {string} folder @returns {string[]} */
const headers = (folder) =>
  readdirSync(join(root, folder), { recursive: true })
    .map((file) => `${folder}/${file}`)
    .filter((file) => file.endsWith('.h'));

/** The first comment after the licence line. @param {string} file */
const opening = (file) =>
  [...read(file).matchAll(/\/\*([^]*?)\*\//g)].map((m) => m[1] ?? '').find((text) => !text.includes('SPDX')) ?? '';

test('a header of model, store and desk opens with the question it answers', () => {
  const silent = ['core/model', 'core/store', 'core/desk']
    .flatMap(headers)
    .filter((file) => !file.endsWith('_inside.h') && !opening(file).includes('?'));
  assert.deepEqual(silent, []);
});

test('a private header ends in _inside.h', () => {
  const odd = ['core', 'server'].flatMap(headers).filter((file) => /(inner|_int|private|\/inside)\.h$/.test(file));
  assert.deepEqual(odd, []);
});

test('a header that nothing but the sources beside it includes is private, and says so by its name', () => {
  const sources = ['core', 'server', 'tests'].flatMap((folder) =>
    readdirSync(join(root, folder), { recursive: true, encoding: 'utf8' })
      .filter((file) => /\.[ch]$/.test(file))
      .map((file) => `${folder}/${file}`),
  );
  const users = new Map();
  for (const file of sources)
    for (const [, name = ''] of read(file).matchAll(/#include "([^"]+)"/g))
      users.set(name, [...(users.get(name) ?? []), file]);
  const open = ['core', 'server']
    .flatMap(headers)
    .filter((file) => !file.endsWith('_inside.h'))
    .filter((file) =>
      (users.get(file.slice(file.indexOf('/') + 1)) ?? [])
        .filter((/** @type {string} */ user) => user !== file.replace(/h$/, 'c'))
        .every((/** @type {string} */ user) => user.endsWith('.c') && dirname(user) === dirname(file)),
    );
  assert.deepEqual(open, []);
});

test('a public header of a desk includes base and other public headers only', () => {
  const inner = headers('core/desk')
    .filter((file) => !file.endsWith('_inside.h'))
    .flatMap((file) => [...read(file).matchAll(/#include "([^"]+)"/g)].map((m) => `${file}: ${m[1]}`))
    .filter((line) => !/: (base|desk)\//.test(line) || /_inside\.h$/.test(line));
  assert.deepEqual(inner, []);
});

test('store/README.md names who includes db_inside.h', () => {
  const users = readdirSync(join(root, 'core/store')).filter(
    (file) => file.endsWith('.c') && read(`core/store/${file}`).includes('"store/db_inside.h"'),
  );
  const named = /`db_inside\.h` is for ([^]*?) alone/.exec(read('core/store/README.md'))?.[1] ?? '';
  assert.deepEqual([...named.matchAll(/\w+\.c/g)].map((m) => m[0]).sort(), users.sort());
});

test('a column of a statement is read by its name', () => {
  // An int in its place does not build (statement_inside.h). What is the same for every statement counts through a row's columns.
  const counted = ['core/store', 'core/desk/intake', 'tests/support', 'tests/desk', 'tests/http', 'tests/fault']
    .flatMap((folder) => readdirSync(join(root, folder)).map((name) => `${folder}/${name}`))
    .filter((file) => /\.[ch]$/.test(file) && !/store\/(statement|statement_inside)\.[ch]$/.test(file))
    .flatMap((file) =>
      [...read(file).matchAll(/cw_col_nth\(\w+, [1-9]\d*\)|\(cw_sql_column\)\s*\{/g)].map((m) => `${file}: ${m[0]}`),
    );
  assert.deepEqual(counted, []);
});

/** The code of a USAGE comment, without layout. @param {string} file */
const usage = (file) =>
  (/USAGE \(([\w/]+\.c)[^)]*\):\n([^]*?)(?:\n \*\n \* [A-Z]|\*\/)/.exec(read(file)) ?? ['', '', '']).slice(1);
const bare = (/** @type {string} */ code) => code.replace(/^ \* ?/gm, '').replace(/\s+/g, '');

test('the example in route.h is the handler that it names', () => {
  const [from = '', code = ''] = usage('server/http/route.h');
  const family = bare(read(`server/${from}`));
  const handler = bare(/static cw_code route_[^]*?\n \* {5}}\n/.exec(code)?.[0] ?? '');
  const row = bare(/CW_ROUTE\(.*\),/.exec(code)?.[0] ?? '');
  assert.ok(handler.length > 100 && row.length > 40);
  assert.ok(family.includes(handler) && family.includes(row));
});

test('the example in cli.h knows no name that the verb does not', () => {
  const [from = '', code = ''] = usage('server/cli/cli.h');
  const verb = read(from);
  const names = [...new Set([...code.matchAll(/\b(?:cw|CW)_\w+/g)].map((m) => m[0]))];
  assert.ok(names.length > 5);
  assert.deepEqual(
    names.filter((name) => !verb.includes(name)),
    [],
  );
});

test(
  'the top level holds what it is to hold, and nothing that a tool left behind',
  { skip: !existsSync(join(root, '.git')) },
  () => {
    const kept = execFileSync('git', ['ls-files'], { cwd: root, encoding: 'utf8' }).trim().split('\n');
    const top = [...new Set(kept.map((file) => file.split('/')[0] ?? ''))].filter((name) => !name.startsWith('.'));
    assert.deepEqual(top.sort(), [
      'CMakeLists.txt',
      'DEVELOPERS.md',
      'README.md',
      'core',
      'scripts',
      'server',
      'sql',
      'tests',
      'web',
    ]);
  },
);
