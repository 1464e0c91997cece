// SPDX-License-Identifier: MIT
// Which single changes can be made to a source, each of them a fault that somebody could have written? Pure: text in, changes
// out, in the order in which they stand there. A change is { at, old, to, line, kind }: `old` at offset `at` becomes `to`.
const SWAPS = {
  '<': '<=',
  '<=': '<',
  '>': '>=',
  '>=': '>',
  '==': '!=',
  '!=': '==',
  '&&': '||',
  '||': '&&',
  '+': '-',
  '-': '+',
  '*': '/',
  '/': '*',
  '+=': '-=',
  '-=': '+=',
  '++': '--',
  '--': '++',
};
const SQL_SWAPS = {
  '=': '<>',
  '<>': '=',
  '<': '<=',
  '<=': '<',
  '>': '>=',
  '>=': '>',
  '+': '-',
  '-': '+',
  MIN: 'MAX',
  MAX: 'MIN',
};

// The same text with what is no code (comments, what stands in quotes, lines for the preprocessor) blanked, so that offsets stay.
export function blank(text, isSql) {
  const pattern = isSql
    ? /--[^\n]*|'(?:[^']|'')*'/g
    : /\/\*[\s\S]*?\*\/|\/\/[^\n]*|"(?:[^"\\\n]|\\.)*"|'(?:[^'\\\n]|\\.)+'|^[ \t]*#(?:[^\n]*\\\n)*[^\n]*/gm;
  return text.replace(pattern, (s) =>
    /^['"]/.test(s) ? s[0] + ' '.repeat(s.length - 2) + s[0] : s.replace(/[^\n]/g, ' '),
  );
}

function lineOf(text, at) {
  let n = 1;
  for (let i = text.indexOf('\n'); i >= 0 && i < at; i = text.indexOf('\n', i + 1)) n++;
  return n;
}

const within = (code, pattern) => {
  const found = [...code.matchAll(pattern)];
  return (at) => found.some((m) => at > m.index && at < m.index + m[0].length);
};

