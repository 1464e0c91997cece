// SPDX-License-Identifier: MIT
// Do the tests notice when one thing is wrong? Makes single changes, chosen by chance from a seed, in a copy of the tree, builds
// the module's test programs and runs them: a change is noticed if one of them fails or takes too long. scripts/mutate says how.
import { execFileSync, spawnSync } from 'node:child_process';
import fs from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { apply, changesOf, chance, isExcluded, readEquivalents, readPlaces, shuffle } from './changes.mjs';

const HERE = path.dirname(fileURLToPath(import.meta.url)), TOP = path.resolve(HERE, '..', '..');
const how = { seed: '1', per: 20, seconds: 120, build: path.join(TOP, 'build-mutate'), at: '', list: false, names: [] };

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
    else if (a === '--at') how.at = args.shift() ?? usage('--at needs FILE:LINE');
    else if (a === '--list') how.list = true;
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
  const files = execFileSync('git', ['ls-files', '-coz', '--exclude-standard', '--', ':!web'], { cwd: TOP, maxBuffer: 1 << 26 }).toString()
    .split('\0').filter((f) => f && fs.existsSync(path.join(TOP, f)));
  const kept = new Set(files);
  for (const f of files) {
    const from = path.join(TOP, f), to = path.join(tree, f);
    if (fs.existsSync(to) && fs.readFileSync(from).equals(fs.readFileSync(to))) continue; /* its objects stay good */
    fs.mkdirSync(path.dirname(to), { recursive: true });
    fs.copyFileSync(from, to);
  }
  dropOthers(tree, '', kept);
}

const target = (test) => test.replace('/', '_');

function run(command, args, seconds, env = {}) {
  return spawnSync(command, args, { cwd: how.build, timeout: seconds * 1000, killSignal: 'SIGKILL', maxBuffer: 1 << 26, env: { ...process.env, ...env } });
}

function build(tests) {
  return run('ninja', ['-C', path.join(how.build, 'out'), ...tests.map(target)], 1800, { CCACHE_BASEDIR: how.build, CCACHE_NOHASHDIR: '1' });
}

// The first test program that fails or takes too long; '' if none does. Their seeds stand still, else chance would notice.
function noticedBy(tests) {
  for (const t of tests) {
    const r = run(path.join(how.build, 'out', target(t)), [], how.seconds, { CW_SEED: '1' });
    if (r.error?.code === 'ETIMEDOUT') return `${t} (not done in ${how.seconds} s)`;
    if (r.status !== 0) return t;
  }
  return '';
}

function candidates(module, excluded) {
  const all = [];
  let out = 0;
  for (const file of module.files) {
    const text = fs.readFileSync(path.join(TOP, file), 'utf8');
    for (const change of changesOf(text, file.endsWith('.sql'))) {
      if (how.at && how.at !== `${file}:${change.line}`) continue;
      if (isExcluded(excluded, file, text, change)) out++;
      else all.push({ ...change, file });
    }
  }
  return { all, out };
}

const short = (s) => (s.replace(/\s+/g, ' ').length > 90 ? `${s.replace(/\s+/g, ' ').slice(0, 87)}...` : s.replace(/\s+/g, ' '));
const say = (c) => `${c.file}:${c.line}: ${c.kind}: ${short(c.old)} -> ${short(c.to)}`;

function tryModule(module, chosen, tree) {
  const score = { noticed: 0, unnoticed: [], broken: 0 };
  for (const c of chosen) {
    if (score.noticed + score.unnoticed.length === how.per && !how.at) break;
    const file = path.join(tree, c.file), text = fs.readFileSync(file, 'utf8');
    try {
      fs.writeFileSync(file, apply(text, c));
      if (build(module.tests).status !== 0) {
        score.broken++; /* the compiler noticed: no matter for tests, another is drawn */
        continue;
      }
      const by = noticedBy(module.tests);
      if (by) score.noticed++;
      else score.unnoticed.push(c);
      console.error(`  ${by ? `noticed by ${by}` : 'UNNOTICED'}: ${say(c)}`);
    } finally {
      fs.writeFileSync(file, text);
    }
  }
  return score;
}

function prepare(tree, modules) {
  fs.mkdirSync(tree, { recursive: true });
  copyTree(tree);
  const launcher = spawnSync('ccache', ['--version']).status === 0 ? ['-DCMAKE_C_COMPILER_LAUNCHER=ccache'] : [];
  const set = run('cmake', ['-S', tree, '-B', path.join(how.build, 'out'), '-G', 'Ninja', '-DCW_TESTS=ON', '-DCW_WERROR=OFF',
    '-DCMAKE_C_FLAGS_RELEASE=-O1 -DNDEBUG', ...launcher], 600);
  const made = set.status === 0 ? build(modules.flatMap((m) => m.tests)) : set;
  if (made.status !== 0) {
    console.error(`${made.stdout}${made.stderr}`.slice(-4000));
    console.error('mutate: the tree does not build as it is');
    process.exit(1);
  }
  for (const m of modules) {
    const by = noticedBy(m.tests);
    if (!by) continue;
    console.error(`mutate: ${m.name}: ${by} fails without any change`);
    process.exit(1);
  }
}

function main() {
  readArguments(process.argv.slice(2));
  const all = readPlaces(fs.readFileSync(path.join(HERE, 'places'), 'utf8'));
  const excluded = readEquivalents(fs.readFileSync(path.join(HERE, 'equivalents'), 'utf8'));
  for (const n of how.names) if (!all.some((m) => m.name === n)) usage(`there is no module ${n}: ${all.map((m) => m.name).join(', ')}`);
  const tree = path.join(how.build, 'tree');
  const modules = all.filter((m) => (how.names.length ? how.names.includes(m.name) : true))
    .map((m) => ({ ...m, ...candidates(m, excluded) })).filter((m) => !how.at || m.all.length);
  if (how.list) {
    for (const m of modules) console.log(`${m.name} ${m.all.length} changes, ${m.out} excluded`);
    return;
  }
  if (modules.length === 0) usage(`nothing can be changed at ${how.at}`);
  prepare(tree, modules);
  const unnoticed = [];
  let noticed = 0, tried = 0;
  for (const m of modules) {
    console.error(`${m.name}: ${m.all.length} changes, ${m.out} excluded, seed ${how.seed}`);
    const s = tryModule(m, how.at ? m.all : shuffle(m.all, chance(how.seed, m.name)), tree);
    const n = s.noticed + s.unnoticed.length;
    console.log(`${m.name} ${s.noticed} of ${n} noticed (${s.broken} did not build)`);
    noticed += s.noticed;
    tried += n;
    unnoticed.push(...s.unnoticed);
  }
  console.log(`all ${noticed} of ${tried} noticed, ${tried ? Math.round((100 * noticed) / tried) : 0} %, seed ${how.seed}`);
  for (const c of unnoticed) console.log(`unnoticed ${say(c)}`);
}

main();
