// A short walk of a report page in Firefox: `node tests/browser/firefox.mjs report.html`.
//
// Firefox is driven by its own remote agent (WebDriver BiDi, W3C) through a bare connection: no driver beside it. Where
// no Firefox is found, or the one found does not start, nothing is tested and the status is 0.
import { strict as assert } from 'node:assert';
import { spawn } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { pathToFileURL } from 'node:url';
import { ws as WebSocket } from 'playwright-core/lib/utilsBundle';

const PLACES = [process.env.FIREFOX, '/usr/bin/firefox-esr', '/usr/bin/firefox'];
const program = PLACES.find((path) => path && existsSync(path));
const given = process.argv[2];
if (!program || !given) {
  console.log(given ? 'no Firefox here: not walked' : 'usage: node firefox.mjs report.html');
  process.exit(given ? 0 : 2);
}

// A machine under load takes its time; what waits longer than this hangs.
const PATIENCE_MS = 180_000;
const patient = (promise, what) => {
  let timer = null;
  const late = new Promise((_, reject) => {
    timer = setTimeout(() => reject(new Error(`nothing came in time: ${what}`)), PATIENCE_MS);
  });
  return Promise.race([promise, late]).finally(() => clearTimeout(timer));
};

// --- the browser and its remote agent ---
const profile = mkdtempSync(join(tmpdir(), 'firefox-walk-'));
const firefox = spawn(program, ['--headless', '--no-remote', '--profile', profile, '--remote-debugging-port', '0'], {
  stdio: ['ignore', 'ignore', 'pipe'],
  env: { ...process.env, HOME: profile, MOZ_CRASHREPORTER_DISABLE: '1' },
});
const address = patient(
  new Promise((found, failed) => {
    let told = '';
    firefox.stderr.on('data', (data) => {
      told += data;
      const at = told.match(/WebDriver BiDi listening on (ws:\/\/\S+)/);
      if (at) found(at[1]);
    });
    firefox.on('exit', (status) => failed(new Error(`Firefox ended with ${status}: ${told.slice(-400)}`)));
  }),
  'the address of the remote agent',
);

const problems = [];
async function connect(url) {
  const socket = new WebSocket(`${url}/session`);
  await patient(new Promise((done, failed) => ((socket.onopen = done), (socket.onerror = failed))), 'a connection');
  const open = new Map();
  let number = 0;
  socket.onmessage = ({ data }) => {
    const said = JSON.parse(data);
    if (said.method === 'log.entryAdded') {
      const { level, text, type } = said.params;
      if (type === 'javascript' || ['error', 'warn'].includes(level)) problems.push(`${level}: ${text}`);
    }
    if (said.method === 'network.beforeRequestSent') {
      const { url: asked } = said.params.request;
      if (!/^(file|data|blob):/.test(asked)) problems.push(`request: ${asked}`);
    }
    const waiting = open.get(said.id);
    if (!waiting) return;
    open.delete(said.id);
    if (said.type === 'error') waiting.failed(new Error(`${said.error}: ${said.message}`));
    else waiting.done(said.result);
  };
  return (method, params) =>
    patient(
      new Promise((done, failed) => {
        open.set(++number, { done, failed });
        socket.send(JSON.stringify({ id: number, method, params }));
      }),
      method,
    );
}

// --- the walk ---
async function walk(url) {
  const ask = await connect(url);
  await ask('session.new', { capabilities: {} });
  await ask('session.subscribe', { events: ['log.entryAdded', 'network.beforeRequestSent'] });
  const { contexts } = await ask('browsingContext.getTree', {});
  const { context } = contexts[0];
  await ask('browsingContext.navigate', { context, url: pathToFileURL(resolve(given)).href, wait: 'complete' });
  const run = async (body) => {
    const { result, exceptionDetails } = await ask('script.evaluate', {
      expression: `(async () => JSON.stringify(await (async () => { ${body} })()))()`,
      target: { context },
      awaitPromise: true,
    });
    if (exceptionDetails) throw new Error(exceptionDetails.text);
    return result.value === undefined ? undefined : JSON.parse(result.value);
  };
  // Until something holds in the page.
  const until = (condition, what) =>
    patient(run(`while (!(${condition})) await new Promise((again) => setTimeout(again, 50)); return true;`), what);
  const step = async (name, does) => {
    await does();
    assert.deepEqual(problems, [], name);
    console.log(`ok    Firefox: ${name}`);
  };
  const order = `[...document.querySelectorAll('#ranking tbody th[scope=row] bdi')].map((e) => e.textContent)`;

  await step('the page opens without errors and asks the network for nothing', async () => {
    await until(`document.documentElement.classList.contains('whole')`, 'the scripts');
    assert.ok((await run(`return ${order};`)).length > 1, 'a table of sites');
  });

  await step('a weight moved ranks anew, and back', async () => {
    const before = await run(`return ${order};`);
    // Every slider in turn all the way up with the others at nothing: at least one order differs.
    const orders = await run(`
      const sliders = [...document.querySelectorAll('#sliders input[type=range]')];
      const set = (e, v) => { e.value = v; e.dispatchEvent(new Event('input', { bubbles: true })); };
      const seen = [];
      for (const one of sliders) {
        for (const e of sliders) set(e, e === one ? e.max : e.min);
        await new Promise((drawn) => requestAnimationFrame(() => setTimeout(drawn, 300)));
        seen.push(${order});
      }
      document.querySelector('#reset').click();
      return seen;`);
    assert.ok(
      orders.some((one) => one.join() !== before.join()),
      'no weight changes the order',
    );
    await until(`JSON.stringify(${order}) === ${JSON.stringify(JSON.stringify(before))}`, 'the first order again');
  });

  await step('the contacts of any point are computed', async () => {
    await run(`
      const site = (await Model.ready).sites.find((s) => s.phase === 'total');
      document.querySelector('#point-lat').value = String(site.lat_deg);
      document.querySelector('#point-lon').value = String(site.lon_deg);
      document.querySelector('#point-form').requestSubmit();
      return true;`);
    await until(`/C2/.test(document.querySelector('#point-out').textContent)`, 'second contact of the point');
  });

  await step('day mode opens, tells the filter state, and is left again', async () => {
    await run(`document.querySelector('#day-mode').click(); return true;`);
    await until(
      `/FILTER (ON|OFF)/.test(document.querySelector('#day-view .dv-state')?.textContent ?? '')`,
      'the state',
    );
    await run(`document.querySelector('#day-view .dv-leave').click(); return true;`);
    await until(`document.querySelector('#day-view').hidden`, 'the page again');
  });

  for (const width of [320, 768, 1920]) {
    await step(`nothing is wider than the screen at ${width} px`, async () => {
      await ask('browsingContext.setViewport', { context, viewport: { width, height: 800 } });
      await until(`window.innerWidth === ${width}`, 'the width');
      const wide = await run(`return document.documentElement.scrollWidth;`);
      assert.ok(wide <= width, `${wide} px`);
    });
  }
}

let status = 0;
try {
  const url = await address.catch((error) =>
    console.log(`Firefox does not start here, not walked: ${error.message}`),
  );
  if (url) await walk(url);
} catch (error) {
  console.log(`FAIL  Firefox: ${String(error.message ?? error).slice(0, 600)}`);
  status = 1;
}
firefox.removeAllListeners('exit');
const gone = new Promise((done) => firefox.on('exit', done));
firefox.kill();
await gone;
rmSync(profile, { recursive: true, force: true, maxRetries: 5 });
process.exit(status);
