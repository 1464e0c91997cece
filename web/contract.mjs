// SPDX-License-Identifier: MIT
// node contract.mjs OPENAPI.json OUT.d.ts: the contract as types, so that what the page reads of an answer is checked.

import { readFileSync, writeFileSync } from 'node:fs';

/**
 * @typedef {object} Schema
 * @property {string | string[]} [type]
 * @property {unknown[]} [enum]
 * @property {Schema[]} [anyOf]
 * @property {Schema} [items]
 * @property {Record<string, Schema>} [properties]
 * @property {string[]} [required]
 * @property {string} [description]
 */

const PLAIN = { string: 'string', integer: 'number', number: 'number', boolean: 'boolean', null: 'null' };

/** @param {Schema} schema @returns {string} */
function typeOf(schema) {
  if (schema.anyOf) return schema.anyOf.map(typeOf).join(' | ');
  if (schema.enum) return schema.enum.map((word) => JSON.stringify(word)).join(' | ');
  return [schema.type ?? 'null']
    .flat()
    .map((type) =>
      type === 'array'
        ? `Array<${typeOf(schema.items ?? {})}>`
        : type === 'object'
          ? objectOf(schema)
          : PLAIN[/** @type {keyof typeof PLAIN} */ (type)],
    )
    .join(' | ');
}

/** @param {Schema} schema */
function objectOf(schema) {
  const members = Object.entries(schema.properties ?? {}).map(([name, member]) => {
    const says = member.description ? `/** ${member.description.replaceAll('*/', '')} */ ` : '';
    return `${says}${JSON.stringify(name)}${schema.required?.includes(name) ? '' : '?'}: ${typeOf(member)}`;
  });
  return `{ ${members.join('; ')} }`;
}

/** @param {any} operation the JSON of its good answer, or null @returns {string} */
function answerOf(operation) {
  const [, good] = Object.entries(operation.responses).find(([status]) => status.startsWith('2')) ?? [];
  const schema = good?.content?.['application/json']?.schema;
  return schema ? typeOf(schema) : 'null';
}

/** @param {any} operation */
function bodyOf(operation) {
  const schema = operation.requestBody?.content['application/json'].schema;
  return schema ? typeOf(schema) : 'unknown';
}

const [, , from, to] = process.argv;
if (!from || !to) throw new Error('node contract.mjs OPENAPI.json OUT.d.ts');
/** @type {{paths: Record<string, Record<string, any>>, "x-words": Record<string, string[]>}} */
const contract = JSON.parse(readFileSync(from, 'utf8'));
const answers = [];
const bodies = [];
const words = Object.entries(contract['x-words']).map(
  ([name, set]) => `  ${name}: ${set.map((word) => JSON.stringify(word)).join(' | ')};`,
);
for (const [path, operations] of Object.entries(contract.paths))
  for (const [method, operation] of Object.entries(operations)) {
    answers.push(`  ${JSON.stringify(`${method.toUpperCase()} ${path}`)}: ${answerOf(operation)};`);
    bodies.push(`  ${JSON.stringify(`${method.toUpperCase()} ${path}`)}: ${bodyOf(operation)};`);
  }
writeFileSync(
  to,
  `// Made by contract.mjs from the contract; not to be edited.

/** What each route answers. */
export interface Answers {
${answers.join('\n')}
}

/** What each route takes. */
export interface Bodies {
${bodies.join('\n')}
}

/** The sets of words (core/base/words.def). A list of some of them is a Some<'parcel_states'>. */
export interface Words {
${words.join('\n')}
}

export type Some<S extends keyof Words> = Words[S][];

type Pattern<P extends string> = P extends \`\${infer A}{\${string}}\${infer B}\` ? \`\${A}\${string}\${Pattern<B>}\` : P;
type Bare<P extends string> = P extends \`\${infer A}?\${string}\` ? A : P;
type Fits<M extends string, P extends string> = {
  [K in keyof Answers]: K extends \`\${M} \${infer R}\` ? (P extends Pattern<R> ? K : never) : never;
}[keyof Answers];

/** The route of a path that is a text in the source, by its words or by a template; of any other path anything. */
type Route<M extends string, P extends string> = string extends P
  ? never
  : \`\${M} \${Bare<P>}\` extends keyof Answers
    ? \`\${M} \${Bare<P>}\` & keyof Answers
    : Fits<M, Bare<P>>;

/** The answer to GET of a path. */
export type Got<P extends string> = [Route<'GET', P>] extends [never] ? any : Answers[Route<'GET', P>];

/** A row of what a route answers with. */
export type Row<K extends keyof Answers> = Answers[K] extends Array<infer R> ? R : never;

/** The answer to a write. */
export type Done<M extends string, P extends string> = [Route<M, P>] extends [never] ? any : Answers[Route<M, P>];
`,
);
