// Reads OFF, ON and the timeline of every site out of the rendered report page, and holds them to ranking.json
// beside it.
import { strict as assert } from 'node:assert';
import { existsSync, readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';

// What no site without a window may show.
const FORBIDDEN = new RegExp(
  'filters? off|◯|\\bOFF\\b|lower (all |your )?(optics|binoculars)|corona|uncover|dark eye|used to the dark|' +
    'prominence|red rim',
  'i',
);
const CLOCK = /\b\d\d:\d\d:\d\d\b/g;

// `2028-07-22T10:57:38.000+08:00` on the clock it is told by, and its instant.
const clock = (text) => text.slice(11, 19);
const seconds = (time) => time.split(':').reduce((sum, part) => sum * 60 + Number(part), 0);

function holdStrip(text, filters, where) {
  const off = clock(filters.off),
    on = clock(filters.on);
  assert.match(text, new RegExp(`◯ Filter OFF\\s*${off} to ${on}`), `${where}: ${text}`);
  assert.match(text, new RegExp(`until ${off}`), where);
  assert.match(text, new RegExp(`from ${on} until`), where);
}

function holdTimeline(rows, filters, where) {
  const off = clock(filters.off),
    on = clock(filters.on);
  // The state's own sign, if any, stands before the words.
  const line = (title) => rows.find((row) => row.event.replace(/^[◯■] /, '').startsWith(title));
  assert.equal(line('Filter OFF')?.time, off, `${where}: Filter OFF in the timeline`);
  assert.equal(line('Filter ON')?.time, on, `${where}: Filter ON in the timeline`);
  for (const { time, state, event } of rows) {
    // Past midnight the clock begins again; a window is minutes long.
    const after = ((seconds(time) - seconds(off) + 129600) % 86400) - 43200,
      before = ((seconds(on) - seconds(time) + 129600) % 86400) - 43200;
    // A row is shown to the nearest second: within one of either end its own state may be either.
    if (state.includes('OFF'))
      assert.ok(after >= 0 && before >= 0, `${where}: OFF at ${time} (${event}), window ${off} to ${on}`);
    if (after > 0 && before > 1) assert.match(state, /OFF/, `${where}: ${time} (${event})`);
  }
}

export async function holdWindows(folder, { test, on }) {
  const groups = readdirSync(folder).filter((name) => existsSync(join(folder, name, 'report', 'report.html')));
  await test('awkward places: there are reports to read', () => assert.ok(groups.length > 0, folder));
  for (const group of groups) {
    const report = join(folder, group, 'report');
    const ranking = JSON.parse(readFileSync(join(report, 'ranking.json'), 'utf8'));
    await test(`${group}: the page shows the window of ranking.json, and no other`, () =>
      on(join(report, 'report.html'), async (page) => {
        const order = await page.evaluate(async () => (await Model.ready).sites.map((site) => site.name));
        assert.equal(order.length, ranking.sites.length);
        for (const site of ranking.sites) {
          await page.selectOption('#chosen', String(order.indexOf(site.name)));
          const day = await page.innerText('#day'),
            own = await page.innerText('#site'),
            sheet = await page.textContent('#sheet');
          const strips = await page.$$eval('#day ol.filters, #sheet ol.filters', (all) =>
            all.map((e) => e.textContent),
          );
          assert.ok(strips.length > 0, `${site.name}: no filters told`);
          const window = site.filters?.off ? site.filters : null;
          if (!window) {
            for (const text of [day, own, ...strips]) {
              assert.doesNotMatch(text, FORBIDDEN, `${site.name} has no window`);
            }
            for (const text of strips) assert.match(text, /Filter ON throughout\S*.{10,}/, `${site.name}: no reason`);
            if (site.filters?.why_none)
              assert.ok(
                strips.every((text) => text.includes(site.filters.why_none)),
                `${site.name}: ${strips[0]}`,
              );
            continue;
          }
          for (const text of strips) holdStrip(text, window, site.name);
          const rows = await page.$$eval('#day ol.timeline li', (all) =>
            all.map((e) => ({
              time: e.querySelector('b').textContent,
              state: e.querySelector('.state').textContent,
              event: e.querySelector('.event').textContent,
            })),
          );
          if (rows.length) holdTimeline(rows, window, site.name);
          assert.ok((sheet.match(CLOCK) ?? []).includes(clock(window.off)), `${site.name}: OFF on the printed sheet`);
          if (site.cloud === null)
            assert.doesNotMatch(own, /Clear line to the Sun[^.]{0,20}\b(0|under 1) %/, site.name);
        }
        const first = ranking.sites.find((site) => site.rank === 1);
        if (first?.filters?.off)
          holdStrip(
            (await page.textContent('#answer ol.filters')).trim(),
            first.filters,
            `${first.name}, the answer`,
          );
      }));
  }
}
