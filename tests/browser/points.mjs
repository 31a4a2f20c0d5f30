// Any point: what the page makes of it against the engine, and what becomes of a point that is kept.
import { strict as assert } from 'node:assert';
import { readFileSync } from 'node:fs';
import { parse } from 'smol-toml';

// A reason without its figures.
const kind = (reason) => reason.replace(/[\d.]+/g, '#').replace(/, # km from.*$/, '');

export async function holdPoints(pages, { test, on, browser, model }) {
  await test('points: utilities, scores, ranks and rejections are those of `noonfall rank` for the same places', () =>
    on(pages.points, async (page) => {
      const m = await model(page);
      const found = await page.evaluate(async () => {
        const mm = await Model.ready;
        const force = { weights: mm.criteria.map((c) => c.weight), mean: mm.plan.mean, changed: () => false };
        const rows = Scoring.order(mm, force);
        return mm.sites.map((site) => {
          const own = Assess.place(mm, 'own', site.lat_deg, site.lon_deg, site.elevation_m);
          const others = rows.filter((row) => row.site !== site);
          const { utilities, values, rejected, phase, seen } = own;
          return {
            utilities,
            values,
            rejected,
            phase,
            carried: seen.truth !== null,
            standing: Scoring.standing(mm, force, own, others),
          };
        });
      });
      let [scored, out] = [0, 0];
      const named = Object.fromEntries(m.criteria.map((c, k) => [c.name, k]));
      m.sites.forEach((site, k) => {
        const own = found[k];
        // Where the page carries no edge it tells the smooth Moon's times, and says so.
        if (!own.carried) return;
        assert.equal(own.phase, site.phase, site.name);
        assert.deepEqual(own.rejected.map(kind), site.rejected.map(kind), site.name);
        if (site.rejected.length) {
          out++;
          return;
        }
        for (const name of ['totality', 'sun_altitude']) {
          const c = named[name];
          // A tenth of a second of totality, a thousandth of a degree.
          assert.ok(
            Math.abs(own.utilities[c] - site.utilities[c]) < 2e-3,
            `${site.name}, ${name}: ${own.utilities[c]}`,
          );
        }
        assert.deepEqual(own.standing.unknown, [], site.name);
        assert.ok(
          Math.abs(own.standing.score - site.score) < 2e-3,
          `${site.name}: ${own.standing.score} against ${site.score}`,
        );
        const near = m.sites.filter((s) => s.score !== null && Math.abs(s.score - site.score) < 2e-3).length;
        assert.ok(
          Math.abs(own.standing.better + 1 - site.rank) < near,
          `${site.name}: ${own.standing.better + 1}, not ${site.rank}`,
        );
        scored++;
      });
      assert.ok(scored >= 30 && out >= 3, `${scored} scored, ${out} rejected`);
      console.log(`      ${scored} places scored as the engine scores them, ${out} rejected for the same reasons`);
    }));

  await test('points: criteria that the page does not know are named, not invented', () =>
    on(pages.demo, async (page) => {
      await page.fill('#point-lat', '-24.30');
      await page.fill('#point-lon', '139.50');
      await page.click('#point-form button');
      const text = await page.innerText('#point-out .standing');
      assert.match(
        text,
        /No full score: this page does not know Clear sky, Expected clear totality, .*Drive hours of this place/,
      );
      assert.match(text, /Over the other criteria alone it scores [01]\.\d{3}/);
      await page.fill('#point-lat', '-33.87');
      await page.fill('#point-lon', '120');
      await page.click('#point-form button');
      assert.match(await page.innerText('#point-out'), /It would be rejected: outside the path/);
    }));

  await test('points: a kept point stands in table, plan, GPX and GeoJSON, and is there again', async () => {
    const context = await browser.newContext({ acceptDownloads: true });
    const page = await context.newPage();
    await page.goto(`file://${pages.demo}`);
    await page.waitForSelector('html.whole', { state: 'attached' });
    const before = await page.$$eval('#ranking tbody tr .disc', (all) => all.map((e) => e.textContent));
    await page.fill('#point-lat', '-24.30');
    await page.fill('#point-lon', '139.50');
    await page.fill('#point-height', '90');
    await page.click('#point-form button');
    await page.fill('#point-name', 'Dune & <camp>');
    await page.click('#point-keep');
    const row = () => page.$eval('#ranking tr:has(.drop)', (tr) => tr.textContent);
    assert.match(await row(), /own.*Dune & <camp>.*this page does not know/);
    assert.deepEqual(
      await page.$$eval('#ranking tbody tr .disc', (all) => all.map((e) => e.textContent)),
      before,
      'no rank moves',
    );
    const files = async (count, click) => {
      const got = [];
      const all = new Promise((done) => page.on('download', (d) => got.push(d) === count && done()));
      await click();
      await all;
      page.removeAllListeners('download');
      return Object.fromEntries(
        await Promise.all(got.map(async (d) => [d.suggestedFilename(), readFileSync(await d.path(), 'utf8')])),
      );
    };
    const gpx = (await files(1, () => page.click('#own-files button:nth-child(1)')))['own-points.gpx'];
    assert.match(
      gpx,
      /<wpt lat="-24.300000" lon="139.500000">\s*<ele>90<\/ele>\s*<name>Dune &amp; &lt;camp&gt;<\/name>/,
    );
    const geo = JSON.parse(
      (await files(1, () => page.click('#own-files button:nth-child(2)')))['own-points.geojson'],
    );
    assert.deepEqual(geo.features[0].geometry, { type: 'Point', coordinates: [139.5, -24.3] });
    assert.deepEqual(geo.features[0].properties, { name: 'Dune & <camp>', elevation_m: 90 });
    const saved = await files(2, () => page.click('#save'));
    const plan = parse(saved['plan-reweighted.toml']);
    assert.deepEqual(plan.sites.file, ['sites.csv', 'own-points.geojson']);
    assert.deepEqual(JSON.parse(saved['own-points.geojson']), geo);
    await page.reload();
    await page.waitForSelector('html.whole', { state: 'attached' });
    assert.match(await row(), /Dune & <camp>/);
    await page.click('#ranking .drop');
    assert.equal(await page.$('#ranking .drop'), null);
    await page.reload();
    await page.waitForSelector('html.whole', { state: 'attached' });
    assert.equal(await page.$('#ranking .drop'), null);
    await context.close();
  });

  await test('points: plans in other spellings take the file of own points too', () =>
    on(pages.report, async (page) => {
      const made = (text) =>
        page.evaluate(
          (t) => Scoring.planText({ text: t }, [{ name: 'totality' }], [1], 'arithmetic', 'saved', 'own.geojson'),
          text,
        );
      const cases = [
        ['[sites]\nfile = "a.csv" # ours\n[eclipse]\ndate = "2028-07-22"\n', ['a.csv', 'own.geojson']],
        ['[sites]\nfile = [\'a.csv\', "b.kml"]\n', ['a.csv', 'b.kml', 'own.geojson']],
        ['sites.file = "a.csv"\n', ['a.csv', 'own.geojson']],
        ['[sites.towns]\ncountries = ["ES"]\n', 'own.geojson'],
        ['[sites]\nlimit = 10\n[weights]\ntotality = 3\n', 'own.geojson'],
      ];
      for (const [text, expected] of cases) {
        const plan = parse(await made(text));
        assert.deepEqual(plan.sites.file, expected, text);
        assert.deepEqual(plan.weights, { totality: 1 }, text);
      }
    }));

  await test('points: where I am is asked of the device alone, and a refusal is said', async () => {
    const context = await browser.newContext({
      geolocation: { latitude: -24.3, longitude: 139.5, accuracy: 12.3 },
      permissions: ['geolocation'],
    });
    const page = await context.newPage();
    const requests = [];
    page.on('request', (r) => requests.push(r.url()));
    await page.goto(`file://${pages.demo}`);
    await page.waitForSelector('html.whole', { state: 'attached' });
    await page.click('#point-here');
    await page.waitForSelector('#point-out table, #point-out .warn');
    assert.match(await page.innerText('#point-out'), /within 13 m of here|does not tell where it is/);
    assert.deepEqual(
      requests.filter((url) => !url.startsWith('file:')),
      [],
    );
    await context.close();
  });

  await test('weights last from one visit to the next, until they are set back', async () => {
    const context = await browser.newContext();
    const page = await context.newPage();
    const open = async () => {
      await page.goto(`file://${pages.demo}`);
      await page.waitForSelector('html.whole', { state: 'attached' });
    };
    await open();
    await page.focus('#weight-0');
    await page.keyboard.press('ArrowRight');
    await page.check('input[value=geometric]');
    const weights = () => page.$$eval('#sliders output', (all) => all.map((o) => o.textContent));
    const [own, order] = [await weights(), await page.innerText('#answer')];
    await open();
    assert.deepEqual(await weights(), own);
    assert.equal(await page.isChecked('input[value=geometric]'), true);
    assert.equal(await page.innerText('#answer'), order);
    await page.click('#reset');
    await open();
    assert.notDeepEqual(await weights(), own);
    await context.close();
  });
}
