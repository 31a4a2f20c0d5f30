// What a map shows once it is drawn larger: discs stand where their places are, at the size they always have, and
// come apart; towns appear as there is room; letters and lines keep their size.
const MapMarks = (() => {
  'use strict';
  const { s } = Draw;
  const { say } = Say;
  const INK = '#22262c';
  const PAPER = '#fbf9f4';
  // Enlarged less than this a map stands as it was drawn; towns wait for more.
  const FROM = 1.05;
  const TOWNS_FROM = 1.5;
  // How far a disc without room may stand from its place, in its own radii; and how many discs there are at most.
  const AWAY = [1.6, 2.2, 2.9, 3.6, 4.4, 5.2, 6];
  const MOST_DISCS = 120;

  const layerOf = (name) => `:scope > .layers > g[aria-label="${name}"]`;
  // What keeps its size about a point: the base's square with its name, the heads of arrows about their tips.
  function sizeKept(svg) {
    const kept = [];
    const base = svg.querySelector(layerOf(say('layer_base')));
    const square = base?.querySelector('rect');
    if (square) {
      const [x, y, side] = ['x', 'y', 'width'].map((name) => Number(square.getAttribute(name)));
      kept.push({ e: base, x: x + side / 2, y: y + side / 2 });
    }
    for (const e of svg.querySelectorAll(`${layerOf(say('layer_links'))} > path:not([fill="none"])`)) {
      const tip = /^M(-?[\d.]+) (-?[\d.]+)/.exec(e.getAttribute('d'));
      if (tip) kept.push({ e, x: Number(tip[1]), y: Number(tip[2]) });
    }
    return kept;
  }

  // Letters of the drawing that stay readable when it is enlarged, each about the point that it is drawn about.
  function printed(svg) {
    const ofBase = (text) => text.closest(`[aria-label="${say('layer_base')}"]`) !== null;
    const texts = svg.querySelectorAll(`${layerOf(say('layer_base'))} text, ${layerOf(say('layer_times'))} text`);
    return [...texts].map((text) => {
      const [x, y, size] = ['x', 'y', 'font-size'].map((name) => Number(text.getAttribute(name)));
      const width = text.textContent.length * size * 0.58;
      const before = { middle: width / 2, end: width }[text.getAttribute('text-anchor')] ?? 0;
      return { x, y, size, width, before, ofBase: ofBase(text) };
    });
  }

  // Lets letters and strokes of the drawing shrink as it grows. Done once, when a map is first enlarged.
  function ease(p) {
    const { svg } = p;
    p.kept = sizeKept(svg);
    p.printed = printed(svg);
    for (const name of ['font-size', 'stroke-width']) {
      for (const e of svg.querySelectorAll(`[${name}]`)) {
        const size = Number(e.getAttribute(name));
        if (size > 0 && !e.closest('defs') && !p.kept.some((kept) => kept.e.contains(e)))
          e.style.setProperty(name, `calc(${size}px / var(--zoom, 1))`);
      }
    }
  }

  // Empty layers for what is drawn when the map is enlarged; they are hidden and shown with those of the drawing.
  function prepare(p) {
    p.drawn = p.svg.querySelector(layerOf(say('layer_sites')));
    const layer = (name) => s('g', { role: 'group', 'aria-label': name, 'pointer-events': 'none' });
    p.towns = p.map.towns.length ? layer(say('layer_towns')) : null;
    p.marks = layer(say('layer_sites'));
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
      ease(p);
    }
    p.svg.style.setProperty('--zoom', enlarged ? zoom : 1);
    for (const { e, x, y } of p.kept ?? []) {
      const k = enlarged ? 1 / zoom : 1;
      e.setAttribute('transform', `translate(${x} ${y}) scale(${k}) translate(${-x} ${-y})`);
    }
    if (p.drawn) p.drawn.style.visibility = enlarged ? 'hidden' : '';
    p.marks.replaceChildren();
    p.towns?.replaceChildren();
    if (!enlarged) return;
    const t = p.map.window[2] > 600 ? 13 : 11;
    const taken = [];
    const free = (box) => !taken.some((other) => overlap(box, other));
    const around = ([x, y], r) => [x * zoom - r, y * zoom - r, x * zoom + r, y * zoom + r];
    const base = p.kept.find((kept) => kept.e.getAttribute('aria-label') === say('layer_base'));
    if (base) taken.push(around([base.x, base.y], t * 0.55));
    for (const { x, y, size, width, before, ofBase } of p.printed) {
      const [u, v] = ofBase ? [base.x * zoom + x - base.x, base.y * zoom + y - base.y] : [x * zoom, y * zoom];
      taken.push([u - before, v - size * 0.85, u - before + width, v + size * 0.25]);
    }
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
    // Where a mark that has no room at its place may stand: the nearest free spot about it, inside the map.
    const [left, top, width, height] = p.map.window.map((/** @type {number} */ v) => v * zoom);
    const aside = (place, r) => {
      const [x, y] = [place[0] * zoom, place[1] * zoom];
      for (const far of AWAY) {
        for (let k = 0; k < 16; k++) {
          const turn = (2 * Math.PI * k) / 16;
          const [u, v] = [x + far * r * Math.cos(turn), y + far * r * Math.sin(turn)];
          const box = [u - r, v - r, u + r, v + r];
          const inside = box[0] >= left && box[1] >= top && box[2] <= left + width && box[3] <= top + height;
          if (inside && free(box)) return { box, to: [u / zoom, v / zoom] };
        }
      }
      return null;
    };
    const dots = [];
    const leaders = [];
    const nodes = [];
    const named = [];
    const crowded = [];
    const stand = (/** @type {any} */ site, /** @type {any} */ place, /** @type {number} */ r) => {
      const sign = site.own ? own(t) : site.rank ? disc(site.rank, site.cloud?.clear ?? null, t) : cross(t);
      const node = s('g', { ...at(place, zoom), 'data-site': site.index ?? null }, sign);
      nodes.push(node);
      named.push([node, site, place, r]);
    };
    // First those that stand at their places, then the best of the others beside theirs, each with its leader line.
    for (const { site, at: place } of sites) {
      const r = t * (site.rank ? 1.15 : 0.5);
      const box = around(place, r);
      if (free(box)) {
        taken.push(box);
        stand(site, place, r);
      } else crowded.push([site, place, r]);
    }
    for (const [site, place, r] of crowded) {
      dots.push(
        s('g', at(place, zoom), s('circle', { r: t * 0.16, fill: INK, stroke: PAPER, 'stroke-width': t * 0.06 })),
      );
      const moved = (site.rank || site.own) && named.length < MOST_DISCS ? aside(place, r) : null;
      if (!moved) continue;
      taken.push(moved.box);
      const [dx, dy] = [(moved.to[0] - place[0]) * zoom, (moved.to[1] - place[1]) * zoom];
      const leader = s('g', { ...at(place, zoom), class: 'leader', 'data-site': site.index ?? null });
      for (const stroke of [PAPER, INK]) {
        const wide = stroke === PAPER ? 0.22 : 0.07;
        leader.append(s('line', { x1: 0, y1: 0, x2: dx, y2: dy, stroke, 'stroke-width': t * wide }));
      }
      leaders.push(leader);
      stand(site, moved.to, r);
    }
    for (const [node, site, place, r] of named) {
      const text = label(place, site.name.slice(0, 24), t * (site.rank || site.own ? 0.95 : 0.8), r + 2);
      if (text) node.append(text);
    }
    // Lines under dots, dots under discs, the best on top.
    p.marks.append(...leaders, ...dots, ...nodes.reverse());
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
