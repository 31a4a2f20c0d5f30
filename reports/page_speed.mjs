// Measures a report page as a slow phone would show it: `node reports/page_speed.mjs REPORT.html [MORE.html …]`.
//
// Headless Chromium (tests/browser/chromium.mjs) with its processor slowed four times through the developer tools
// (`Emulation.setCPUThrottlingRate`). Each page is opened five times, several pages by turns, so that a busy moment of
// the machine falls on all of them. Printed: seconds from the start of the navigation to the first frame that is drawn
// once the page's scripts have done what they do at the start (`usable`); the longest task after that frame; the
// longest frame while the page is scrolled to its end, and while the whole table is, a screen a frame. Times are best
// and median of the runs. It times and judges nothing: a busy machine is no fault of the page.
import { launch } from '../tests/browser/chromium.mjs';
import { basename } from 'node:path';
import { statSync } from 'node:fs';
import { pathToFileURL } from 'node:url';

const RUNS = Number(process.env.RUNS ?? 5);
const SLOWER = Number(process.env.SLOWER ?? 4);
const PHONE = { width: 390, height: 844 };

const files = process.argv.slice(2);
if (!files.length) {
  console.error('usage: node reports/page_speed.mjs REPORT.html [MORE.html …]');
  process.exit(2);
}

// Runs in the page before its own scripts do.
function watch() {
  const seen = { usable: null, tasks: [] };
  globalThis.pageSpeed = seen;
  new PerformanceObserver((list) => {
    for (const entry of list.getEntries()) seen.tasks.push([entry.startTime, entry.duration]);
  }).observe({ type: 'longtask', buffered: true });
  const look = () => {
    if (document.documentElement?.classList.contains('scripted'))
      requestAnimationFrame(() => setTimeout(() => (seen.usable = performance.now())));
    else requestAnimationFrame(look);
  };
  requestAnimationFrame(look);
}

// Runs in the page: scrolls a box to its end, a screen a frame or `step` pixels, and gives the frames' lengths.
async function scroll({ selector, frames }) {
  const box = selector ? document.querySelector(selector) : document.scrollingElement;
  const step = Math.max((box.scrollHeight - box.clientHeight) / frames, 200);
  const lengths = [];
  let last = await new Promise(requestAnimationFrame);
  for (let k = 0; k <= frames; k++) {
    box.scrollTop = Math.min(box.scrollTop + step, box.scrollHeight);
    const now = await new Promise(requestAnimationFrame);
    lengths.push(now - last);
    last = now;
  }
  return Math.max(...lengths);
}

async function once(browser, file) {
  const context = await browser.newContext({ viewport: PHONE, hasTouch: true, isMobile: true });
  const page = await context.newPage();
  await page.addInitScript(watch);
  const tools = await context.newCDPSession(page);
  await tools.send('Emulation.setCPUThrottlingRate', { rate: SLOWER });
  await page.goto(pathToFileURL(file).href);
  await page.waitForFunction(() => globalThis.pageSpeed.usable !== null);
  // What was put off runs now; it is over when nothing long came for two seconds.
  await page.waitForFunction(() => {
    const last = globalThis.pageSpeed.tasks.at(-1);
    return performance.now() - Math.max(globalThis.pageSpeed.usable, last ? last[0] + last[1] : 0) > 2000;
  });
  const { usable, tasks } = await page.evaluate(() => globalThis.pageSpeed);
  const later = Math.max(0, ...tasks.filter(([start]) => start > usable - 20).map(([, length]) => length));
  const whole = await page.evaluate(scroll, { selector: null, frames: 60 });
  let table = 0;
  if (await page.isVisible('#more')) {
    await page.evaluate(() => document.getElementById('more').click());
    await page.evaluate(() => document.getElementById('ranking-scroll').scrollIntoView());
    await page.waitForTimeout(1000);
    table = await page.evaluate(scroll, { selector: '#ranking-scroll', frames: 100 });
  }
  await context.close();
  return { usable, later, whole, table };
}

const browser = await launch();
const runs = new Map(files.map((file) => [file, []]));
for (let k = 0; k < RUNS; k++) for (const [file, all] of runs) all.push(await once(browser, file));
await browser.close();
const s = (ms) => `${(ms / 1000).toFixed(2)} s`;
console.log(`processor slowed ${SLOWER} times, ${PHONE.width} by ${PHONE.height} px, ${RUNS} runs by turns: best / median`);
console.log('| page | size | usable | longest task after | longest frame, page scrolled | longest frame, table scrolled |');
console.log('| --- | ---: | ---: | ---: | ---: | ---: |');
for (const [file, all] of runs) {
  const figure = (name) => {
    const sorted = all.map((run) => run[name]).sort((a, b) => a - b);
    return `${s(sorted[0])} / ${s(sorted[Math.floor(sorted.length / 2)])}`;
  };
  const size = `${(statSync(file).size / 1e6).toFixed(2)} MB`;
  console.log(`| ${basename(file)} | ${size} | ${['usable', 'later', 'whole', 'table'].map(figure).join(' | ')} |`);
}