// Which of several pieces of memory is lacking: fault/test_allocation refuses each of them in turn, no module's tests do.
const ofMemory = (code) => within(code, /\bif \([^;{}]*\)\s*return cw_error_memory\(/g);

// What a comparison of two items answers: an order has a sign and no size.
const ofOrder = (code) => within(code, /\breturn [^;]*\? (?:-1 : 1|1 : -1);/g);

// Binary operators have blanks around them (scripts/format), pointers and signs have not. How many members an array has
// (sizeof a / sizeof a[0]), and how much memory is asked for, is left alone: what reads beyond it is for the sanitizers to notice.

function operators(code, swaps, kind) {
  const found = [],
    isOfMemory = ofMemory(code);
  for (const m of code.matchAll(/(?<=\s)(<=|>=|==|!=|<>|&&|\|\||\+=|-=|[-+*/<>=])(?=\s)|\b(?:MIN|MAX)(?=\()/g))
    if (
      swaps[m[0]] &&
      !(/^(?:\|\||&&)$/.test(m[0]) && isOfMemory(m.index)) &&
      !/\b[cm]alloc\(/.test(lineBefore(code, m.index)) &&
      !/\bsizeof [\w.>-]+ $/.test(lineBefore(code, m.index))
    )
      found.push({ at: m.index, old: m[0], to: swaps[m[0]], kind });
  return found;
}

// Not those of a loop's head: it would run for ever, which is noticed, but only when the time is over.
function steps(code) {
  return [...code.matchAll(/\+\+|--/g)]
    .filter((m) => !/\bfor \(/.test(lineBefore(code, m.index)))
    .map((m) => ({ at: m.index, old: m[0], to: SWAPS[m[0]], kind: 'operator' }));
}

// How a statement ended, or what was wrong before, is passed on. Lost, it shows only where a statement fails: the module's tests have a
// whole file, so one that stops each statement in turn is asked, too (run.mjs).
export const passesOn = (line) =>
  /\bcode (?:!= CW_OK (?:\? code : end|\|\| end != CW_OK|&& err && err->code == CW_OK)|== CW_OK \? end : code)/.test(
    line,
  );

function lineBefore(code, at) {
  return code.slice(code.lastIndexOf('\n', at - 1) + 1, at);
}

// Whole numbers by one, reals by a tenth; not sizes in declarations and of what is taken from memory, which are room and
// no more, nor the 1 of EXISTS (SELECT 1, nor the decimals of a column that has none.
function constants(code, text) {
  const found = [],
    isOfOrder = ofOrder(code);
  for (const m of code.matchAll(/(?<![\w.?"])\d+(?:\.\d+)?(?:e-?\d+)?(?![\w.])/g)) {
    const before = lineBefore(code, m.index);
    if (
      /\b(?!return\b)[A-Za-z_]\w* \**\w+\[$/.test(before) ||
      /^\s*(?:char|double|u?int\w*|size_t|cw_\w+) [^=()]*\w\[$/.test(before) ||
      /\b[cm]alloc\(/.test(before) ||
      /sizeof [\w.>-]+\[$/.test(before) ||
      /\bSELECT $/.test(before) ||
      (m[0] === '1' && isOfOrder(m.index)) ||
      /"\w+", (?:CW_(?!REAL)[A-Z]+_T|[A-QS-Z]), $/.test(text.slice(m.index - before.length, m.index))
    )
      continue;
    const to = /^\d+$/.test(m[0]) ? String(Number(m[0]) + 1) : Number(m[0]) === 0 ? '0.1' : String(Number(m[0]) * 1.1);
    found.push({ at: m.index, old: m[0], to, kind: 'constant' });
  }
  return found;
}

// Every condition of an if, the other way round.
function conditions(code) {
  return [...code.matchAll(/\bif \(/g)].map((m) => {
    const open = m.index + m[0].length - 1,
      end = closing(code, open) + 1;
    return { at: open, old: null, end, to: null, kind: 'condition' };
  });
}

const NOT_STATEMENTS =
  /^(?:return|if|for|while|do|else|switch|case|default|break|continue|goto|static|const|struct|enum|union|typedef|extern|unsigned|_Static_assert|assert|free|pthread_mutex_lock|sqlite3_free|json_decref|cw_\w+_free|code = cw_error_memory)\b/;
const DECLARATION = /^[A-Za-z_]\w*\s+\**\s*[A-Za-z_]\w*\s*(?:[=,;[]|$)/;

// Statements that end in their own `;`, at any depth within a function; what declares something cannot go, what only frees and what
// only locks is for the sanitizers to notice (scripts/tsan), what only a lack of memory reaches for tests/fault.
function statements(code) {
  const found = [];
  let parens = 0,
    braces = 0,
    start = -1;
  for (let i = 0; i < code.length; i++) {
    const c = code[i];
    if (c === '(' || c === '[') parens++;
    if (c === ')' || c === ']') parens--;
    if (parens > 0) continue;
    if (c === '{') braces++;
    if (c === '}') braces--;
    if (c === ';' && start >= 0 && braces > 0) {
      let text = code.slice(start, i + 1),
        at = start;
      const head = /^(?:if|while|for) \(/.exec(text)
        ? closing(code, code.indexOf('(', start)) + 1
        : /^else\b/.test(text)
          ? start + 4
          : start;
      if (head > start) {
        at = head + /^\s*/.exec(code.slice(head))[0].length;
        text = code.slice(at, i + 1);
      }
      if (
        text.length > 1 &&
        !NOT_STATEMENTS.test(text) &&
        !DECLARATION.test(text) &&
        !/^[.&{]/.test(text) &&
        !/[{}]/.test(text.replace(/\{[^{};]*\}/g, ''))
      )
        found.push({ at, old: null, end: i + 1, to: ';', kind: 'statement' });
    }
    if (c === ';' || c === '{' || c === '}') start = -1;
    else if (start < 0 && /\S/.test(c)) start = i;
  }
  return found;
}

function closing(code, open) {
  let depth = 0;
  for (let i = open; i < code.length; i++) {
    if (code[i] === '(') depth++;
    if (code[i] === ')' && --depth === 0) return i;
  }
  return code.length;
}

// Terms of each WHERE, ON and HAVING: a term that always holds. Its parameters stay, so that the statement can be bound.
function terms(code) {
  const found = [];
  for (const m of code.matchAll(/\b(?:WHERE|HAVING|ON)\b(?!\s+CONFLICT)\s+/g)) {
    let depth = 0,
      start = m.index + m[0].length,
      i = start,
      between = false,
      cases = 0;
    const close = (end) => {
      const text = code.slice(start, end).trimEnd();
      if (text) found.push({ at: start, old: null, end: start + text.length, to: `(${text} OR 1)`, kind: 'term' });
    };
    for (; i < code.length; i++) {
      if (code[i] === '(') depth++;
      if (code[i] === ')' && depth-- === 0) break;
      if (depth > 0 || !/\b/.test(code.slice(i - 1, i + 1)) || /\w/.test(code[i - 1])) continue;
      const word =
        /^(?:GROUP|ORDER|LIMIT|UNION|HAVING|WHERE|RETURNING|LEFT|JOIN|WINDOW|ON|AND|BETWEEN|CASE|END)\b/.exec(
          code.slice(i, i + 10),
        );
      if (word?.[0] === 'CASE') cases++;
      else if (word?.[0] === 'END') cases--;
      else if (cases > 0) continue;
      else if (word?.[0] === 'BETWEEN') between = true;
      else if (word?.[0] === 'AND' && between) between = false;
      else if (word?.[0] === 'AND') {
        close(i);
        start = i + 3 + /^\s*/.exec(code.slice(i + 3))[0].length;
      } else if (word) break;
      else if (code[i] === ';') break;
    }
    const end = code.slice(start, i).indexOf(';');
    close(end >= 0 ? start + end : i);
  }
  return found;
}

export function changesOf(text, isSql) {
  const code = blank(text, isSql);
  const all = isSql
    ? [...operators(code, SQL_SWAPS, 'operator'), ...constants(code, text), ...terms(code)]
    : [
        ...operators(code, SWAPS, 'operator'),
        ...steps(code),
        ...constants(code, text),
        ...conditions(code),
        ...statements(code),
      ];
  const seen = new Set();
  return all
    .map((c) => {
      const old = c.old ?? text.slice(c.at, c.end);
      return {
        at: c.at,
        old,
        to: c.kind === 'term' ? `(${old} OR 1)` : c.kind === 'condition' ? `(!${old})` : c.to,
        line: lineOf(text, c.at),
        kind: c.kind,
      };
    })
    .filter((c) => !seen.has(`${c.at} ${c.old} ${c.to}`) && seen.add(`${c.at} ${c.old} ${c.to}`))
    .sort((a, b) => a.at - b.at);
}

export function apply(text, change) {
  return text.slice(0, change.at) + change.to + text.slice(change.at + change.old.length);
}

// Numbers below n from a seed and a name, the same on every machine (mulberry32, public domain, by Tommy Ettinger; FNV-1a).
export function chance(seed, name) {
  let a = 2166136261;
  for (const c of `${seed} ${name}`) a = Math.imul(a ^ c.codePointAt(0), 16777619) >>> 0;
  return (n) => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = Math.imul(a ^ (a >>> 15), a | 1);
    t = (t + Math.imul(t ^ (t >>> 7), t | 61)) ^ t;
    return Math.floor((((t ^ (t >>> 14)) >>> 0) / 4294967296) * n);
  };
}

export function shuffle(list, below) {
  for (let i = list.length - 1; i > 0; i--) {
    const j = below(i + 1);
    [list[i], list[j]] = [list[j], list[i]];
  }
  return list;
}

// tests/mutate/places: `module: file ... -> test ...` lines; `#` begins a comment.
export function readPlaces(text) {
  return text
    .split('\n')
    .map((l) => l.replace(/#.*/, '').trim())
    .filter(Boolean)
    .map((l) => {
      const m = /^([\w-]+): (.+) -> (.+)$/.exec(l);
      if (!m) throw new Error(`places: not understood: ${l}`);
      return { name: m[1], files: m[2].split(/\s+/), tests: m[3].split(/\s+/) };
    });
}

// tests/mutate/equivalents and named: file, the line as it stands there, the change and the reason, each on a line of its own.
export function readListed(text) {
  return text
    .split(/\n\s*\n/)
    .map((b) => b.split('\n').filter((l) => l && !l.startsWith('#')))
    .filter((b) => b.length)
    .map((b) => {
      const [file, line, change, why] = b;
      const m = /^change: (.+) -> (.*)$/.exec(change ?? '');
      if (!line?.startsWith('line: ') || !m || !why?.startsWith('why: '))
        throw new Error(`not understood: ${b.join(' / ')}`);
      return { file, line: line.slice(6), old: m[1], to: m[2], why: why.slice(5) };
    });
}

// A change of tests/mutate/named, where it stands in the text; null if it does not, or not once.
export function namedChange(e, text) {
  const lines = text.split('\n'),
    at = lines.flatMap((l, i) => (l.trim() === e.line ? [i] : []));
  if (at.length !== 1 || lines[at[0]].split(e.old).length !== 2) return null;
  return {
    at: lines.slice(0, at[0]).join('\n').length + (at[0] > 0 ? 1 : 0) + lines[at[0]].indexOf(e.old),
    old: e.old,
    to: e.to,
    line: at[0] + 1,
    kind: 'named',
  };
}

// A change of a word alone is meant wherever that word stands in its line; one with more of the line ("at < 0 -> at < 1") there only.
export function isExcluded(list, file, text, change) {
  const lineIn = (s) => s.split('\n')[change.line - 1].trim(),
    line = lineIn(text),
    changed = lineIn(apply(text, change));
  return list.some(
    (e) =>
      e.file === file &&
      e.line === line &&
      ((e.old === change.old.replace(/\s+/g, ' ') && e.to === change.to.replace(/\s+/g, ' ')) ||
        (e.old.length > change.old.length && e.line.replace(e.old, () => e.to) === changed)),
  );
}
