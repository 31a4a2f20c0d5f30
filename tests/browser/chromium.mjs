// Debian's Chromium through playwright-core, with nothing that talks to the network.
import { chromium } from 'playwright-core';
import { existsSync } from 'node:fs';
import { pathToFileURL } from 'node:url';

const PLACES = [process.env.CHROMIUM, '/usr/bin/chromium', '/usr/bin/chromium-browser', '/usr/bin/google-chrome'];

const PATIENCE_MS = 120_000;

export async function launch() {
  const executablePath = PLACES.find((path) => path && existsSync(path));
  if (!executablePath) {
    throw new Error('no Chromium found; install it (Debian: apt-get install chromium) or set CHROMIUM to its path');
  }
  const browser = await chromium.launch({
    executablePath,
    headless: true,
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
    ],
  });
  // Whatever is waited for comes late on a busy machine; what never comes is told all the same.
  const newContext = browser.newContext.bind(browser);
  browser.newContext = async (options) => {
    const context = await newContext(options);
    context.setDefaultTimeout(PATIENCE_MS);
    return context;
  };
  return browser;
}

export const PHONE = { width: 390, height: 844 };
export const LAPTOP = { width: 1366, height: 768 };

// Opens a page from disk. `seen.problems` fills with console errors, uncaught errors and every request but the page
// itself.
export async function open(
  browser,
  file,
  { viewport = LAPTOP, scheme = 'light', touch = false, media = undefined } = {},
) {
  const context = await browser.newContext({
    viewport,
    colorScheme: scheme,
    hasTouch: touch,
    isMobile: touch,
    acceptDownloads: true,
    timezoneId: 'Europe/Berlin',
    locale: 'en-GB',
  });
  const page = await context.newPage();
  const url = pathToFileURL(file).href;
  const seen = { problems: [] };
  page.on('console', (m) => {
    if (['error', 'warning'].includes(m.type())) seen.problems.push(`console: ${m.text()}`);
  });
  page.on('pageerror', (e) => seen.problems.push(`uncaught: ${e.message}`));
  page.on('request', (r) => {
    if (r.url() !== url && !/^(data|blob):/.test(r.url())) seen.problems.push(`request: ${r.url()}`);
  });
  page.on('dialog', (d) => {
    seen.problems.push(`dialog: ${d.message()}`);
    d.dismiss();
  });
  if (media) await page.emulateMedia({ media });
  await page.goto(url);
  await page.waitForSelector('html.whole', { state: 'attached' });
  return { page, context, seen };
}
