// Pictures to look at: `node screenshots.mjs report.html FOLDER`.
import { launch, open, PHONE, LAPTOP } from './chromium.mjs';
import { mkdirSync } from 'node:fs';

const [file, folder] = process.argv.slice(2);
if (!file || !folder) {
  console.error('usage: node screenshots.mjs report.html FOLDER');
  process.exit(2);
}
mkdirSync(folder, { recursive: true });
const browser = await launch();
for (const [size, viewport] of [
  ['phone', PHONE],
  ['laptop', LAPTOP],
]) {
  for (const scheme of ['light', 'dark']) {
    const { page, context } = await open(browser, file, { viewport, scheme, touch: size === 'phone' });
    await page.waitForTimeout(300);
    await page.screenshot({ path: `${folder}/${size}-${scheme}.png` });
    await page.screenshot({ path: `${folder}/${size}-${scheme}-whole.png`, fullPage: true });
    await context.close();
  }
}
const { page, context } = await open(browser, file);
await page.pdf({ path: `${folder}/print.pdf`, format: 'A4', preferCSSPageSize: false });
await context.close();
await browser.close();
