// SVG files in programs that ignore the fonts which a file carries: the lines are set in the system’s letters, and must
// neither run out of the picture nor into one another.
import { strict as assert } from 'node:assert';
import { readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';

// Every line of a drawing: its words and its box, upright lines alone, in drawing units. `face` replaces all families.
async function lines(browser, svg, face) {
  const context = await browser.newContext({ javaScriptEnabled: true });
  const page = await context.newPage();
  const bare = svg
    .replace(/<style>.*?<\/style>/s, '')
    .replaceAll(/font-family="[^"]*"/g, `font-family="${face}"`)
    .replace(/<\?xml[^>]*>/, '');
  await page.setContent(`<body style="margin:0">${face ? bare : svg}</body>`);
  await page.evaluate(() => document.fonts.ready);
  const found = await page.evaluate(() => {
    const whole = document.querySelector('svg').getBoundingClientRect();
    return [...document.querySelectorAll('svg text')].map((e) => {
      const r = e.getBoundingClientRect();
      // The letters take the middle of a line's box; above and below lies air, more in some faces than in others.
      const air = r.height * 0.28;
      return {
        words: e.textContent.trim(),
        turned: Boolean(e.getAttribute('transform')),
        fixed: e.hasAttribute('textLength'),
        left: r.left,
        right: r.right,
        top: r.top + air,
        bottom: r.bottom - air,
        width: e.getBBox().width * Math.hypot(e.getScreenCTM().a, e.getScreenCTM().b),
        clipped: r.left < whole.left - 1 || r.right > whole.right + 1,
      };
    });
  });
  await context.close();
  return found;
}

const meet = (a, b) => a.left < b.right - 1 && b.left < a.right - 1 && a.top < b.bottom - 1 && b.top < a.bottom - 1;

export async function holdSvgFiles(folder, { test, browser }) {
  const files = readdirSync(folder).filter((name) => name.endsWith('.svg'));
  for (const name of files) {
    await test(`${name}: its lines hold their widths where its fonts are ignored`, async () => {
      const svg = readFileSync(join(folder, name), 'utf8');
      const own = await lines(browser, svg, '');
      assert.ok(own.length > 10, 'a drawing with words');
      // The widest of the faces that Linux, Windows and others have where nothing else is found.
      for (const face of ['DejaVu Sans', 'Verdana', 'sans-serif']) {
        const other = await lines(browser, svg, face);
        assert.equal(other.length, own.length);
        const fault = [];
        other.forEach((line, k) => {
          if (line.fixed && Math.abs(line.width - own[k].width) > 1 + 0.02 * own[k].width)
            fault.push(`${line.words}: ${line.width} for ${own[k].width}`);
          if (line.clipped && !own[k].clipped) fault.push(`${line.words}: cut off`);
          if (line.turned) return;
          other.slice(0, k).forEach((before, j) => {
            if (!before.turned && meet(line, before) && !meet(own[k], own[j]))
              fault.push(`${line.words} over ${before.words}`);
          });
        });
        assert.deepEqual(fault, [], face);
      }
    });
  }
}
