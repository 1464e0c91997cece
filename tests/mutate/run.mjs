// SPDX-License-Identifier: MIT
// Do the tests notice when one thing is wrong? Makes single changes, chosen by chance from a seed, in a copy of the tree, builds
// the module's test programs and runs them: a change is noticed if one of them fails or takes too long. scripts/mutate says how.
import { execFileSync, spawnSync } from 'node:child_process';
import fs from 'node:fs';
import path from 'node:path';
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

const HERE = path.dirname(fileURLToPath(import.meta.url)),
  TOP = path.resolve(HERE, '..', '..');
const how = {
  seed: '1',
  per: 20,
  seconds: 120,
  build: path.join(TOP, 'build-mutate'),
  at: [],
  list: false,
  named: false,
  names: [],
};

const isAsked = () => how.named || how.at.length > 0; /* all of what is asked for, else so many by chance */

function usage(why) {
  console.error(`mutate: ${why}; scripts/mutate says in its first lines how it is called`);
  process.exit(2);
}

function readArguments(args) {
  const number = (s) => (/^[1-9]\d*$/.test(s ?? '') ? Number(s) : usage(`a whole number is needed, not ${s}`));
  while (args.length) {
    const a = args.shift();
    if (a === '--seed') how.seed = String(number(args.shift()));
    else if (a === '--per') how.per = number(args.shift());
    else if (a === '--seconds') how.seconds = number(args.shift());
    else if (a === '--build') how.build = path.resolve(args.shift() ?? usage('--build needs a folder'));
    else if (a === '--at') how.at.push(args.shift() ?? usage('--at needs FILE:LINE'));
    else if (a === '--list') how.list = true;
    else if (a === '--named') how.named = true;
    else if (a.startsWith('-')) usage(`what is ${a}?`);
    else how.names.push(a);
  }
}

function dropOthers(tree, folder, kept) {
  for (const f of fs.readdirSync(path.join(tree, folder), { withFileTypes: true })) {
    const name = path.posix.join(folder, f.name);
    if (f.isDirectory()) dropOthers(tree, name, kept);
    else if (!kept.has(name)) fs.rmSync(path.join(tree, name));
  }
}

// The tree as it lies there, tracked and not yet, without what git ignores; the page is not needed.
function copyTree(tree) {
  const files = execFileSync('git', ['ls-files', '-coz', '--exclude-standard', '--', ':!web'], {
    cwd: TOP,
    maxBuffer: 1 << 26,
  })
    .toString()
    .split('\0')
    .filter((f) => f && fs.existsSync(path.join(TOP, f)));
  const kept = new Set(files);
  for (const f of files) {
    const from = path.join(TOP, f),
      to = path.join(tree, f);
    if (fs.existsSync(to) && fs.readFileSync(from).equals(fs.readFileSync(to))) continue; /* its objects stay good */
    fs.mkdirSync(path.dirname(to), { recursive: true });
    fs.copyFileSync(from, to);
  }
  dropOthers(tree, '', kept);
}

const took = { build: 0, tests: 0 }; /* seconds of all changes, for who makes this quicker */

const target = (test) => test.replace('/', '_');

function run(command, args, seconds, env = {}) {
  return spawnSync(command, args, {
    cwd: how.build,
    timeout: Math.ceil(seconds * 1000),
    killSignal: 'SIGKILL',
    maxBuffer: 1 << 26,
    env: { ...process.env, ...env },
  });
}

function build(tests) {
  return run('ninja', ['-C', path.join(how.build, 'out'), ...tests.map(target)], 1800, {
    CCACHE_BASEDIR: how.build,
    CCACHE_NOHASHDIR: '1',
  });
}

// How long a test program takes as it is: one that computes twenty times as long will not end. What counts is the processor's time,
// for a machine that others use, too, makes everything slow: a minute on the clock may be a second of it. One that waits without end
// has ten minutes.
const usual = new Map();
const patience = (t) => (usual.has(t) ? Math.min(how.seconds, 10 + 20 * usual.get(t)) : 900);
const waited = (t) => (usual.has(t) ? Math.ceil(Math.max(600, 10 * usual.get(t))) : 900);

