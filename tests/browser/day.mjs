// Day mode under a clock that the test sets: what it shows at every instant against the decision in the page's data.
import { strict as assert } from 'node:assert';

const start = async (browser, file, timeMs, options = {}) => {
  const context = await browser.newContext({ viewport: { width: 390, height: 844 }, ...options });
  const page = await context.newPage();
  const problems = [];
  page.on('pageerror', (error) => problems.push(error.message));
  await page.clock.install({ time: new Date(timeMs) });
  await page.goto(`file://${file}`);
  await page.waitForSelector('html.whole', { state: 'attached' });
  return { page, context, problems };
};
const choose = async (page, index) => {
  await page.selectOption('#chosen', String(index));
  await page.click('#day-mode');
};
const seen = (page) =>
  page.evaluate(() => {
    const text = (selector) => document.querySelector(`#day-view ${selector}`)?.textContent ?? null;
    return {
      now: Date.now(),
      word: text('.dv-state b'),
      why: text('.dv-state span'),
      ring: Boolean(document.querySelector('#day-view .dv-state circle')),
      square: Boolean(document.querySelector('#day-view .dv-state rect')),
      what: text('.dv-what'),
      left: text('.dv-left'),
      at: text('.dv-at'),
      trust: text('.dv-trust'),
      rehearsal: document.querySelector('#day-view').classList.contains('rehearsal'),
      marks: [...document.querySelectorAll('#day-view .dv-mark')].filter((e) => !e.hidden).length,
    };
  });
// `1 h 02 min 09 s` in seconds.
const seconds = (text) => {
  const units = { d: 86400, h: 3600, min: 60, s: 1 };
  return [...text.matchAll(/(\d+) (d|h|min|s)\b/g)].reduce((sum, [, n, unit]) => sum + Number(n) * units[unit], 0);
};

