// Drives the report page in Debian's Chromium: `node tests/browser/run.mjs [report.html]`.
//
// The pages under test are written by `cargo run -p noonfall-render --example report_pages`; a report given on the
// command line is opened, exercised and checked for accessibility as well. WINDOW_REPORTS names a folder of reports
// of awkward places, GROUP/report/report.html, each with its ranking.json (tests/exchange/windows.py leaves one).
// ONLY is a pattern of test names to run.
import { launch, open, PHONE, LAPTOP } from './chromium.mjs';
import { strict as assert } from 'node:assert';
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parse } from 'smol-toml';
import { holdWindows } from './windows.mjs';
import { walkWidths } from './widths.mjs';
import { holdDayMode } from './day.mjs';
import { holdPoints } from './points.mjs';
import { holdSvgFiles } from './svg_files.mjs';
import { holdGround } from './ground.mjs';

const here = dirname(fileURLToPath(import.meta.url));
const root = resolve(here, '../..');
const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

const given = process.argv[2] && resolve(process.argv[2]);
const own = process.env.REPORT_PAGES
  ? resolve(process.env.REPORT_PAGES)
  : mkdtempSync(join(tmpdir(), 'report-pages-'));
if (!process.env.REPORT_PAGES) {
  execFileSync('cargo', ['run', '--quiet', '-p', 'noonfall-render', '--example', 'report_pages', '--', own], {
    cwd: root,
    stdio: 'inherit',
  });
}
const pages = Object.fromEntries(
  ['report', 'demo', 'points', 'ground', 'annular', 'hostile', 'empty', 'single', 'many'].map((name) => [
    name,
    join(own, `${name}.html`),
  ]),
);
const json = (name) => JSON.parse(readFileSync(join(own, name), 'utf8'));

const browser = await launch();
let passed = 0,
  failed = 0;
const only = new RegExp(process.env.ONLY ?? '');
async function test(name, run) {
  if (!only.test(name)) return;
  try {
    await run();
    passed++;
    console.log(`ok    ${name}`);
  } catch (error) {
    failed++;
    console.log(
      `FAIL  ${name}\n      ${String(error.message ?? error)
        .split('\n')
        .slice(0, 12)
        .join('\n      ')}`,
    );
  }
}
// Opens a page, runs, and lets nothing pass that the console or the network saw.
async function on(file, run, options) {
  const opened = await open(browser, file, options);
  try {
    await run(opened.page, opened);
    assert.deepEqual(opened.seen.problems, [], 'console errors or requests');
  } finally {
    await opened.context.close();
  }
}
const near = (a, b, tolerance, what) => assert.ok(Math.abs(a - b) <= tolerance, `${what}: ${a} against ${b}`);
const names = (page) => page.$$eval('#ranking tbody th[scope=row] bdi', (all) => all.map((e) => e.textContent));
const model = (page) => page.evaluate(async () => Model.plain(await Model.ready));

