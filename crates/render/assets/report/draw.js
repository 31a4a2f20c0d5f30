// Elements and small drawings. Every text goes through textContent: nothing that a user wrote is ever read as markup.
const Draw = (() => {
  'use strict';
  const { say } = Say;
  const SVG = 'http://www.w3.org/2000/svg';
  let count = 0;

  function fill(element, attributes, children) {
    for (const [name, value] of Object.entries(attributes ?? {})) {
      if (value === null || value === undefined || value === false) continue;
      if (name === 'on') for (const [event, f] of Object.entries(value)) element.addEventListener(event, f);
      else element.setAttribute(name, value === true ? '' : value);
    }
    for (const child of children.flat(Infinity)) {
      if (child === null || child === undefined || child === false) continue;
      element.append(child instanceof Node ? child : document.createTextNode(String(child)));
    }
    return element;
  }
  const el = (name, attributes, ...children) => fill(document.createElement(name), attributes, children);
  const s = (name, attributes, ...children) => fill(document.createElementNS(SVG, name), attributes, children);
  const round = (v) => Math.round(v * 10) / 10;
  const line = (points) => points.map(([x, y], i) => `${i ? 'L' : 'M'}${round(x)} ${round(y)}`).join('');

  // Tells a table's box whether its table is wider than itself: then it can be reached by keys, and says that it
  // scrolls.
  const widths = new ResizeObserver((entries) => {
    for (const { target } of entries) {
      const box = target.closest('.fit');
      if (!box) continue;
      const wide = box.scrollWidth > box.clientWidth + 1;
      box.classList.toggle('wide', wide);
      const scrolls = wide || box.classList.contains('long');
      if (scrolls) box.setAttribute('tabindex', '0');
      else box.removeAttribute('tabindex');
    }
  });
  const watch = (box) => {
    widths.observe(box);
    widths.observe(box.querySelector('table'));
    return box;
  };

  const ROLES = { THEAD: 'rowgroup', TBODY: 'rowgroup', TR: 'row', TD: 'cell' };
  // A table in a box that it never sticks out of. `stacked` makes a block of each row where the box is narrow; the
  // roles keep it a table for screen readers then.
  function table(label, attributes, ...children) {
    const made = el('table', { ...attributes, role: 'table' }, ...children);
    const heads = [...(made.tHead?.rows[0]?.cells ?? [])].map((cell) => cell.textContent);
    for (const part of made.querySelectorAll('thead, tbody, tr, td, th')) {
      const head = part.getAttribute('scope') === 'row' ? 'rowheader' : 'columnheader';
      part.setAttribute('role', ROLES[part.tagName] ?? head);
    }
    for (const row of made.tBodies[0]?.rows ?? [])
      [...row.cells].forEach((cell, k) => cell.setAttribute('data-label', heads[k] ?? ''));
    return watch(el('div', { class: 'fit', role: 'region', 'aria-label': label }, made));
  }

  // A chart with a title and a description for screen readers.
  function chart(width, height, title, description, ...children) {
    const id = `chart-${++count}`;
    return s(
      'svg',
      { class: 'chart', viewBox: `0 0 ${width} ${height}`, role: 'img', 'aria-labelledby': `${id}-t ${id}-d` },
      s('title', { id: `${id}-t` }, title),
      s('desc', { id: `${id}-d` }, description),
      children,
    );
  }

  // A drawing that came with the page, made by the program alone.
  function drawn(svg) {
    const root = document.importNode(new DOMParser().parseFromString(svg, 'image/svg+xml').documentElement, true);
    root.setAttribute('class', 'drawn');
    root.removeAttribute('width');
    root.removeAttribute('height');
    return root;
  }

  const turn = (azimuth, centre) => ((((azimuth - centre) % 360) + 540) % 360) - 180;

  const stands = (body, height, azimuth) => say('stands', { body, height, direction: Words.wind(azimuth) });

  // Facing the Sun in totality: directions along the horizon, heights upwards, the zenith at the top.
  function sky(sun, bodies) {
    const W = 440,
      H = 270,
      left = 34,
      right = 434,
      ground = 232,
      top = 14,
      HALF = 110;
    const x = (azimuth) => (left + right) / 2 + (turn(azimuth, sun.azimuth_deg) / HALF) * ((right - left) / 2);
    const y = (altitude) => ground - (altitude / 90) * (ground - top);
    const shown = bodies.filter(
      (b) => b.altitude_deg > 0 && Math.abs(turn(b.azimuth_deg, sun.azimuth_deg)) < HALF - 2,
    );
    const parts = [];
    for (const altitude of [30, 60, 90]) {
      parts.push(
        s('path', { class: 'axis', d: `M${left} ${y(altitude)}H${right}`, 'stroke-dasharray': '1 5' }),
        s('text', { class: 'q', x: 2, y: y(altitude) + 5 }, `${altitude}°`),
      );
    }
    parts.push(s('rect', { class: 'ground', x: left, y: ground, width: right - left, height: 4 }));
    for (let azimuth = 0; azimuth < 360; azimuth += 45) {
      if (Math.abs(turn(azimuth, sun.azimuth_deg)) > HALF - 3) continue;
      parts.push(
        s('path', { class: 'axis', d: `M${x(azimuth)} ${ground}v9` }),
        s('text', { x: x(azimuth), y: ground + 26, 'text-anchor': 'middle' }, Words.shortWind(azimuth)),
      );
    }
    // Labels keep off discs, off the scale and off one another: the brightest choose first, on either side, then
    // higher or lower.
    const [sx, sy] = [x(sun.azimuth_deg), y(sun.altitude_deg)];
    const size = (b) => Math.min(Math.max(4.2 - b.magnitude * 0.8, 2), 7);
    const around = (px, py, r) => [px - r, py - r, 2 * r, 2 * r];
    const taken = [
      around(sx, sy, 14),
      ...[30, 60, 90].map((altitude) => [0, y(altitude) - 9, left, 18]),
      ...shown.map((b) => around(x(b.azimuth_deg), y(b.altitude_deg), size(b))),
    ];
    const free = (box) =>
      box[0] >= 0 &&
      box[0] + box[2] <= W &&
      box[1] >= 0 &&
      box[1] + box[3] <= ground &&
      taken.every(
        (t) => box[0] > t[0] + t[2] || t[0] > box[0] + box[2] || box[1] > t[1] + t[3] || t[1] > box[1] + box[3],
      );
    const label = (px, py, text, quiet, r) => {
      const w = text.length * 8.2 + 4,
        d = r + 4;
      for (const [dx, dy, anchor] of [
        [d, 5, 'start'],
        [-d, 5, 'end'],
        [d, -6 - r / 2, 'start'],
        [-d, -6 - r / 2, 'end'],
        [d, 16 + r / 2, 'start'],
        [-d, 16 + r / 2, 'end'],
        [0, -7 - r, 'middle'],
        [0, 18 + r, 'middle'],
      ]) {
        const bx = anchor === 'start' ? px + dx : anchor === 'end' ? px + dx - w : px - w / 2;
        const box = [bx, py + dy - 13, w, 17];
        if (!free(box)) continue;
        taken.push(box);
        return s(
          'text',
          { class: quiet ? 'q' : null, x: round(px + dx), y: round(py + dy), 'text-anchor': anchor },
          text,
        );
      }
      return null;
    };
    parts.push(
      s('circle', { class: 'halo', cx: sx, cy: sy, r: 12 }),
      s('circle', { class: 'moon', cx: sx, cy: sy, r: 8 }),
      label(sx, sy, say('sun'), false, 14),
    );
    for (const b of [...shown].sort((a, c) => a.magnitude - c.magnitude)) {
      const [px, py] = [x(b.azimuth_deg), y(b.altitude_deg)];
      const r = size(b);
      parts.push(
        s('circle', { class: b.visible ? 'body' : 'open', cx: round(px), cy: round(py), r: round(r) }),
        label(px, py, b.body, !b.visible, r),
      );
    }
    const place = (b) => stands(b.body, Math.round(b.altitude_deg), b.azimuth_deg);
    const told = shown.map((b) => (b.visible ? place(b) : say('hard_to_see', { body: place(b) })));
    return chart(
      W,
      H,
      say('sky_facing'),
      say('sky_said', {
        height: Math.round(sun.altitude_deg),
        direction: Words.wind(sun.azimuth_deg),
        bodies: told.join('; '),
      }),
      parts,
    );
  }

  // The Sun's track above the skyline, from first to last contact.
  function skyline(track, marks, profile) {
    const W = 440,
      H = 270,
      left = 40,
      right = 432,
      bottom = 232,
      top = 16;
    const centre = track[Math.floor(track.length / 2)].azimuthDeg;
    const turns = track.map((v) => turn(v.azimuthDeg, centre));
    const spread = Math.max(Math.max(...turns) - Math.min(...turns), 20);
    const [from, to] = [Math.min(...turns) - spread * 0.12, Math.max(...turns) + spread * 0.12];
    const near = (profile ?? [])
      .map(([a, h]) => [turn(a, centre), h])
      .sort((a, b) => a[0] - b[0])
      .filter(([a]) => a >= from - 2 && a <= to + 2);
    const highest = Math.max(...track.map((v) => v.apparentAltitudeDeg), ...near.map(([, h]) => h), 4) * 1.18;
    const lowest = Math.min(0, ...near.map(([, h]) => h));
    const x = (t) => left + ((t - from) / (to - from)) * (right - left);
    const y = (h) => bottom - ((h - lowest) / (highest - lowest)) * (bottom - top);
    const step = [1, 2, 5, 10, 15, 20, 30].find((d) => highest / d <= 6) ?? 30;
    const parts = [];
    for (let h = 0; h < highest; h += step) {
      parts.push(
        s('path', { class: 'axis', d: `M${left} ${round(y(h))}H${right}`, 'stroke-dasharray': h ? '1 5' : null }),
        s('text', { class: 'q', x: left - 5, y: y(h) + 5, 'text-anchor': 'end' }, `${h}°`),
      );
    }
    if (near.length > 1) {
      const ridge = near.map(([a, h]) => [Math.min(Math.max(x(a), left), right), y(h)]);
      parts.push(
        s('path', { class: 'ground', d: `${line([[ridge[0][0], bottom], ...ridge, [ridge.at(-1)[0], bottom]])}Z` }),
      );
    } else {
      parts.push(s('rect', { class: 'ground', x: left, y: y(0), width: right - left, height: 4 }));
    }
    for (let azimuth = 0; azimuth < 360; azimuth += 22.5) {
      const t = turn(azimuth, centre);
      if (t < from || t > to) continue;
      parts.push(
        s('path', { class: 'axis', d: `M${round(x(t))} ${bottom}v9` }),
        s('text', { x: x(t), y: bottom + 26, 'text-anchor': 'middle' }, Words.shortWind(azimuth)),
      );
    }
    const above = track.filter((v) => v.apparentAltitudeDeg > -0.6);
    parts.push(
      s('path', {
        class: 'track',
        d: line(above.map((v) => [x(turn(v.azimuthDeg, centre)), y(v.apparentAltitudeDeg)])),
      }),
    );
    for (const { view, name, deep } of marks) {
      if (view.apparentAltitudeDeg < -0.3) continue;
      const [px, py] = [x(turn(view.azimuthDeg, centre)), y(view.apparentAltitudeDeg)];
      const below = py < top + 26;
      parts.push(
        s('circle', { class: deep ? 'deep' : 'open', cx: round(px), cy: round(py), r: deep ? 7 : 5 }),
        s(
          'text',
          {
            x: round(Math.min(Math.max(px, left + 14), right - 18)),
            y: round(below ? py + 24 : py - 12),
            'text-anchor': 'middle',
          },
          name,
        ),
      );
    }
    const said = marks.map(({ view, name }) => stands(name, view.apparentAltitudeDeg.toFixed(1), view.azimuthDeg));
    return chart(
      W,
      H,
      say('track_above'),
      `${said.join('; ')}. ${near.length > 1 ? say('skyline_below') : say('level')}`,
      parts,
    );
  }

  // How sure the chance of a clear line to the Sun is: the Beta curve where there is one, the 95 % interval always.
  function odds(cloud) {
    const W = 440,
      H = 170,
      left = 14,
      right = 426,
      base = 118,
      top = 14;
    const x = (p) => left + p * (right - left);
    const parts = [];
    if (cloud.beta) {
      const [a, b] = cloud.beta;
      const points = Array.from({ length: 199 }, (_, i) => (i + 1) / 200);
      const log = points.map((p) => (a - 1) * Math.log(p) + (b - 1) * Math.log(1 - p));
      const peak = Math.max(...log);
      const y = (i) => base - Math.exp(log[i] - peak) * (base - top);
      const inside = points.map((p, i) => [p, i]).filter(([p]) => p >= cloud.low_95 && p <= cloud.high_95);
      const curve = inside.map(([p, i]) => [x(p), y(i)]);
      if (inside.length > 1) {
        parts.push(
          s('path', {
            class: 'pale',
            d: `${line([[x(inside[0][0]), base], ...curve, [x(inside.at(-1)[0]), base]])}Z`,
          }),
        );
      }
      parts.push(s('path', { class: 'track', d: line(points.map((p, i) => [x(p), y(i)])) }));
    }
    parts.push(s('path', { class: 'axis', d: `M${left} ${base}H${right}` }));
    for (const p of [0, 0.25, 0.5, 0.75, 1]) {
      parts.push(
        s('path', { class: 'axis', d: `M${x(p)} ${base}v7` }),
        s(
          'text',
          { class: 'q', x: x(p), y: base + 45, 'text-anchor': p === 0 ? 'start' : p === 1 ? 'end' : 'middle' },
          Words.percent(p),
        ),
      );
    }
    parts.push(
      s('path', {
        d: `M${x(cloud.low_95)} ${base + 14}H${x(cloud.high_95)}`,
        stroke: 'currentColor',
        'stroke-width': 5,
        'stroke-linecap': 'round',
      }),
      s('circle', { class: 'deep', cx: x(cloud.clear), cy: base + 14, r: 8 }),
    );
    return chart(
      W,
      H,
      say('odds'),
      say('odds_said', {
        chance: Words.percent(cloud.clear),
        interval: Words.oddsInterval(cloud),
      }),
      parts,
    );
  }

  return { el, s, table, watch, sky, skyline, odds, drawn };
})();
