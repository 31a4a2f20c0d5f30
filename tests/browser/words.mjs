// The page writes no words of its own: what a person reads comes from the room of words, by key.
//
// Held here: scripts ask for keys in full, which are there, with the places that are named; every key is asked for;
// no script, and no line of page.html, has a text of its own. A string with letters in a script is a text, unless it
// stands where nobody reads it: compared, looked up, an attribute that is not read out, an argument of what takes
// names. One plain word may stand elsewhere, a name for other scripts, but not as what a function gives back.
// The keys are those of the demo's page, which the tests hold to the program's.
import { parse } from 'espree';
import { readFileSync, readdirSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { gunzipSync } from 'node:zlib';

const root = resolve(dirname(fileURLToPath(import.meta.url)), '../..');
const folder = join(root, 'crates/render/assets/report');
const set = (text) => new Set(text.trim().split(/\s+/));

// Attributes that people read or hear, and properties that show what they are set to.
const READ = set('alt aria-description aria-label aria-roledescription aria-valuetext data-label placeholder title');
const SHOWN = set('ariaLabel innerHTML innerText outerHTML placeholder textContent title');
// Functions of the page that make an element and take its attributes.
const ELEMENTS = set('button el letters part s');
// What takes names: of elements, events, classes, keys, types; or selectors.
const TAKE_NAMES =
  set(`add addEventListener clock closest contains get getAttribute getElementById hasAttribute key matchMedia
  play querySelector querySelectorAll remove removeAttribute request setProperty shown startsWith toggle`);
// The same in the first argument alone.
const NAME_FIRST = set('el instant put s set setAttribute');
// Scripts and functions that write files for other programs.
const FILES = set('exchange.js');
const WRITE_FILES = set('planText withFile');
// What belongs to no language: single letters, ends of names, files and their types, addresses, colours, selectors.
const NAMELESS = [/^\P{L}*\p{L}?\P{L}*$/u, /^-[a-z-]+$/, /^[\w-]*\.[a-z]*$/, /^[a-z]+\/[a-z+]+$/, /^https?:\S+$/];
NAMELESS.push(/^#[\da-f]{6}$/, /^[a-z]+:[a-z]*$/, /^:scope\b/);

const faults = [];
const letters = (text) => /\p{L}/u.test(text);
const called = (node) => node.callee.property?.name ?? node.callee.name;

// The places of a pattern.
const placesOf = (text) => [...new Set([...text.matchAll(/\{(\w+)\}/g)].map(([, name]) => name))].sort();

function wordsOfDemo() {
  const page = readFileSync(join(root, 'reports/demo/report.html'), 'utf8');
  const [, packed] = /id="model">([^<]*)</.exec(page);
  return JSON.parse(gunzipSync(Buffer.from(packed, 'base64')).toString('utf8')).words;
}

// Whether a string stands where people cannot read it; `path` is what it stands in, innermost last.
function unread(node, path) {
  for (let k = path.length - 1, inner = node; k >= 0; inner = path[k], k--) {
    const outer = path[k];
    switch (outer.type) {
      case 'ConditionalExpression':
        if (outer.test === inner) return true;
        break;
      case 'LogicalExpression':
      case 'TemplateLiteral':
      case 'ArrayExpression':
      case 'SpreadElement':
        break;
      case 'BinaryExpression':
        if (outer.operator !== '+') return true;
        break;
      case 'MemberExpression':
        // A list of names that is walked, or a key that is looked up; not what a text is made by.
        if (outer.property === inner) return true;
        return inner.type === 'ArrayExpression' && !/[A-Z\s]/.test(node.value ?? ' ');
      case 'ExpressionStatement':
        return outer.directive !== undefined;
      case 'SwitchCase':
        return outer.test === inner;
      case 'Property': {
        if (outer.key === inner) return true;
        const name = outer.key.value ?? outer.key.name;
        if (READ.has(name)) return false;
        if (name === 'transform') return true;
        // Attributes of an element.
        const call = path[k - 2];
        if (call?.type === 'CallExpression' && ELEMENTS.has(called(call))) return true;
        return false;
      }
      case 'AssignmentExpression':
        return outer.left.property?.name === 'className';
      case 'NewExpression':
        // What goes wrong with a page's own data is told to whoever mends it, on the console.
        return ['Error', 'DOMException', 'TextDecoder', 'DecompressionStream', 'Blob'].includes(outer.callee.name);
      case 'CallExpression': {
        const name = called(outer);
        if (outer.callee === inner) break;
        if (name === 'say' || name === 'list') return true;
        if (TAKE_NAMES.has(name)) return true;
        const first = outer.arguments[0] === inner;
        if (name === 'setAttribute') return first || !READ.has(outer.arguments[0].value);
        return first ? NAME_FIRST.has(name) || name === 'part' : name === 'part' && outer.arguments[1] === inner;
      }
      default:
        return false;
    }
  }
  return false;
}

// Whether a string is shown, or given back by a function: there one plain word is a text too.
function shown(node, path) {
  for (let k = path.length - 1, inner = node; k >= 0; inner = path[k], k--) {
    const outer = path[k];
    switch (outer.type) {
      case 'ConditionalExpression':
      case 'LogicalExpression':
      case 'TemplateLiteral':
      case 'ArrayExpression':
      case 'BinaryExpression':
        break;
      case 'ReturnStatement':
        return true;
      case 'ArrowFunctionExpression':
        return outer.body === inner;
      case 'AssignmentExpression':
        return SHOWN.has(outer.left.property?.name);
      case 'Property':
        // A place of a pattern is read as the pattern is.
        return READ.has(outer.key.value ?? outer.key.name) || path[k - 2]?.callee?.name === 'say';
      case 'CallExpression':
        return true;
      default:
        return false;
    }
  }
  return false;
}

function isText(node, path) {
  const text = node.value?.cooked ?? node.value;
  if (NAMELESS.some((names) => names.test(text)) || unread(node, path)) return false;
  const name = /^[a-z][a-z0-9_-]*$/.test(text) || /^C[1-4]$/.test(text);
  if (!name) return !(node.type === 'TemplateElement' && !/\p{L}{3,}|\s\p{L}{2}|\p{L}\s/u.test(text));
  return shown(node, path) && !/^(C[1-4]|max)$/.test(text);
}

function hold(name, words, asked) {
  const text = readFileSync(join(folder, name), 'utf8');
  const tell = (node, what) => faults.push(`${name}:${node.loc.start.line}: ${what}`);
  const askedFor = (call) => {
    const [key, values] = call.arguments;
    if (key?.type !== 'Literal') return tell(call, 'a key is written in full where it is asked for');
    asked.add(key.value);
    const said = words[key.value];
    if (said === undefined) return tell(call, `there are no words ${key.value}`);
    const list = called(call) === 'list';
    if (list !== Array.isArray(said)) return tell(call, `${key.value} is ${list ? 'no' : 'a'} list`);
    if (list) return;
    const given = values?.properties?.map((p) => p.key?.name).sort() ?? [];
    const places = placesOf(said);
    if (given.join() !== places.join()) tell(call, `${key.value} has the places ${places}, not ${given}`);
  };
  const walk = (node, path) => {
    if (WRITE_FILES.has(node.id?.name)) return;
    const of = node.callee;
    if (
      node.type === 'CallExpression' &&
      (of.name === 'say' || (of.object?.name === 'Say' && called(node) === 'list'))
    )
      askedFor(node);
    const string = node.type === 'Literal' ? typeof node.value === 'string' : node.type === 'TemplateElement';
    if (string && !FILES.has(name) && isText(node, path))
      tell(node, `a text of its own: ${JSON.stringify(node.value.cooked ?? node.value)}`);
    for (const [key, child] of Object.entries(node)) {
      if (key === 'loc' || key === 'regex') continue;
      for (const part of Array.isArray(child) ? child : [child])
        if (part && typeof part.type === 'string') walk(part, [...path, node]);
    }
  };
  walk(parse(text, { ecmaVersion: 'latest', loc: true }), []);
}

// page.html: between its tags and in its read attributes stand places to be filled, and nothing else.
function holdTemplate() {
  const text = readFileSync(join(folder, 'page.html'), 'utf8').replace(/\{\{[^}]*\}\}/g, '');
  for (const [, attribute, value] of text.matchAll(/\s([a-z-]+)="([^"]*)"/g))
    if (READ.has(attribute) && letters(value)) faults.push(`page.html: ${attribute} has a text of its own: ${value}`);
  for (const part of text.replace(/<[^>]*>/g, '\n').split('\n'))
    if (letters(part)) faults.push(`page.html: a text of its own: ${part.trim()}`);
}

// Styles show signs and what the page hands them, no words.
function holdStyle(name) {
  for (const [, value] of readFileSync(join(folder, name), 'utf8').matchAll(/\bcontent:\s*(['"][^;]*);/g))
    if (letters(value)) faults.push(`${name}: a text of its own: ${value}`);
}

const words = wordsOfDemo();
const asked = new Set();
for (const name of readdirSync(folder).sort()) {
  if (name.endsWith('.js')) hold(name, words, asked);
  if (name.endsWith('.css')) holdStyle(name);
}
holdTemplate();
for (const key of Object.keys(words)) if (!asked.has(key)) faults.push(`no script asks for ${key}`);
for (const fault of faults) console.log(fault);
process.exit(faults.length ? 1 : 0);