// --- what every page must do, the one given on the command line too ---
async function general(label, file) {
  await test(`${label}: loads without console errors or network requests`, () =>
    on(file, async (page) => {
      await page.waitForTimeout(1200);
      assert.ok(await page.$eval('html', (e) => e.classList.contains('scripted')), 'the scripts ran');
      assert.ok((await page.title()).length > 0);
    }));

  await test(`${label}: can be read where scripts do not run`, async () => {
    const context = await browser.newContext({ javaScriptEnabled: false });
    const page = await context.newPage();
    await page.goto(`file://${file}`);
    const text = await page.innerText('body');
    assert.match(text, /ISO 12312-2/);
    assert.match(text, /eye-care professionals/);
    if (await page.$('#answer .place')) assert.match(text, /Filters/);
    await context.close();
  });

  for (const [size, viewport] of [
    ['phone', PHONE],
    ['laptop', LAPTOP],
  ]) {
    for (const scheme of ['light', 'dark']) {
      await test(`${label}: no accessibility fault at ${size} size, ${scheme}`, () =>
        on(
          file,
          async (page) => {
            // Through the debugger: the page's own policy forbids scripts that are not its own, as it should.
            await page.evaluate(axe);
            const found = await page.evaluate(() =>
              axe.run(document, {
                resultTypes: ['violations'],
                runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'],
              }),
            );
            const serious = found.violations.filter((v) => ['serious', 'critical', 'moderate'].includes(v.impact));
            assert.deepEqual(
              serious.map(
                (v) =>
                  `${v.id} (${v.impact}): ${v.help} at ${v.nodes
                    .slice(0, 3)
                    .map((n) => n.target.join(' '))
                    .join(', ')}`,
              ),
              [],
            );
          },
          { viewport, scheme, touch: size === 'phone' },
        ));
    }
    await test(`${label}: nothing hangs over the edge at ${size} size`, () =>
      on(
        file,
        async (page) => {
          const [inside, width] = await page.evaluate(() => [
            document.documentElement.scrollWidth,
            document.documentElement.clientWidth,
          ]);
          assert.ok(inside <= width, `${inside} px in a window of ${width}`);
        },
        { viewport, touch: size === 'phone' },
      ));
  }

  await test(`${label}: prints to one page, A4 and US Letter, with nothing cut off`, () =>
    on(file, async (page) => {
      if (!(await model(page)).sites.length) return;
      for (const format of ['A4', 'Letter']) {
        const pdf = (await page.pdf({ format })).toString('latin1');
        const count = (pdf.match(/\/Type\s*\/Page[^s]/g) ?? []).length;
        assert.equal(count, 1, `${format}: ${count} pages`);
      }
      // US Letter less its margins: the narrower of the two in height, A4 the narrower in width.
      await page.setViewportSize({
        width: Math.round(((210 - 24) / 25.4) * 96),
        height: 960,
      });
      await page.emulateMedia({ media: 'print' });
      const [all, kept] = await page.$eval('#sheet', (e) => [e.scrollHeight, e.clientHeight]);
      assert.ok(all <= kept + 1, `${all} px of content in ${kept} px`);
      const text = await page.innerText('#sheet');
      assert.match(text, /ISO 12312-2/);
      assert.match(text, /Filter ON/);
    }));

  await test(`${label}: filter OFF is told for totality alone`, () =>
    on(file, async (page) => {
      const sites = (await model(page)).sites;
      for (const [index, site] of sites.slice(0, 40).entries()) {
        await page.selectOption('#chosen', String(index));
        const text = (await page.innerText('#day')) + (await page.textContent('#sheet'));
        if (site.phase === 'total' && site.window) assert.match(text, /Filter OFF/);
        else assert.doesNotMatch(text, /Filter OFF|◯ OFF/, site.name);
      }
    }));

  await test(`${label}: every layer of the map can be hidden and shown`, () =>
    on(file, async (page) => {
      for (const box of await page.$$('#maptools input[type=checkbox]')) {
        const name = (await box.evaluate((e) => e.closest('label').textContent)).trim();
        const shown = () =>
          page.evaluate(
            (n) =>
              [...document.querySelectorAll(':is(.plate svg, .plate svg > .layers) > g[aria-label]')]
                .filter((g) => g.getAttribute('aria-label') === n)
                .map((g) => getComputedStyle(g).display),
            name,
          );
        // Clouds alone begin hidden.
        assert.equal(await box.isChecked(), !/cloud/i.test(name), name);
        await box.setChecked(false);
        assert.ok(
          (await shown()).every((d) => d === 'none'),
          `${name} hidden`,
        );
        await box.setChecked(true);
        assert.ok(
          (await shown()).every((d) => d !== 'none'),
          `${name} shown`,
        );
      }
    }));

  await test(`${label}: the table sorts by every column, both ways`, () =>
    on(file, async (page) => {
      const rows = (await model(page)).sites.length;
      const heads = await page.$$('#ranking thead button');
      if (!rows) return;
      for (const [k, head] of heads.entries()) {
        await head.click();
        const up = await names(page);
        const state = () => page.$eval(`#ranking thead th:nth-child(${k + 1})`, (th) => th.getAttribute('aria-sort'));
        const first = await state();
        await head.click();
        assert.notEqual(await state(), first);
        const down = await names(page);
        assert.deepEqual([...up].sort(), [...down].sort(), 'no row lost');
      }
      await heads[1].click();
      const byName = await names(page);
      assert.deepEqual(
        byName,
        [...byName].sort((a, b) => a.localeCompare(b)),
      );
    }));

  await test(`${label}: ranks and scores are the program's`, () =>
    on(file, async (page) => {
      const m = await model(page);
      const rows = await page.evaluate(async () => {
        const mm = await Model.ready;
        return Scoring.rank(
          mm.sites,
          mm.criteria,
          mm.criteria.map((c) => c.weight),
          mm.plan.mean,
        ).map((r) => [r.index, r.rank, r.score]);
      });
      for (const [index, rank, score] of rows) {
        const site = m.sites[index];
        assert.equal(rank === null, site.rank === null, site.name);
        if (score === null) continue;
        // The page carries utilities to six decimals; sites closer than that may change places.
        near(score, site.score, 2e-6, site.name);
        if (rank !== site.rank)
          near(score, m.sites[rank - 1].score, 2e-6, `${site.name}: rank ${rank} against ${site.rank}`);
      }
      const best = await page.$$eval('#ranking tbody tr', (all) =>
        all.slice(0, 5).map((tr) => Number(tr.dataset.site)),
      );
      assert.deepEqual(
        best,
        m.sites.slice(0, 5).map((_, i) => i),
      );
    }));
}

await general('test report', pages.report);
await general('demo', pages.demo);
await general('annular', pages.annular);
await general('hostile names', pages.hostile);
await general('no site', pages.empty);
await general('one site', pages.single);
if (given) await general('given report', given);
if (given) await holdSvgFiles(dirname(given), { test, browser });

// --- all widths, everything open ---
await walkWidths('test report', pages.report, { test, on });
await walkWidths('demo', pages.demo, { test, on });
await walkWidths('hostile names', pages.hostile, { test, on });