// Their seeds stand still, else chance would notice; the first check that fails ends the program, and no disk is waited for.
function runTest(t) {
  const begun = process.hrtime.bigint(),
    allowed = Math.ceil(patience(t));
  const limited = ['-c', 'ulimit -t "$1"; exec "$2"', 'limited', `${allowed}`, path.join(how.build, 'out', target(t))];
  const r = run('sh', limited, waited(t), {
    CW_SEED: '1',
    CMOCKA_TEST_ABORT: '1',
    CW_FAULT_MODE: 'statements',
    LD_PRELOAD: path.join(how.build, 'preload.so'),
  });
  const seconds = Number(process.hrtime.bigint() - begun) / 1e9;
  if (r.error?.code === 'ETIMEDOUT') return { by: `${t} (not done in ${waited(t)} s)`, isLate: true, seconds };
  if (r.signal === 'SIGKILL') return { by: `${t} (computed for ${allowed} s)`, isLate: true, seconds };
  return { by: r.status !== 0 ? t : '', seconds, said: `${r.stdout ?? ''}${r.stderr ?? ''}` };
}

const builtAt = (t) => fs.statSync(path.join(how.build, 'out', target(t))).mtimeMs;

// The first test program that fails or takes too long; none if all pass, null if the compiler refuses the change. One is built
// when those before it have passed; what the change is no part of is not made anew, and passes as it did.
function noticedBy(tests) {
  for (const t of tests) {
    const begun = process.hrtime.bigint(),
      before = builtAt(t),
      made = build([t]);
    took.build += Number(process.hrtime.bigint() - begun) / 1e9;
    if (made.status !== 0) return null;
    if (builtAt(t) === before) continue;
    const r = runTest(t);
    took.tests += r.seconds;
    if (r.by) return r;
  }
  return { by: '' };
}

function candidates(module, excluded, named) {
  const all = [];
  let out = 0;
  for (const file of module.files) {
    const text = fs.readFileSync(path.join(TOP, file), 'utf8');
    if (how.named) {
      for (const e of named.filter((x) => x.file === file)) {
        const change = namedChange(e, text);
        if (change) all.push({ ...change, file });
        else console.log(`not there any more, or more than once: ${file}: ${e.line}: ${e.old}`);
      }
      continue;
    }
    for (const change of changesOf(text, file.endsWith('.sql'))) {
      if (how.at.length && !how.at.includes(`${file}:${change.line}`)) continue;
      const isOut = isExcluded(excluded, file, text, change);
      out += isOut;
      all.push({ ...change, file, isOut, passesOn: passesOn(text.split('\n')[change.line - 1]) });
    }
  }
  return { all, out };
}

// Stops each statement in turn: for what passes on how one ended.
const STOPS = 'fault/test_allocation';

const short = (s) =>
  s.replace(/\s+/g, ' ').length > 90 ? `${s.replace(/\s+/g, ' ').slice(0, 87)}...` : s.replace(/\s+/g, ' ');
const say = (c) => `${c.file}:${c.line}: ${c.kind}: ${short(c.old)} -> ${short(c.to)}`;

function tryModule(module, chosen, tree) {
  const score = { noticed: 0, late: 0, unnoticed: [], broken: 0, sql: 0 };
  for (const c of chosen) {
    if (c.passesOn && !usual.has(STOPS)) passesAsItIs({ tests: [STOPS] });
    if (score.noticed + score.unnoticed.length === how.per && !isAsked()) break;
    if (c.isOut) continue; /* after the draw: what becomes excluded leaves the others as they were */
    const file = path.join(tree, c.file),
      text = fs.readFileSync(file, 'utf8');
    try {
      fs.writeFileSync(file, apply(text, c));
      const r = noticedBy(c.passesOn ? [...module.tests, STOPS] : module.tests);
      if (r === null) {
        score.broken++; /* the compiler noticed: no matter for tests, another is drawn */
        continue;
      }
      if (c.file.endsWith('.sql')) score.sql++;
      if (r.by) score.noticed++;
      else score.unnoticed.push(c);
      if (r.isLate) score.late++; /* no check failed: on a busy machine it may have been noticed by nobody */
      console.error(`  ${r.by ? `noticed by ${r.by}` : 'UNNOTICED'}: ${say(c)}`);
    } finally {
      fs.writeFileSync(file, text);
    }
  }
  return score;
}

const byTime = (late) => (late ? `, ${late} of these only by the time they took` : '');

