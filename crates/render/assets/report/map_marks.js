// What a map shows once it is drawn larger: discs stand where their places are, at the size they always have, and
// come apart; towns appear as there is room; letters and lines keep their size.
const MapMarks = (() => {
  'use strict';
  const { s } = Draw;
  const INK = '#22262c';
  const PAPER = '#fbf9f4';
  // Enlarged less than this a map stands as it was drawn; towns wait for more.
  const FROM = 1.05;
  const TOWNS_FROM = 1.5;

  // Lets letters and strokes of the drawing shrink as it grows. Done once, when a map is first enlarged.
  function ease(svg) {
    for (const name of ['font-size', 'stroke-width']) {
      for (const e of svg.querySelectorAll(`[${name}]`)) {
        const size = Number(e.getAttribute(name));
        if (size > 0 && !e.closest('defs')) e.style.setProperty(name, `calc(${size}px / var(--zoom, 1))`);
      }
    }
  }

  // Empty layers for what is drawn when the map is enlarged; they are hidden and shown with those of the drawing.
  function prepare(p) {
    p.drawn = [...p.svg.querySelectorAll(':scope > g[aria-label]')].find(
      (g) => g.getAttribute('aria-label') === 'Candidate sites',
    );
    const layer = (name) => s('g', { role: 'group', 'aria-label': name, 'pointer-events': 'none' });
    p.towns = p.map.towns.length ? layer('Towns') : null;
    p.marks = layer('Candidate sites');
    if (p.towns) p.svg.append(p.towns);
    p.svg.append(p.marks);
  }

  const at = ([x, y], zoom) => ({ transform: `translate(${x} ${y}) scale(${1 / zoom})` });
  const overlap = (a, b) => a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];
  const letters = (text, size, more) =>
    s(
      'text',
      { 'font-size': size, fill: INK, stroke: PAPER, 'stroke-width': size / 5, 'paint-order': 'stroke', ...more },
      text,
    );

  // A numbered disc with its ring, as in the drawing: the share of the ring in ink is the chance of a clear line to
  // the Sun.
  function disc(rank, clear, t) {
    const r = t * 0.8;
    const ring = r + t * 0.2;
    const turn = 2 * Math.PI * ring;
    return [
      s('circle', { r: ring + t * 0.14, fill: PAPER, stroke: INK, 'stroke-width': t * 0.04 }),
      s('circle', { r, fill: INK }),
      clear !== null &&
        s('circle', {
          r: ring,
          fill: 'none',
          stroke: INK,
          'stroke-width': t * 0.17,
          'stroke-dasharray': `${turn * Math.min(clear, 1)} ${turn}`,
          transform: 'rotate(-90)',
        }),
      s(
        'text',
        { 'font-size': t * 0.85, 'text-anchor': 'middle', y: t * 0.3, fill: PAPER, 'font-weight': 700 },
        rank,
      ),
    ];
  }
  const cross = (t) =>
    [PAPER, INK].map((stroke, k) =>
      s('path', {
        d: 'M-1 -1L1 1M-1 1L1 -1',
        transform: `scale(${t * 0.3})`,
        stroke,
        'stroke-width': k ? 0.5 : 1.2,
        fill: 'none',
      }),
    );
  const own = (t) => [
    s('path', {
      d: 'M0 -1L1 0L0 1L-1 0Z',
      transform: `scale(${t * 0.7})`,
      fill: PAPER,
      stroke: INK,
      'stroke-width': 0.35,
    }),
  ];

  // Draws a map's marks anew for its enlargement. `sites` are `{site, at}`, the best first.
  function draw(p, sites) {
    const zoom = p.scale;
    const enlarged = zoom >= FROM;
    if (enlarged && !p.eased) {
      p.eased = true;
      ease(p.svg);
    }
    p.svg.style.setProperty('--zoom', enlarged ? zoom : 1);
    if (p.drawn) p.drawn.style.visibility = enlarged ? 'hidden' : '';
    p.marks.replaceChildren();
    p.towns?.replaceChildren();
    if (!enlarged) return;
    const t = p.map.window[2] > 600 ? 13 : 11;
    const taken = [];
    const free = (box) => !taken.some((other) => overlap(box, other));
    const around = ([x, y], r) => [x * zoom - r, y * zoom - r, x * zoom + r, y * zoom + r];
    // A label right, left, below or above of a mark, where there is room.
    const label = (place, text, size, clear) => {
      const [x, y] = [place[0] * zoom, place[1] * zoom];
      const [w, h] = [text.length * size * 0.56 + 2, size * 1.1];
      const sides = [
        [clear, -h / 2, 'start', clear],
        [-clear - w, -h / 2, 'end', -clear],
        [-w / 2, clear, 'middle', 0],
        [-w / 2, -clear - h, 'middle', 0],
      ];
      for (const [dx, dy, anchor, tx] of sides) {
        const box = [x + dx, y + dy, x + dx + w, y + dy + h];
        if (!free(box)) continue;
        taken.push(box);
        return letters(text, size, { x: tx, y: dy + h * 0.78, 'text-anchor': anchor });
      }
      return null;
    };
    const nodes = [];
    const named = [];
    for (const { site, at: place } of sites) {
      const r = t * (site.rank ? 1.15 : 0.5);
      const box = around(place, r);
      if (!free(box)) {
        nodes.push(
          s('g', at(place, zoom), s('circle', { r: t * 0.16, fill: INK, stroke: PAPER, 'stroke-width': t * 0.06 })),
        );
        continue;
      }
      taken.push(box);
      const sign = site.own ? own(t) : site.rank ? disc(site.rank, site.cloud?.clear ?? null, t) : cross(t);
      const node = s('g', at(place, zoom), sign);
      nodes.push(node);
      named.push([node, site, place, r]);
    }
    for (const [node, site, place, r] of named) {
      const text = label(place, site.name.slice(0, 24), t * (site.rank || site.own ? 0.95 : 0.8), r + 2);
      if (text) node.append(text);
    }
    // The best on top.
    p.marks.append(...nodes.reverse());
    if (!p.towns || zoom < TOWNS_FROM) return;
    const listed = new Set(sites.map(({ site }) => site.name));
    for (const town of p.map.towns) {
      const box = around(town.at, t * 0.2);
      if (listed.has(town.name) || !free(box)) continue;
      const text = label(town.at, town.name, t * 0.8, t * 0.3);
      if (!text) continue;
      taken.push(box);
      const dot = s('circle', { r: t * 0.15, fill: PAPER, stroke: INK, 'stroke-width': t * 0.07 });
      p.towns.append(s('g', at(town.at, zoom), dot, text));
    }
  }

  return { prepare, draw };
})();