// --- the arithmetic of the page against the engine ---
function compare(found, expected, what) {
  assert.equal(found.phase, expected.phase, `${what}: phase`);
  let worst = 0;
  expected.contacts.forEach((contact, i) => {
    if (contact === null) return assert.equal(found.contacts[i], null, `${what}: contact ${i}`);
    const [t, altitude, apparent, azimuth] = contact,
      got = found.contacts[i];
    near(got.t, t, 0.1, `${what}: contact ${i}, seconds`);
    worst = Math.max(worst, Math.abs(got.t - t));
    near(got.altitudeDeg, altitude, 0.001, `${what}: altitude`);
    near(got.apparentAltitudeDeg, apparent, 0.001, `${what}: apparent altitude`);
    near(
      ((got.azimuthDeg - azimuth + 540) % 360) - 180,
      0,
      0.002 / Math.max(Math.cos((altitude * Math.PI) / 180), 1e-3),
      `${what}: azimuth`,
    );
  });
  near(found.durationS, expected.duration_s, 0.1, `${what}: duration`);
  near(found.magnitude, expected.magnitude, 1e-6, `${what}: magnitude`);
  near(found.obscuration, expected.obscuration, 1e-6, `${what}: obscuration`);
  for (const key of ['sunrise', 'sunset']) {
    if (expected[key] === null) assert.equal(found[key], null, `${what}: ${key}`);
    else near(found[key], expected[key], 0.1, `${what}: ${key}`);
  }
  return worst;
}
const inPage = (page, elements, places) =>
  page.evaluate(
    async ([e, all]) => {
      const used = e ?? (await Model.ready).elements;
      return all.map((p) => {
        return Shadow.circumstances(used, p.lat_deg, p.lon_deg, p.elevation_m);
      });
    },
    [elements, places],
  );

for (const [label, file] of [
  ['test report', pages.report],
  ['demo', pages.demo],
  ...(given ? [['given report', given]] : []),
]) {
  await test(`${label}: contacts equal the engine's within 0.1 s on 500 random points`, () =>
    on(file, async (page) => {
      const points = json('points.json');
      const m = await model(page);
      assert.equal(m.eclipse.date, points.date, 'the points are for another eclipse');
      assert.deepEqual(
        m.elements,
        points.elements,
        'the page carries other elements than the points were computed with',
      );
      assert.equal(points.places.length, 500);
      const found = await inPage(page, null, points.places);
      let worst = 0;
      const kinds = new Set();
      points.places.forEach((place, i) => {
        worst = Math.max(worst, compare(found[i], place, `${place.lat_deg}, ${place.lon_deg}`));
        kinds.add(place.phase);
      });
      assert.ok(
        ['total', 'partial', 'none'].every((kind) => kinds.has(kind)),
        `the points hold ${[...kinds]}`,
      );
      console.log(`      worst contact ${worst.toExponential(1)} s off`);
    }));
}
// The engine's contacts at the Moon's measured edge, found one by one. Its own short cut for very many places, of
// which the page has a piece, is held to 0.02″ of them: near a limit, where the edge uncovers the Sun slowly, that
// is more than 0.1 s.
for (const [label, file, least] of [
  ['test report', pages.report, 500],
  ['demo', pages.demo, 150],
  ...(given ? [['given report', given, 150]] : []),
]) {
  await test(`${label}: contacts at the Moon's measured edge equal the engine's within 0.1 s on 500 places`, () =>
    on(file, async (page) => {
      const places = json('edge-points.json');
      assert.equal(places.length, 500);
      const found = await page.evaluate(async (all) => {
        const m = await Model.ready;
        return all.map((p) => {
          const smooth = Shadow.circumstances(m.elements, p.lat_deg, p.lon_deg, p.elevation_m);
          return smooth.phase === 'none'
            ? { none: true }
            : Edge.totality(m.elements, m.edge, p.lat_deg, p.lon_deg, p.elevation_m, smooth);
        });
      }, places);
      const off = [];
      let carried = 0,
        slow = 0,
        none = 0;
      places.forEach((place, i) => {
        const got = found[i],
          what = `${place.lat_deg}, ${place.lon_deg}`;
        if (got === null) return;
        carried++;
        if (!place.truth || got.none) {
          // At the very limit a moment of totality may come or go.
          const most = place.truth ? place.truth[1] - place.truth[0] : got.none ? 0 : got.durationS;
          assert.ok(most < 2, `${what}: ${most} s of totality on one side, none on the other`);
          if (!place.truth) none++;
          return;
        }
        const [c2, c3, rate2, rate3] = place.truth;
        for (const [mine, engine, rate] of [
          [got.c2, c2, rate2],
          [got.c3, c3, rate3],
        ]) {
          const apart = Math.abs(mine - engine);
          assert.ok(
            apart <= Math.max(0.1, 0.02 / rate),
            `${what}: ${apart} s apart where the edge uncovers ${rate}″ a second`,
          );
          if (apart > 0.1) slow++;
          else off.push(apart);
        }
      });
      assert.ok(carried >= least, `the page carries the edge for ${carried} of the places`);
      assert.ok(
        off.length > carried && none > 0,
        `${off.length} contacts within 0.1 s, ${none} places without totality`,
      );
      assert.ok(slow <= off.length / 50, `${slow} contacts further off, though within 0.02″`);
      off.sort((a, b) => a - b);
      console.log(
        `      ${carried} places, ${off.length} contacts within 0.1 s: median ${off[off.length >> 1].toFixed(4)} s, ` +
          `95 % ${off[Math.floor(off.length * 0.95)].toFixed(3)} s, worst ${off.at(-1).toFixed(3)} s; ` +
          `${slow} slow ones within 0.02″`,
      );
    }));
}
await test("hybrid, polar, annular and past eclipses: contacts equal the engine's within 0.1 s", () =>
  on(pages.report, async (page) => {
    for (const set of json('other-points.json')) {
      const found = await inPage(page, set.elements, set.places);
      set.places.forEach((place, i) => compare(found[i], place, `${set.date} ${place.lat_deg}, ${place.lon_deg}`));
    }
  }));