export async function holdDayMode(pages, { test, on, browser, model, axe }) {
  let report = null;
  let demo = null;
  await test('day mode: the data it is held to', () =>
    on(pages.report, async (page) => {
      report = await model(page);
      await on(pages.demo, async (other) => {
        demo = await model(other);
      });
    }));
  if (!report || !demo) return;

  const cases = [
    ['test report', pages.report, report],
    ['demo', pages.demo, demo],
  ].flatMap(([label, file, m]) => {
    const bare = m.sites.flatMap((site, k) => (site.window ? [k] : [])).slice(0, 2);
    const never = m.sites.findIndex((site) => !site.window && site.contacts[2]);
    return [...bare, never].filter((k) => k >= 0).map((k) => [label, file, m.sites[k], k]);
  });
  for (const [label, file, site, index] of cases) {
    await test(`day mode, ${label}, ${site.name}: OFF and ON as decided, before and after every event`, async () => {
      const ends = site.window ? [site.window.off.utc_ms, site.window.on.utc_ms] : [];
      const marks = [...site.contacts.filter(Boolean).map((c) => c.at.utc_ms), ...ends].sort((a, b) => a - b);
      const { page, context, problems } = await start(browser, file, marks[0] - 400_000);
      await choose(page, index);
      let offs = 0;
      for (const mark of marks) {
        for (const t of [mark - 1200, mark - 150, mark + 150, mark + 1200]) {
          const now = await page.evaluate(() => Date.now());
          if (t <= now) continue;
          await page.clock.pauseAt(t);
          // One more tick of the page at that very instant or a tenth of a second later.
          await page.clock.runFor(100);
          const s = await seen(page);
          const [off, on_] = ends;
          const decided = ends.length > 0 && s.now >= off && s.now < on_;
          const where = `${site.name} at ${new Date(s.now).toISOString()}`;
          assert.equal(s.word, decided ? 'FILTER OFF' : 'FILTER ON', where);
          assert.deepEqual([s.ring, s.square], [decided, !decided], `${where}: the shape`);
          if (decided) offs++;
          if (s.what === 'Filter OFF') assert.ok(seconds(s.left) * 1000 >= off - s.now, `${where}: OFF in ${s.left}`);
          if (s.what === 'Filter ON') assert.ok(seconds(s.left) * 1000 <= on_ - s.now, `${where}: ON in ${s.left}`);
          if (ends.length && off - s.now > 0 && off - s.now < 110_000) assert.equal(s.what, 'Filter OFF', where);
          if (decided) assert.equal(s.what, 'Filter ON', where);
          if (!ends.length) assert.doesNotMatch(await page.innerText('#day-view'), /filter off|◯/i, where);
          assert.match(await page.innerText('#day-view'), /The sky decides, not the clock/);
        }
      }
      assert.equal(offs > 0, ends.length > 0, `${offs} looks found OFF`);
      assert.deepEqual(problems, []);
      await context.close();
    });
  }

  const index = report.sites.findIndex((site) => site.window && site.detail);
  const site = report.sites[index];
  const [off, on_] = [site.window.off.utc_ms, site.window.on.utc_ms];

  await test('day mode: where no time for the red rim is told, the page says why', async () => {
    const rimless = async (file, k) => {
      const { page, context } = await start(browser, file, off - 30_000);
      await choose(page, k);
      await page.clock.runFor(100);
      const said = await page.$eval('.dv-rimless', (e) => (e.hidden ? '' : e.textContent));
      await context.close();
      return said;
    };
    assert.equal(await rimless(pages.report, index), '');
    let bare = -1;
    await on(pages.many, async (page) => {
      const m = await model(page);
      bare = m.sites.findIndex((s) => s.window && !s.detail?.timeline.some((line) => line.kind === 'rim'));
    });
    assert.ok(bare >= 0, 'a place with a window that is not described');
    assert.match(await rimless(pages.many, bare), /No time for the red rim.*describes in full/);
  });

  await test('day mode: times stand on the safe side of the second', async () => {
    const { page, context } = await start(browser, pages.report, off - 30_000);
    await choose(page, index);
    await page.clock.runFor(100);
    const clock = (ms, round) => {
      const d = new Date(round(ms / 1000) * 1000 + site.window.off.offset_s * 1000);
      return d.toISOString().slice(11, 19);
    };
    assert.match((await seen(page)).at, new RegExp(`at ${clock(off, Math.ceil)}`));
    await page.clock.pauseAt(off + 1000);
    await page.clock.runFor(100);
    assert.match((await seen(page)).at, new RegExp(`at ${clock(on_, Math.floor)}`));
    await context.close();
  });

  await test('day mode: the red rim is counted to and told', async () => {
    const rim = site.detail.timeline.find((line) => line.kind === 'rim').at.utc_ms;
    const { page, context } = await start(browser, pages.report, off - 5_000);
    await choose(page, index);
    await page.clock.runFor(100);
    assert.match(await page.innerText('.dv-later'), /Red rim: look away/);
    await page.clock.pauseAt(rim + 50);
    await page.clock.runFor(100);
    assert.match((await seen(page)).why, /Red rim: look away now/);
    await context.close();
  });

  await test('day mode: a clock that jumps is read anew, and said', async () => {
    const { page, context } = await start(browser, pages.report, off - 3_600_000);
    await choose(page, index);
    await page.clock.runFor(500);
    await page.clock.setSystemTime(new Date(off + 2_000));
    await page.clock.runFor(200);
    const s = await seen(page);
    assert.match(s.trust, /The clock jumped by 3[56]\d\d s: the device slept, or was set/);
    assert.equal(s.word, 'FILTER OFF');
    await page.clock.setSystemTime(new Date(off - 60_000));
    await page.clock.runFor(200);
    assert.equal((await seen(page)).word, 'FILTER ON');
    await context.close();
  });

  await test('day mode: a compared clock shifts the time, and what is unsure only shortens OFF', async () => {
    const { page, context } = await start(browser, pages.report, off - 120_000);
    await choose(page, index);
    await page.clock.pauseAt(off - 100_000);
    // The device is five seconds slow: the trusted clock already shows what it will show in five seconds.
    const trusted = new Date((await page.evaluate(() => Date.now())) + 5_000 + site.window.off.offset_s * 1000);
    await page.fill('#dv-typed', '2561');
    await page.click('#day-view form button:not([type])');
    assert.match(await page.innerText('#day-view'), /Give a time of day/);
    await page.fill('#dv-typed', trusted.toISOString().slice(11, 19));
    await page.click('#day-view form button:not([type])');
    assert.match((await seen(page)).trust, /Clock compared at [\d:]+: (4|5)\.\d s slow, within 1 s/);
    const offset = await page.evaluate(() => Math.round((Date.now() % 1000) * 0));
    assert.equal(offset, 0);
    // True time is the device's plus five seconds, less what the typed second leaves out.
    const slow =
      Math.floor((await page.evaluate(() => Date.now())) / 1000) * 1000 +
      5_000 -
      (await page.evaluate(() => Date.now()));
    const wordAt = async (trueMs) => {
      await page.clock.pauseAt(trueMs - slow);
      await page.clock.runFor(100);
      return (await seen(page)).word;
    };
    assert.equal(await wordAt(off + 700), 'FILTER ON', 'within the doubt OFF waits');
    assert.equal(await wordAt(off + 1_050), 'FILTER OFF');
    assert.equal(await wordAt(on_ - 1_300), 'FILTER OFF');
    assert.equal(await wordAt(on_ - 1_000), 'FILTER ON', 'within the doubt ON has come');
    await context.close();
  });

  await test('day mode: a comparison that a jump puts in doubt shortens OFF further', async () => {
    const { page, context } = await start(browser, pages.report, off - 120_000);
    await choose(page, index);
    await page.clock.pauseAt(off - 100_000);
    const trusted = new Date((await page.evaluate(() => Date.now())) + 5_000 + site.window.off.offset_s * 1000);
    await page.fill('#dv-typed', trusted.toISOString().slice(11, 19));
    await page.click('#day-view form button:not([type])');
    // Somebody sets the clock right, or the device slept: either may be true.
    await page.clock.setSystemTime(new Date(off - 3_000));
    await page.clock.runFor(100);
    assert.match((await seen(page)).trust, /Compare it again/);
    assert.equal((await seen(page)).word, 'FILTER ON');
    await page.clock.pauseAt(off + 500);
    await page.clock.runFor(100);
    assert.equal((await seen(page)).word, 'FILTER ON', 'the slowest of the readings decides');
    await context.close();
  });

  await test('day mode: a rehearsal says so all the while, and runs the minutes around totality', async () => {
    const { page, context, problems } = await start(browser, pages.report, Date.UTC(2027, 0, 5, 9));
    await choose(page, index);
    await page.click('[data-rehearse=begin]');
    const words = new Set();
    const length = site.contacts[3].at.utc_ms - site.contacts[1].at.utc_ms + 119_000;
    for (let t = 0; t < length; t += 2_000) {
      await page.clock.runFor(2_000);
      const s = await seen(page);
      if (!s.rehearsal) break;
      assert.match(s.word, /^REHEARSAL, FILTER (ON|OFF)$/);
      assert.equal(s.marks, 2);
      assert.match(s.what, /^Rehearsed: /);
      words.add(s.word);
    }
    assert.deepEqual([...words].sort(), ['REHEARSAL, FILTER OFF', 'REHEARSAL, FILTER ON']);
    await page.clock.runFor(5_000);
    const s = await seen(page);
    assert.deepEqual([s.rehearsal, s.marks, s.word], [false, 0, 'FILTER ON'], 'it ends by itself');
    await page.click('[data-rehearse=end]');
    await page.clock.runFor(45_000);
    assert.equal((await seen(page)).word, 'REHEARSAL, FILTER OFF');
    await page.click('#day-view .dv-stop');
    assert.equal((await seen(page)).word, 'FILTER ON');
    assert.deepEqual(problems, []);
    await context.close();
  });

  await test('day mode: no rehearsal while the eclipse is on, and one that runs gives way', async () => {
    const c1 = site.contacts[0].at.utc_ms;
    const { page, context } = await start(browser, pages.report, c1 - 640_000);
    await choose(page, index);
    await page.click('[data-rehearse=begin]');
    await page.clock.runFor(1_000);
    assert.equal((await seen(page)).rehearsal, true);
    await page.clock.runFor(60_000);
    assert.equal((await seen(page)).rehearsal, false);
    assert.match(await page.innerText('#day-view'), /No rehearsal now: the eclipse itself is on/);
    await context.close();
  });

  await test('day mode: remembers its place, closes by key, and needs no storage', async () => {
    const other = report.sites.findIndex((s, k) => k > index && s.window);
    const { page, context } = await start(browser, pages.report, off - 3_600_000);
    await choose(page, other);
    await page.click('#day-view [data-look=sun]');
    await page.keyboard.press('Escape');
    if (await page.isVisible('#day-view')) await page.keyboard.press('Escape');
    assert.equal(await page.isVisible('#day-view'), false);
    await page.reload();
    await page.waitForSelector('html.whole', { state: 'attached' });
    assert.equal(await page.inputValue('#chosen'), String(other));
    await page.click('#day-mode');
    assert.equal(await page.getAttribute('#day-view', 'data-look'), 'sun');
    assert.equal(await page.innerText('#dv-place'), report.sites[other].name);
    await context.close();

    const without = await browser.newContext();
    const bare = await without.newPage();
    const problems = [];
    bare.on('pageerror', (error) => problems.push(error.message));
    await bare.addInitScript(() =>
      Object.defineProperty(window, 'localStorage', {
        get() {
          throw new DOMException('denied', 'SecurityError');
        },
      }),
    );
    await bare.goto(`file://${pages.report}`);
    await bare.waitForSelector('html.whole', { state: 'attached' });
    await bare.click('#day-mode');
    assert.equal(await bare.isVisible('#day-view'), true);
    assert.deepEqual(problems, []);
    await without.close();
  });

  await test('day mode: signals can be tried, and the screen’s state is said', async () => {
    const { page, context } = await start(browser, pages.report, off - 3_600_000);
    await choose(page, index);
    for (const kind of ['sound', 'vibration']) {
      const toggle = await page.$(`[data-signal=${kind}]`);
      if (!toggle) continue;
      await toggle.click();
      assert.equal(await toggle.getAttribute('aria-pressed'), 'true');
    }
    for (const kind of ['off', 'rim', 'on']) await page.click(`[data-try=${kind}]`);
    assert.match(await page.innerText('#day-view'), /screen/i);
    await context.close();
  });

  for (const look of ['sun', 'light', 'dark']) {
    await test(`day mode: no accessibility fault, ${look}`, () =>
      on(
        pages.report,
        async (page) => {
          await page.click('#day-mode');
          await page.click(`#day-view [data-look=${look}]`);
          await page.evaluate(axe);
          for (const rehearse of [false, true]) {
            if (rehearse) await page.click('[data-rehearse=begin]');
            const found = await page.evaluate(() => axe.run(document, { resultTypes: ['violations'] }));
            const serious = found.violations.filter((v) => ['serious', 'critical', 'moderate'].includes(v.impact));
            const told = serious.map(
              (v) => `${v.id}: ${v.help} at ${v.nodes.map((n) => n.target.join(' ')).join(', ')}`,
            );
            assert.deepEqual(told, []);
          }
          const small = await page.$$eval('#day-view button', (all) =>
            all.map((b) => [b.textContent, b.getBoundingClientRect().height]).filter(([, height]) => height < 48),
          );
          assert.deepEqual(small, [], 'targets for gloves');
        },
        { viewport: { width: 390, height: 844 }, touch: true },
      ));
  }
}
