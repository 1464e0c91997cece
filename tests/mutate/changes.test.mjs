// SPDX-License-Identifier: MIT
import assert from 'node:assert/strict';
import fs from 'node:fs';
import path from 'node:path';
import test from 'node:test';
import { fileURLToPath } from 'node:url';
import {
  apply,
  changesOf,
  chance,
  isExcluded,
  namedChange,
  passesOn,
  readListed,
  readPlaces,
  shuffle,
} from './changes.mjs';

const TOP = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '..', '..');
const read = (f) => fs.readFileSync(path.join(TOP, f), 'utf8');
const said = (text, sql = false) =>
  changesOf(text, sql).map((c) => `${c.line} ${c.old.replace(/\s+/g, ' ')} -> ${c.to.replace(/\s+/g, ' ')}`);

test('operators, constants and statements of C', () => {
  const text =
    '/* a < b */\n#define N 3\nint f(int a)\n{\n    int b = 2;\n    if (a < b)\n        a += g("1 < 2");\n    char t[24], u[8];\n    p = malloc(n + 1);\n    return code != CW_OK ? code : end;\n    free(p);\n    return a * 1.5;\n}\n';
  assert.deepEqual(said(text), [
    '5 2 -> 3',
    '6 (a < b) -> (!(a < b))',
    '6 < -> <=',
    '7 a += g("1 < 2"); -> ;',
    '7 += -> -=',
    '9 p = malloc(n + 1); -> ;',
    '10 != -> ==',
    '12 * -> /',
    '12 1.5 -> 1.6500000000000001',
  ]);
});

test('what passes on how a statement ended is told from the rest', () => {
  assert.ok(passesOn('    return code != CW_OK ? code : end;'));
  assert.ok(passesOn('    return code == CW_OK ? end : code;'));
  assert.ok(passesOn('    if (code != CW_OK || end != CW_OK || !later)'));
  assert.ok(passesOn('    if (code != CW_OK && err && err->code == CW_OK)'));
  assert.ok(!passesOn('    if (code != CW_OK)'));
});

test('what other tests stand for, or what has no size, is left alone', () => {
  assert.deepEqual(
    said('  if (!a || !b ||\n      !c)\n    return cw_error_memory(err);\n  if (x || y)\n    return z;\n').filter((c) =>
      /^\d+ \|\| /.test(c),
    ),
    ['4 || -> &&'],
  );
  assert.deepEqual(
    said('  return a < b ? -1 : 1;\n').filter((c) => / 1 -> /.test(c)),
    [],
  );
  assert.deepEqual(
    said('  x = (a ? -1 : 1) * y;\n').filter((c) => / 1 -> /.test(c)),
    ['1 1 -> 2', '1 1 -> 2'],
  );
});

test('a statement is dropped whole, and nothing else', () => {
  const text =
    'void f(void)\n{\n    g(1,\n      h());\n    for (int i = 0; i < n; i++)\n        s(i);\n    else\n        k();\n}\n';
  const dropped = changesOf(text, false)
    .filter((c) => c.kind === 'statement')
    .map((c) => apply(text, c));
  assert.equal(dropped.length, 3);
  assert.match(dropped[0], /\{\n    ;\n    for/);
  assert.match(dropped[1], /i\+\+\)\n        ;\n    else/);
  assert.match(dropped[2], /else\n        ;\n\}/);
});

test('terms of SQL always hold, with their parameters', () => {
  const sql =
    "-- name: a\nSELECT 1 FROM t JOIN u ON u.id = t.u WHERE t.day BETWEEN ?1 AND ?2 AND t.name = 'x AND y'\nAND EXISTS (SELECT 1 FROM v WHERE v.t = t.id) ORDER BY 2;\n";
  const terms = changesOf(sql, true)
    .filter((c) => c.kind === 'term')
    .map((c) => c.old);
  assert.deepEqual(terms, [
    'u.id = t.u',
    't.day BETWEEN ?1 AND ?2',
    "t.name = 'x AND y'",
    'EXISTS (SELECT 1 FROM v WHERE v.t = t.id)',
    'v.t = t.id',
  ]);
  assert.ok(changesOf(sql, true).every((c) => c.kind !== 'term' || c.to === `(${c.old} OR 1)`));
});

test('every change of every place stands where it says', () => {
  for (const m of readPlaces(read('tests/mutate/places'))) {
    for (const t of m.tests) assert.ok(fs.existsSync(path.join(TOP, 'tests', `${t}.c`)), `${m.name}: no test ${t}`);
    for (const f of m.files) {
      const text = read(f),
        all = changesOf(text, f.endsWith('.sql'));
      assert.ok(all.length > 0, `${f}: nothing to change`);
      for (const c of all) {
        assert.equal(text.slice(c.at, c.at + c.old.length), c.old);
        assert.notEqual(apply(text, c), text);
      }
    }
  }
});

test('what is excluded stands in the source, with a reason', () => {
  for (const e of readListed(read('tests/mutate/equivalents'))) {
    const text = read(e.file),
      all = changesOf(text, e.file.endsWith('.sql'));
    assert.ok(
      all.some((c) => isExcluded([e], e.file, text, c)),
      `${e.file}: ${e.line}: ${e.old} -> ${e.to} is not there any more`,
    );
    assert.ok(e.why.length > 10);
  }
});

test('what is excluded may be one of two like it in a line', () => {
  const text = '  return at < 0 ? 0 : at;\n',
    two = changesOf(text, false).filter((c) => c.old === '0'),
    excluded = (change) =>
      two.map((c) => isExcluded(readListed(`a.c\nline: ${text.trim()}\nchange: ${change}\nwhy: so\n`), 'a.c', text, c));
  assert.deepEqual(excluded('0 -> 1'), [true, true]);
  assert.deepEqual(excluded('at < 0 -> at < 1'), [true, false]);
  assert.deepEqual(excluded('? 0 -> ? 1'), [false, true]);
});

test('a named change is made where it stands, once', () => {
  const e = readListed('a.c\nline: if (a && b)\nchange: a &&  -> \nwhy: b alone\n')[0];
  const made = (text) => {
    const c = namedChange(e, text);
    return c && `${c.line} ${apply(text, c)}`;
  };
  assert.equal(made('int x;\n  if (a && b)\n'), '2 int x;\n  if (b)\n');
  assert.equal(made('if (a && b)\nif (a && b)\n'), null);
  assert.equal(made('if (a || b)\n'), null);
  for (const n of readListed(read('tests/mutate/named'))) assert.ok(fs.existsSync(path.join(TOP, n.file)), n.file);
});

test('a seed and a name choose the same again', () => {
  const pick = (seed, name) => shuffle([...Array(50).keys()], chance(seed, name)).join(' ');
  assert.equal(pick('1', 'money'), pick('1', 'money'));
  assert.notEqual(pick('1', 'money'), pick('2', 'money'));
  assert.notEqual(pick('1', 'money'), pick('1', 'ledger'));
});