// --- weights ---
await test('sliders re-rank at once, as an independent sum says', () =>
  on(pages.report, async (page) => {
    const m = await model(page);
    const before = await names(page);
    const cost = m.criteria.findIndex((c) => c.name === 'cost');
    await page.fill(`#weight-${cost}`, '8');
    await page.fill('#weight-0', '0');
    const weights = await page.$$eval('#sliders output', (all) => all.map((o) => Number(o.textContent)));
    assert.deepEqual(weights, [0, 1, 4, 8]);
    const score = (site) =>
      m.criteria.reduce((sum, _, i) => sum + weights[i] * (site.utilities[i] ?? 0), 0) /
      weights.reduce((a, b) => a + b, 0);
    const fit = m.sites
      .filter((s) => !s.rejected.length && s.utilities[cost] !== null)
      .sort((a, b) => score(b) - score(a))
      .map((s) => s.name);
    const after = await names(page);
    assert.deepEqual(after.slice(0, fit.length), fit);
    assert.notDeepEqual(after, before);
    // A site without the value is rejected with the reason, as the program would.
    const gap = m.sites.find((s) => !s.rejected.length && s.utilities[cost] === null);
    const row = await page.$eval(`#ranking tr[data-site="${m.sites.indexOf(gap)}"]`, (tr) => tr.textContent);
    assert.match(row, /cost cannot be scored: no value for Cost/);
    assert.match(await page.innerText('#answer'), new RegExp(`Under your own weights, stand at\\s+${fit[0]}`));
    await page.click('#reset');
    assert.deepEqual(await names(page), before);
  }));

await test('the geometric mean re-ranks, as an independent product says', () =>
  on(pages.report, async (page) => {
    const m = await model(page);
    await page.check('input[value=geometric]');
    const score = (site) =>
      Math.exp(
        m.criteria.reduce((sum, c, i) => (c.weight > 0 ? sum + c.weight * Math.log(site.utilities[i]) : sum), 0) /
          m.criteria.reduce((a, c) => a + c.weight, 0),
      );
    const fit = m.sites
      .filter((s) => !s.rejected.length)
      .sort((a, b) => score(b) - score(a))
      .map((s) => s.name);
    assert.deepEqual((await names(page)).slice(0, fit.length), fit);
  }));

await test('sliders and choices answer to the keyboard', () =>
  on(pages.report, async (page) => {
    await page.focus('#weight-2');
    const before = await page.$eval('#sliders .slider:nth-child(3) output', (o) => Number(o.textContent));
    await page.keyboard.press('ArrowLeft');
    const after = await page.$eval('#sliders .slider:nth-child(3) output', (o) => Number(o.textContent));
    near(after, before - 0.08, 1e-9, 'a hundredth of the range');
    await page.focus('#ranking thead th:nth-child(2) button');
    await page.keyboard.press('Enter');
    assert.equal(
      await page.$eval('#ranking thead th:nth-child(2)', (th) => th.getAttribute('aria-sort')),
      'ascending',
    );
    await page.focus('#ranking tbody tr:nth-child(3) button');
    const name = (await names(page))[2];
    await page.keyboard.press('Enter');
    assert.equal(await page.$eval('#chosen', (s) => s.selectedOptions[0].textContent), name);
  }));

