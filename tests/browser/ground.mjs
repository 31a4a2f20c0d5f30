// The ground that came with a page: hatched where it hides the Sun, and told at a tapped point.
import { strict as assert } from 'node:assert';

const LAYER = 'Ground that hides the Sun in totality';
const layers = (page) =>
  page.$$eval(
    '.plate svg > .layers > g[aria-label]',
    (all, name) => all.filter((g) => g.getAttribute('aria-label') === name),
    LAYER,
  );

export async function holdGround(pages, { test, on, model }) {
  await test('ground: what hides the Sun is hatched where the grid says so', () =>
    on(pages.ground, async (page) => {
      assert.equal((await layers(page)).length, 2);
      const { inside, outside, wrong, bytes } = await page.evaluate(async (name) => {
        const m = await Model.ready;
        let [inside, outside, bytes] = [0, 0, 0];
        const wrong = [0, 0];
        const grid = m.ground;
        document.querySelectorAll('.plate').forEach((plate, k) => {
          // A drawing that is not shown has no inside.
          if (!plate.offsetParent) return;
          const path = plate.querySelector(`svg > .layers > g[aria-label="${name}"] path[fill-rule]`);
          bytes += path.getAttribute('d').length;
          const [left, top, width, height] = m.maps[k].window;
          for (let row = 3; row < grid.rows - 3; row++)
            for (let column = 3; column < grid.columns - 3; column++) {
              // Nodes whose neighbours agree: at a rim a cell more or less decides.
              const place = (j, i) => [
                grid.north_deg - (row + j) * grid.lat_step_deg,
                grid.west_deg + (column + i) * grid.lon_step_deg,
              ];
              const behind = (j, i) => GroundEntry.at(grid, ...place(j, i))?.marginDeg < 0;
              const here = behind(0, 0);
              if (![-1, 0, 1].every((j) => [-1, 0, 1].every((i) => behind(j, i) === here))) continue;
              const at = Ground.project(m.maps[k], ...place(0, 0));
              if (!at || at[0] < left || at[0] > left + width || at[1] < top || at[1] > top + height) continue;
              if (path.isPointInFill(new DOMPoint(...at)) !== here) wrong[here ? 0 : 1]++;
              if (here) inside++;
              else outside++;
            }
        });
        return { inside, outside, wrong, bytes };
      }, LAYER);
      assert.ok(inside > 20 && outside > 20, `${inside} behind, ${outside} free`);
      // The drawing's cells lie askew to the grid's: beside a rim the next cell may decide.
      assert.ok(wrong[0] < inside / 5 && wrong[1] < outside / 50, `${wrong} of ${inside}, ${outside}`);
      assert.ok(bytes < 400_000, `${bytes} bytes of outlines`);
    }));

  await test('ground: the layer is put away and brought back by the keyboard, and the legend explains it', () =>
    on(pages.ground, async (page) => {
      const box = page.getByRole('checkbox', { name: LAYER });
      const shown = () =>
        page.$eval(`.plate svg > .layers > g[aria-label="${LAYER}"]`, (g) => getComputedStyle(g).display !== 'none');
      assert.ok((await box.isChecked()) && (await shown()));
      await box.focus();
      await page.keyboard.press('Space');
      assert.ok(!(await box.isChecked()) && !(await shown()));
      await page.keyboard.press('Space');
      assert.ok((await box.isChecked()) && (await shown()));
      const legend = await page.innerText('.legend');
      assert.match(legend, /Hatched: ground from which hills hide the Sun in totality, looked at every \d\.\d km/);
      assert.match(legend, /Paler colours: over sea and lakes/);
    }));

  await test('ground: a point is told its height and how the Sun stands to its skyline', () =>
    on(pages.ground, async (page) => {
      const at = async (lat, lon) => {
        await page.fill('#point-lat', String(lat));
        await page.fill('#point-lon', String(lon));
        await page.click('#point-form button');
        return page.innerText('.ground-here');
      };
      // The plain lies at 150 m; 1.6 km east of the wall, 750 m above it, the skyline is some 17° high and the Sun 9°.
      assert.match(
        await at(-45.4, 169.375),
        /The ground is 150 m high, and hills hide the Sun in totality: \d+\.\d° behind/,
      );
      assert.match(
        await at(-45.4, 169.2),
        /The ground is 150 m high, and in totality the Sun stands [89]\.\d° above the/,
      );
      // In the void and beyond the tile nothing is known, and nothing is taken for level.
      assert.match(await at(-45.7, 169.7), /Nothing is known of the ground here/);
      assert.match(await at(-44.9, 169.3), /Nothing is known of the ground here/);
    }));

  await test('ground: sites in a void and beyond the files say that their skyline is not known', () =>
    on(pages.ground, async (page) => {
      const m = await model(page);
      const of = (name) => m.sites.find((s) => s.name === name);
      assert.ok(of('Behind the wall').rejected.some((r) => /the skyline hides the Sun in totality/.test(r)));
      assert.equal(of('In the open').rejected.length, 0);
      assert.ok(of('In the void').warnings.some((w) => /no skyline: the terrain has a void/.test(w)));
      assert.ok(of('Beyond the tile').warnings.some((w) => /no skyline: no terrain file covers/.test(w)));
    }));
}
