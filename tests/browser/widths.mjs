// Walks the page from 320 to 1920 pixels with every panel open: nothing hangs over an edge, no column of a table is
// cut off.
import { strict as assert } from 'node:assert';

export const WIDTHS = [320, 390, 430, 768, 1024, 1366, 1920];

// A point with a long answer, kept; four sites side by side; the last site of the list in full.
export async function openEverything(page) {
  if (await page.$('#point-form')) {
    await page.fill('#point-lat', '-24.30');
    await page.fill('#point-lon', '139.50');
    await page.click('#point-form button');
    if (await page.$('#ranking-scroll')) {
      await page.fill('#point-name', 'A point of our own with a rather long name');
      await page.click('#point-keep');
    }
  }
  for (let k = 0; k < 2; k++) {
    const more = page.locator('#beside-choice button', { hasText: 'One more' });
    if (await more.count()) await more.click();
  }
}

// What sticks out of its box: `[what, by how many pixels]`.
export const overhanging = (page) =>
  page.evaluate(() => {
    const out = [];
    const name = (e) => `${e.tagName.toLowerCase()}${e.id ? `#${e.id}` : ''}.${[...e.classList].join('.')}`;
    const tell = (e, what, by) =>
      out.push(`${name(e)} "${e.textContent.trim().slice(0, 30)}": ${what} by ${Math.round(by)} px`);
    const width = document.documentElement.clientWidth;
    if (document.documentElement.scrollWidth > width)
      tell(document.documentElement, 'wider than the page', document.documentElement.scrollWidth - width);
    const view = document.querySelector('#day-view:not([hidden])');
    for (const e of (view ?? document.body).querySelectorAll('*')) {
      if (e.closest('svg, .plate, .skip, .dv-said, #sheet, script') || !e.getClientRects().length) continue;
      const box = e.getBoundingClientRect();
      const wide = e.closest('.fit.wide');
      if (!wide && box.right > width + 0.5) tell(e, 'over the right edge', box.right - width);
      if (!wide && box.left < -0.5) tell(e, 'over the left edge', -box.left);
      const style = getComputedStyle(e);
      // Text that its own box cuts off or lets hang out; form fields scroll by nature.
      const field = ['INPUT', 'SELECT', 'OPTION'].includes(e.tagName);
      if (
        !field &&
        style.display !== 'inline' &&
        !e.matches('.fit') &&
        e.scrollWidth > e.clientWidth + 1 &&
        e.clientWidth > 0
      )
        tell(e, `content wider than its box (${style.overflowX})`, e.scrollWidth - e.clientWidth);
      const fit = e.closest('.fit');
      if (fit && !wide && ['TD', 'TH'].includes(e.tagName) && box.right > fit.getBoundingClientRect().right + 1)
        tell(e, 'over the edge of its table’s box', box.right - fit.getBoundingClientRect().right);
    }
    return out;
  });

// Boxes that scroll sideways: reached by keys, moved by touch, and said to do so.
export async function holdScrollers(page, where) {
  const boxes = await page.$$eval('.fit.wide', (all) =>
    all.map((e) => ({
      inside: e.closest('section')?.id,
      tabindex: e.tabIndex,
      role: e.getAttribute('role'),
      label: e.getAttribute('aria-label'),
      overflow: getComputedStyle(e).overflowX,
      said:
        getComputedStyle(e, '::before').display !== 'none' && /swipe/.test(getComputedStyle(e, '::before').content),
    })),
  );
  for (const box of boxes) {
    assert.equal(box.inside, 'beside', `${where}: only the sites side by side may scroll, not ${box.label}`);
    assert.deepEqual(
      [box.tabindex, box.role, box.overflow, box.said],
      [0, 'region', 'auto', true],
      `${where}: ${box.label}`,
    );
  }
}

export async function walkWidths(label, file, { test, on }) {
  for (const width of WIDTHS) {
    await test(`${label}: nothing is cut off at ${width} px with every panel open`, () =>
      on(
        file,
        async (page) => {
          await openEverything(page);
          await page.waitForTimeout(150);
          assert.deepEqual(await overhanging(page), []);
          await holdScrollers(page, `${width} px`);
          if (!(await page.$('#day-mode'))) return;
          await page.click('#day-mode');
          for (const begin of [false, true]) {
            if (begin) {
              const button = await page.$('[data-rehearse=begin]');
              if (!button) continue;
              await button.click();
            }
            assert.deepEqual(await overhanging(page), [], begin ? 'in a rehearsal' : 'in day mode');
          }
        },
        { viewport: { width, height: width < 700 ? 844 : 900 }, touch: width < 700 },
      ));
  }
}