async function saved(page) {
  const [download] = await Promise.all([page.waitForEvent('download'), page.click('#save')]);
  return [download.suggestedFilename(), readFileSync(await download.path(), 'utf8')];
}
await test('a plan is saved with the new weights and everything else as it was', () =>
  on(pages.report, async (page) => {
    await page.fill('#weight-1', '2.4');
    await page.check('input[value=geometric]');
    const [name, text] = await saved(page);
    assert.equal(name, 'test-plan-reweighted.toml');
    const plan = parse(text);
    assert.deepEqual(plan.weights, {
      totality: 3,
      sun_altitude: 2.4,
      clear_sky: 4,
      cost: 0,
    });
    assert.equal(plan.score.mean, 'geometric');
    assert.equal(plan.eclipse.date, '2028-07-22');
    assert.deepEqual(plan.require, { min_totality_s: 60 });
    assert.match(text, /# A plan for tests/);
  }));

await test("the demo's plan comes back with its comments, and other weights", () =>
  on(pages.demo, async (page) => {
    const before = parse((await model(page)).plan.text);
    await page.focus('#weight-0');
    await page.keyboard.press('ArrowRight');
    const [, text] = await saved(page);
    const after = parse(text);
    const first = (await model(page)).criteria[0].name;
    assert.notEqual(after.weights[first], before.weights[first] ?? 0);
    for (const [name, weight] of Object.entries(before.weights))
      if (name !== first) assert.equal(after.weights[name], weight, name);
    const rest = (plan) => ({ ...plan, weights: null, score: null });
    assert.deepEqual(rest(after), rest(before));
    for (const comment of (await model(page)).plan.text.match(/#.*$/gm)) assert.ok(text.includes(comment), comment);
  }));

await test('plans in other spellings keep their meaning', () =>
  on(pages.report, async (page) => {
    const made = (text, mean = 'geometric') =>
      page.evaluate(
        ([t, m]) => Scoring.planText({ text: t }, [{ name: 'totality' }, { name: 'odd name' }], [1.5, 2], m, 'saved'),
        [text, mean],
      );
    const cases = [
      'weights.totality = 1\nscore.mean = "arithmetic"\nscore.profile = "families"\n[eclipse]\ndate = "2028-07-22"\n',
      'weights = { totality = 1 }\n[eclipse]\ndate = "2028-07-22"\n',
      '[eclipse]\r\ndate = "2028-07-22"\r\n[weights]\r\ntotality = 1\r\n\r\n[score]\r\nprofile = "families"\r\n',
      '[eclipse]\ndate = "2028-07-22"\n[output]\ntitle = """\n[weights]\nnot = "a key"\n"""\n' +
        '["weights"]\ntotality = 9\n',
    ];
    for (const text of cases) {
      const plan = parse(await made(text));
      assert.deepEqual(plan.weights, { totality: 1.5, 'odd name': 2 }, text);
      assert.equal(plan.score.mean, 'geometric', text);
      assert.equal(plan.eclipse.date, '2028-07-22', text);
      if (text.includes('profile')) assert.equal(plan.score.profile, 'families', text);
      if (text.includes('output')) assert.match(plan.output.title, /\[weights\]\nnot = "a key"/);
    }
  }));

// --- the map and the tapped point ---
for (const [size, options] of [
  ['laptop', { viewport: LAPTOP }],
  ['phone', { viewport: PHONE, touch: true }],
]) {
  await test(`a point tapped on the map is computed in the page (${size})`, () =>
    on(
      pages.report,
      async (page) => {
        await page.locator('.plate:visible').scrollIntoViewIfNeeded();
        const box = await page.locator('.plate:visible svg').boundingBox();
        const where = [box.x + box.width * 0.3, box.y + box.height * 0.75];
        if (options.touch) await page.touchscreen.tap(...where);
        else await page.mouse.click(...where);
        const text = await page.innerText('#point-out');
        assert.match(text, /Partial only/);
        assert.match(text, /C1/);
        assert.doesNotMatch(text, /Filter OFF/);
        // The test's map is equirectangular: a straight line from pixels to degrees is an independent check of the
        // way back.
        const m = await model(page);
        const map = m.maps[options.touch ? 1 : 0];
        const [lat, lon] = [Number(await page.inputValue('#point-lat')), Number(await page.inputValue('#point-lon'))];
        const back = await page.evaluate(
          async ([k, la, lo]) => {
            const mm = await Model.ready;
            return Ground.project(mm.maps[k], la, lo);
          },
          [options.touch ? 1 : 0, lat, lon],
        );
        near(back[0] / map.window[2], 0.3, 0.005, 'x');
        near(back[1] / map.window[3], 0.75, 0.005, 'y');
      },
      options,
    ));
}

await test('the way from the map to the globe and back is exact', () =>
  on(pages.report, async (page) => {
    const worst = await page.evaluate(async () => {
      const m = await Model.ready;
      let off = 0;
      for (const map of m.maps)
        for (let i = 1; i < 20; i++)
          for (let j = 1; j < 20; j++) {
            const p = [map.window[0] + (map.window[2] * i) / 20, map.window[1] + (map.window[3] * j) / 20];
            const { latDeg, lonDeg } = Ground.unproject(map, ...p),
              q = Ground.project(map, latDeg, lonDeg);
            off = Math.max(off, Math.hypot(q[0] - p[0], q[1] - p[1]));
          }
      return off;
    });
    assert.ok(worst < 0.01, `${worst} drawing units`);
  }));

await test("a point given by its coordinates: totality, no time for bare eyes, and the nearest site's clock", () =>
  on(pages.report, async (page) => {
    await page.fill('#point-lat', '-24.30');
    await page.fill('#point-lon', '139.50');
    await page.fill('#point-height', '100');
    await page.click('#point-form button');
    const text = await page.innerText('#point-out');
    // As the program has it for this place: 259 s.
    assert.match(text, /Totality for 4 min 19 s at the Moon’s measured edge/);
    assert.match(
      text,
      /C2 and C3 at the Moon’s measured edge \([−+]\d+\.\d s and [−+]\d+\.\d s from a smooth Moon’s\)/,
    );
    assert.match(text, /clock of Bedourie, the nearest listed site, \d+ km away \(Australia\/Brisbane, UTC\+10\)/);
    assert.match(text, /Filter ON throughout/);
    assert.doesNotMatch(text, /Filter OFF/);
    await page.fill('#point-lat', '10');
    await page.fill('#point-lon', '100');
    await page.click('#point-form button');
    assert.match(
      await page.innerText('#point-out'),
      /clock of this device \(Europe\/Berlin, UTC\+2\), not of the place|Nothing of this eclipse/,
    );
    await page.fill('#point-lat', '95');
    await page.click('#point-form button');
    assert.match(await page.innerText('#point-out'), /Give a latitude from −90/);
  }));

await test('a tapped site shows the site', () =>
  on(pages.report, async (page) => {
    const m = await model(page);
    const index = m.sites.findIndex((s) => s.name === 'Sydney');
    await page.locator('.plate.wide').scrollIntoViewIfNeeded();
    const at = await page.evaluate(async (k) => {
      const mm = await Model.ready;
      const [x, y] = Ground.project(mm.maps[0], mm.sites[k].lat_deg, mm.sites[k].lon_deg);
      const svg = document.querySelector('.plate.wide svg'),
        p = new DOMPoint(x, y).matrixTransform(svg.getScreenCTM());
      return [p.x, p.y];
    }, index);
    await page.mouse.click(...at);
    assert.equal(await page.inputValue('#chosen'), String(index));
  }));

await test('the map zooms by button and key, and a tap still finds its place', () =>
  on(pages.report, async (page) => {
    await page.click('#maptools button[aria-label="Zoom in"]');
    await page.focus('.plate.wide');
    await page.keyboard.press('+');
    const scaled = (wanted) =>
      page.waitForFunction((wanted) => {
        const plate = document.querySelector('.plate.wide > div');
        return Math.abs(new DOMMatrix(getComputedStyle(plate).transform).a - wanted) < 1e-6;
      }, wanted);
    await scaled(1.6 * 1.6);
    const moved = () => page.evaluate(() => getComputedStyle(document.querySelector('.plate.wide > div')).transform);
    const still = await moved();
    await page.keyboard.press('ArrowLeft');
    // Moved in the next frame.
    await page.waitForFunction(
      (still) => getComputedStyle(document.querySelector('.plate.wide > div')).transform !== still,
      still,
    );
    const box = await page.locator('.plate.wide').boundingBox();
    const at = [box.x + box.width / 2 + 60, box.y + box.height / 2 - 90];
    const expected = await page.evaluate(async ([x, y]) => {
      const m = await Model.ready,
        svg = document.querySelector('.plate.wide svg');
      const p = new DOMPoint(x, y).matrixTransform(svg.getScreenCTM().inverse());
      return Ground.unproject(m.maps[0], p.x, p.y);
    }, at);
    await page.mouse.click(...at);
    near(Number(await page.inputValue('#point-lat')), expected.latDeg, 2e-4, 'latitude');
    // A drag moves the map and is not a tap.
    const before = await page.inputValue('#point-lat');
    await page.mouse.move(...at);
    await page.mouse.down();
    await page.mouse.move(at[0] + 70, at[1] + 40, { steps: 5 });
    await page.mouse.up();
    assert.equal(await page.inputValue('#point-lat'), before);
    await page.focus('.plate.wide');
    await page.keyboard.press('0');
    await scaled(1);
  }));

// --- side by side, countdown, day ---
await test('side by side begins with low Sun against high Sun and takes more', () =>
  on(pages.report, async (page) => {
    const m = await model(page);
    const heads = () => page.$$eval('#beside-out thead th', (all) => all.map((e) => e.textContent));
    assert.deepEqual(await heads(), [...m.pair.map((i) => m.sites[i].name), 'Second less first']);
    const altitude = (i) => m.sites[i].contacts[2].altitude_deg;
    assert.ok(altitude(m.pair[0]) < 20 && altitude(m.pair[1]) > 40);
    assert.match(await page.innerText('#beside-out'), /Words of the test/);
    await page.click('#beside-choice button');
    assert.equal((await heads()).length, 3);
  }));

await test("the countdown runs by the device's clock and says so", async () => {
  let site = null;
  await on(pages.report, async (usual) => {
    site = (await model(usual)).sites[0];
  });
  const context = await browser.newContext();
  const page = await context.newPage();
  const c2 = site.contacts[1].at.utc_ms;
  await page.clock.install({ time: new Date(c2 - 65_000) });
  await page.goto(`file://${pages.report}`);
  await page.waitForSelector('html.whole', { state: 'attached' });
  const left = () => page.$eval(`[data-until="${c2}"]`, (e) => e.textContent);
  // The clock runs on while the page loads: a few seconds either way.
  assert.match(await left(), /^(1 min 0[0-5]|5\d) s$/);
  await page.clock.runFor(30_000);
  assert.match(await left(), /^[23]\d s$/);
  assert.match(await page.innerText('#device-clock'), /clock of this device, which now says 2028-07-22 .* UTC/);
  await page.clock.runFor(60_000);
  assert.equal(await left(), 'past');
  await context.close();
});

await test("local times are those of the site's zone", () =>
  on(pages.report, async (page) => {
    const m = await model(page);
    for (const name of ['Bedourie', 'Queenstown', 'Wyndham']) {
      const index = m.sites.findIndex((s) => s.name === name),
        site = m.sites[index];
      await page.selectOption('#chosen', String(index));
      // The browser's own time-zone data are the outside check.
      const expected = new Intl.DateTimeFormat('en-GB', {
        timeZone: site.zone,
        hour: '2-digit',
        minute: '2-digit',
        second: '2-digit',
      }).format(Math.round(site.contacts[1].at.utc_ms / 1000) * 1000);
      const row = await page.innerText('#countdown tbody tr:nth-child(2)');
      assert.ok(row.includes(expected), `${name}: ${expected} in ${row}`);
    }
  }));

await test('sky, track and odds are drawn and described', () =>
  on(pages.report, async (page) => {
    const titles = await page.$$eval('#site svg.chart title', (all) => all.map((e) => e.textContent));
    assert.deepEqual(titles, [
      'The sky in totality, facing the Sun',
      'The Sun’s track above the skyline',
      'Chance of a clear line to the Sun',
    ]);
    const numbers = await page.$$eval('#site svg.chart *', (all) =>
      all.flatMap((e) => [...e.attributes].map((a) => a.value)).filter((v) => /NaN|Infinity|undefined/.test(v)),
    );
    assert.deepEqual(numbers, []);
  }));

// --- hostile and large input ---
await test('hostile names stay text', () =>
  on(pages.hostile, async (page) => {
    assert.equal(await page.$('img'), null);
    assert.notEqual(await page.title(), 'taken');
    const m = await model(page);
    assert.deepEqual((await names(page)).sort(), m.sites.map((s) => s.name).sort());
    for (let k = 0; k < m.sites.length; k++) await page.selectOption('#chosen', String(k));
  }));

await test('twenty thousand sites: few rows at a time, all of them told, and the last can be reached', () =>
  on(pages.many, async (page) => {
    const rows = () => page.$$eval('#ranking tbody tr[data-site]', (all) => all.length);
    assert.ok((await rows()) <= 200, `${await rows()} rows at the start`);
    await page.fill('#weight-0', '1');
    await page.click('#more');
    assert.equal(await page.getAttribute('#ranking', 'aria-rowcount'), '20001');
    let most = 0;
    const box = await page.$('#ranking-scroll');
    assert.equal(await box.getAttribute('tabindex'), '0');
    for (let k = 1; k <= 12; k++) {
      await box.evaluate((e, part) => e.scrollTo(0, (e.scrollHeight * part) / 12), k);
      await page.waitForTimeout(150);
      most = Math.max(most, await rows());
    }
    assert.ok(most <= 400, `${most} rows in the page at once`);
    // By keys, pressed again until they are there: rows that are made on the way may stop a scroll that is running.
    await box.focus();
    const press = async (key, there) => {
      for (let tries = 0; tries < 120 && !(await page.evaluate(there)); tries++) {
        await page.keyboard.press(key);
        await page.waitForTimeout(500);
      }
      assert.ok(await page.evaluate(there), `${key} does not get there`);
    };
    await press('End', () => Boolean(document.querySelector('#ranking tr[aria-rowindex="20001"]')));
    assert.ok((await rows()) <= 400, `${await rows()} rows at the end`);
    await press('Home', () => document.querySelector('#ranking-scroll').scrollTop === 0);
    await page.fill('#find', 'Camp 12345');
    assert.deepEqual(await names(page), ['Camp 12345']);
    assert.ok((await page.$$('#chosen option')).length <= 201);
  }));

for (const [size, viewport] of [
  ['phone', PHONE],
  ['laptop', LAPTOP],
]) {
  await test(`zoomed map at ${size} size: discs keep apart, and each that left its place has its leader line`, () =>
    on(
      pages.many,
      async (page) => {
        const at = () =>
          page.evaluate(async () => {
            const m = await Model.ready;
            const plates = [...document.querySelectorAll('.plate')];
            const k = plates.findIndex((p) => p.offsetParent !== null);
            const layer = [
              ...plates[k].querySelectorAll(':is(svg, svg > .layers) > g[aria-label="Candidate sites"]'),
            ].at(-1);
            const numbers = (g) =>
              g
                .getAttribute('transform')
                .match(/-?[\d.]+(?:e-?\d+)?/g)
                .map(Number);
            const found = [...layer.querySelectorAll('g[data-site]:not(.leader)')].map((g) => {
              const [x, y, scale] = numbers(g);
              const site = m.sites[Number(g.dataset.site)];
              const [u, v] = Ground.project(m.maps[k], site.lat_deg, site.lon_deg);
              const radius = Math.max(...[...g.querySelectorAll('circle')].map((c) => Number(c.getAttribute('r'))));
              const line = layer.querySelector(`g.leader[data-site="${g.dataset.site}"]`);
              let ends = null;
              if (line) {
                const [a, b, part] = numbers(line);
                const [dx, dy] = ['x2', 'y2'].map((n) => Number(line.querySelector('line').getAttribute(n)));
                ends = [a, b, a + dx * part, b + dy * part];
              }
              return {
                rank: site.rank,
                x,
                y,
                u,
                v,
                scale,
                radius: radius * scale,
                ends,
              };
            });
            return { found, lines: layer.querySelectorAll('g.leader').length };
          });
        await page.$$eval('.plate', (all) => all.find((p) => p.offsetParent !== null).focus());
        let moved = 0;
        const enlarged = () =>
          page.$$eval('.plate', (all) => {
            const { style } = all.find((p) => p.offsetParent !== null).querySelector('svg');
            return Number(style.getPropertyValue('--zoom') || 1);
          });
        for (let zoom = 0; zoom < 4; zoom++) {
          const before = await enlarged();
          await page.keyboard.press('+');
          // Drawn in the next frame. A map that was drawn once but never enlarged says 1.
          await page.waitForFunction((before) => {
            const { style } = [...document.querySelectorAll('.plate')]
              .find((p) => p.offsetParent !== null)
              .querySelector('svg');
            return Number(style.getPropertyValue('--zoom') || 1) > before;
          }, before);
          const { found, lines } = await at();
          assert.ok(found.length > 20, `${found.length} discs`);
          let own = 0;
          for (const d of found) {
            const away = Math.hypot(d.x - d.u, d.y - d.v);
            if (away > d.radius * 0.01) {
              own++;
              assert.ok(d.ends, `rank ${d.rank} stands ${away} away without a line`);
              near(d.ends[0], d.u, 1e-6, 'the line begins at the place');
              near(d.ends[1], d.v, 1e-6, 'the line begins at the place');
              near(d.ends[2], d.x, 1e-6, 'the line ends at the disc');
              near(d.ends[3], d.y, 1e-6, 'the line ends at the disc');
              assert.ok(away < d.radius * 7, `rank ${d.rank} stands ${away / d.radius} radii away`);
            } else assert.equal(d.ends, null, `rank ${d.rank} stands at its place and has a line`);
          }
          assert.equal(own, lines, 'lines without a disc');
          moved += own;
          found.forEach((a, k) => {
            for (const b of found.slice(0, k)) {
              const apart = Math.hypot(a.x - b.x, a.y - b.y);
              assert.ok(apart > 0.9 * (a.radius + b.radius), `ranks ${a.rank} and ${b.rank} overlap`);
            }
          });
        }
        assert.ok(moved > 0, 'no disc was moved: the test saw nothing');
      },
      { viewport, touch: size === 'phone' },
    ));
}

await test('without the browser’s own decompression the page reads its data all the same', async () => {
  const context = await browser.newContext({
    timezoneId: 'Europe/Berlin',
    locale: 'en-GB',
  });
  const page = await context.newPage();
  await page.addInitScript(() => delete window.DecompressionStream);
  await page.goto(`file://${pages.demo}`);
  await page.waitForSelector('html.whole', { state: 'attached' });
  assert.equal(await page.evaluate(() => typeof DecompressionStream), 'undefined');
  const plain = await model(page);
  await on(pages.demo, async (usual) => assert.deepEqual(plain, await model(usual)));
  await context.close();
});

await test('no site: the page says so', () =>
  on(pages.empty, async (page) => {
    assert.match(await page.innerText('#answer'), /no candidate site/);
    assert.equal(await page.$('#day'), null);
  }));

await test('annular: never a filter OFF, and the cautions for it', () =>
  on(pages.annular, async (page) => {
    await page.fill('#point-lat', '37.98');
    await page.fill('#point-lon', '23.73');
    await page.click('#point-form button');
    assert.doesNotMatch(await page.innerText('main'), /Filter OFF/);
    assert.match(await page.innerText('#answer'), /No site can be ranked/);
  }));

// --- day mode, and any point ---
await holdDayMode(pages, { test, on, browser, model, axe });
await holdPoints(pages, { test, on, browser, model });

// --- the ground that came along ---
await holdGround(pages, { test, on, model });

// --- the window of awkward places, as shown ---
if (process.env.WINDOW_REPORTS) await holdWindows(process.env.WINDOW_REPORTS, { test, on });

await browser.close();
if (!process.env.REPORT_PAGES) rmSync(own, { recursive: true });
console.log(`browser tests: ${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
