// No line of the page's scripts and styles, or of these tests, is longer than 120 characters.
import { readFileSync, readdirSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';

const MOST = 120;
const here = dirname(fileURLToPath(import.meta.url));
const folders = [resolve(here, '../../crates/render/assets/report'), here];
let long = 0;
for (const folder of folders) {
  for (const name of readdirSync(folder).filter((n) => /\.(js|mjs|css|html)$/.test(n) && n !== 'page.html')) {
    readFileSync(join(folder, name), 'utf8')
      .split('\n')
      .forEach((line, k) => {
        if ([...line].length <= MOST) return;
        long++;
        console.log(`${name}:${k + 1}: ${[...line].length} characters`);
      });
  }
}
process.exit(long ? 1 : 0);