function give(up, output = '') {
  console.error(`${output}`.slice(-4000));
  console.error(`mutate: ${up}`);
  process.exit(1);
}

function prepare(tree) {
  fs.mkdirSync(tree, { recursive: true });
  copyTree(tree);
  const launcher = spawnSync('ccache', ['--version']).status === 0 ? ['-DCMAKE_C_COMPILER_LAUNCHER=ccache'] : [];
  const linker = spawnSync('mold', ['--version']).status === 0 ? ['-DCMAKE_EXE_LINKER_FLAGS=-fuse-ld=mold'] : [];
  const set = run(
    'cmake',
    [
      '-S',
      tree,
      '-B',
      path.join(how.build, 'out'),
      '-G',
      'Ninja',
      '-DCW_TESTS=ON',
      '-DCW_WERROR=OFF',
      '-DCMAKE_C_FLAGS_RELEASE=-O1 -DNDEBUG',
      `-DCMAKE_PROJECT_INCLUDE=${path.join(HERE, 'fast.cmake')}`,
      ...launcher,
      ...linker,
    ],
    600,
  );
  if (set.status !== 0) give('the tree cannot be set up', `${set.stdout}${set.stderr}`);
  execFileSync('cc', [
    '-D_GNU_SOURCE',
    '-shared',
    '-fPIC',
    '-o',
    path.join(how.build, 'preload.so'),
    path.join(HERE, 'preload.c'),
  ]);
}

// The module's tests pass as it is, and how long each takes.
function passesAsItIs(module) {
  const made = build(module.tests);
  if (made.status !== 0) give('the tree does not build as it is', `${made.stdout}${made.stderr}`);
  for (const t of module.tests) {
    if (usual.has(t)) continue;
    const { by, seconds, said } = runTest(t);
    if (by) give(`${by} fails without any change`, said);
    usual.set(t, seconds);
  }
}

function main() {
  readArguments(process.argv.slice(2));
  const all = readPlaces(fs.readFileSync(path.join(HERE, 'places'), 'utf8'));
  const excluded = readListed(fs.readFileSync(path.join(HERE, 'equivalents'), 'utf8'));
  const named = readListed(fs.readFileSync(path.join(HERE, 'named'), 'utf8'));
  for (const n of how.names)
    if (!all.some((m) => m.name === n)) usage(`there is no module ${n}: ${all.map((m) => m.name).join(', ')}`);
  const tree = path.join(how.build, 'tree');
  const modules = all
    .filter((m) => (how.names.length ? how.names.includes(m.name) : true))
    .map((m) => ({ ...m, ...candidates(m, excluded, named) }))
    .filter((m) => !isAsked() || m.all.length);
  if (how.list) {
    for (const m of modules) console.log(`${m.name} ${m.all.length - m.out} changes, ${m.out} excluded`);
    return;
  }
  if (modules.length === 0) usage(`nothing can be changed at ${how.at.join(', ')}`);
  prepare(tree);
  const unnoticed = [];
  let noticed = 0,
    late = 0,
    tried = 0,
    sql = 0;
  for (const m of modules) {
    passesAsItIs(m);
    console.error(`${m.name}: ${m.all.length - m.out} changes, ${m.out} excluded, seed ${how.seed}`);
    const s = tryModule(m, isAsked() ? m.all : shuffle(m.all, chance(how.seed, m.name)), tree);
    const n = s.noticed + s.unnoticed.length;
    console.log(`${m.name} ${s.noticed} of ${n} noticed${byTime(s.late)} (${s.broken} did not build)`);
    late += s.late;
    noticed += s.noticed;
    tried += n;
    sql += s.sql;
    unnoticed.push(...s.unnoticed);
  }
  console.log(
    `all ${noticed} of ${tried} noticed${byTime(late)}, ${tried ? Math.round((100 * noticed) / tried) : 0} %, seed ${how.seed}`,
  );
  console.log(`took ${Math.round(took.build)} s of building and ${Math.round(took.tests)} s of tests`);
  if (sql)
    console.log(`of these in SQL ${sql - unnoticed.filter((c) => c.file.endsWith('.sql')).length} of ${sql} noticed`);
  for (const c of unnoticed) console.log(`unnoticed ${say(c)}`);
}

main();
