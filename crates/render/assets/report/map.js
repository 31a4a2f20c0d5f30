// The map: pan, zoom, layers, and the way from a tapped point back to the globe.
const Ground = (() => {
  'use strict';
  const { el, s } = Draw;
  const { say } = Say;
  const DEG = 180 / Math.PI;

  // Chebyshev polynomials at a scaled coordinate, with their slopes.
  function basis(terms, x) {
    const t = [1, x],
      slope = [0, 1];
    for (let k = 2; k < terms; k++) {
      t.push(2 * x * t[k - 1] - t[k - 2]);
      slope.push(2 * t[k - 1] + 2 * x * slope[k - 1] - slope[k - 2]);
    }
    return [t, slope];
  }

  // The unit vector at a point of the drawing, with its slopes along x and y.
  function vectorAt(map, px, py) {
    const { terms, coefficients } = map.unproject,
      [left, top, width, height] = map.window;
    const [tx, dx] = basis(terms, (2 * (px - left)) / width - 1),
      [ty, dy] = basis(terms, (2 * (py - top)) / height - 1);
    const sum = (a, b) =>
      coefficients.map((series) => {
        let total = 0;
        for (let j = 0; j < terms; j++) for (let i = 0; i < terms; i++) total += series[j * terms + i] * a[i] * b[j];
        return total;
      });
    return {
      v: sum(tx, ty),
      alongX: sum(dx, ty).map((c) => (2 * c) / width),
      alongY: sum(tx, dy).map((c) => (2 * c) / height),
    };
  }

  function unproject(map, px, py) {
    const [x, y, z] = vectorAt(map, px, py).v;
    return { latDeg: Math.atan2(z, Math.hypot(x, y)) * DEG, lonDeg: Math.atan2(y, x) * DEG };
  }

  const unit = (latDeg, lonDeg) => {
    const [lat, lon] = [latDeg / DEG, lonDeg / DEG];
    return [Math.cos(lat) * Math.cos(lon), Math.cos(lat) * Math.sin(lon), Math.sin(lat)];
  };

  // Where a place falls in the drawing: Gauss and Newton's method on the inverse. Null where it does not settle
  // inside.
  function project(map, latDeg, lonDeg) {
    const goal = unit(latDeg, lonDeg),
      [left, top, width, height] = map.window;
    const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    // From the nearest of a few starting points, so that a strongly bent map cannot lead astray.
    let best = null;
    for (let i = 1; i < 8; i++)
      for (let j = 1; j < 8; j++) {
        const p = [left + (width * i) / 8, top + (height * j) / 8],
          near = dot(vectorAt(map, ...p).v, goal);
        if (!best || near > best.near) best = { near, p };
      }
    let [px, py] = best.p;
    for (let round = 0; round < 30; round++) {
      const { v, alongX, alongY } = vectorAt(map, px, py);
      const r = goal.map((c, i) => c - v[i]);
      const [a, b, c, d, e] = [
        dot(alongX, alongX),
        dot(alongX, alongY),
        dot(alongY, alongY),
        dot(alongX, r),
        dot(alongY, r),
      ];
      const det = a * c - b * b;
      const [sx, sy] = [(c * d - b * e) / det, (a * e - b * d) / det];
      px = Math.min(Math.max(px + sx, left - width), left + 2 * width);
      py = Math.min(Math.max(py + sy, top - height), top + 2 * height);
      if (Math.hypot(sx, sy) < 1e-4) break;
    }
    const inside = px >= left && px <= left + width && py >= top && py <= top + height;
    const v = vectorAt(map, px, py).v;
    return inside && Math.hypot(v[0] - goal[0], v[1] - goal[1], v[2] - goal[2]) < 1e-4 ? [px, py] : null;
  }

  // Sets up every drawing of the map. `onPoint(latDeg, lonDeg)` is told of tapped points, `onSite(index)` of tapped
  // sites.
  function start(model, onPoint, onSite) {
    const plates = [...document.querySelectorAll('.plate')].map((plate, k) => {
      /** @type {any} */
      const p = { plate, map: model.maps[k], svg: plate.querySelector('svg') };
      return p;
    });
    if (!plates.length) {
      document.getElementById('maptools').remove();
      return { mark() {} };
    }
    for (const p of plates) set(p);
    const shown = () => plates.find((p) => p.plate.offsetParent !== null) ?? plates[0];

    function set(p) {
      p.svg.removeAttribute('width');
      p.svg.removeAttribute('height');
      p.zoom = Panzoom(p.svg.parentNode, {
        maxScale: 24,
        minScale: 1,
        contain: 'outside',
        panOnlyWhenZoomed: true,
        touchAction: 'pan-y',
        cursor: 'crosshair',
        step: 0.5,
        animate: false,
      });
      p.scale = 1;
      p.svg.parentNode.addEventListener('panzoomchange', (event) => {
        p.scale = event.detail.scale;
        // Unzoomed, one finger scrolls the page; zoomed in, it moves the map.
        const action = p.scale > 1.01 ? 'none' : 'pan-y';
        p.plate.style.touchAction = action;
        p.svg.parentNode.style.touchAction = action;
        if (p.cross) place(p);
        redraw(p);
      });
      // A plain wheel scrolls the page; with Ctrl (or a pinch on a touchpad) it zooms.
      p.plate.addEventListener(
        'wheel',
        (event) => {
          if (event.ctrlKey || event.metaKey) p.zoom.zoomWithWheel(event);
        },
        { passive: false },
      );
      let from = null;
      p.plate.addEventListener(
        'pointerdown',
        (event) => {
          from = event.isPrimary ? [event.clientX, event.clientY] : null;
        },
        true,
      );
      p.plate.addEventListener(
        'pointerup',
        (event) => {
          if (from && Math.hypot(event.clientX - from[0], event.clientY - from[1]) < 6)
            tapped(p, event.clientX, event.clientY);
          from = null;
        },
        true,
      );
      HiddenGround.add(model.ground, p.map, p.svg, p.plate.classList.contains('wide') ? 'wide' : 'narrow');
      MapMarks.prepare(p);
    }

    // Where the first sites and all own points stand on a map; found when it is first asked.
    const MOST = 300;
    function placed(p) {
      p.places ??= new Map();
      const shownSites = model.sites.filter((site, k) => k < MOST || site.own);
      for (const site of shownSites)
        if (!p.places.has(site))
          p.places.set(site, p.map.unproject ? project(p.map, site.lat_deg, site.lon_deg) : null);
      return shownSites.map((site) => ({ site, at: p.places.get(site) })).filter(({ at }) => at);
    }
    // Marks are drawn anew when the enlargement changes, once a frame at most.
    function redraw(p) {
      if (p.drawnAt === p.scale || p.waiting) return;
      p.waiting = true;
      requestAnimationFrame(() => {
        p.waiting = false;
        p.drawnAt = p.scale;
        MapMarks.draw(p, p.scale > 1 ? placed(p) : []);
        HiddenGround.enlarged(p.svg, p.scale);
      });
    }

    function tapped(p, clientX, clientY) {
      if (!p.map.unproject) return;
      const matrix = p.svg.getScreenCTM(),
        q = new DOMPoint(clientX, clientY).matrixTransform(matrix.inverse());
      const [left, top, width, height] = p.map.window;
      if (q.x < left || q.x > left + width || q.y < top || q.y > top + height) return;
      let nearest = null;
      placed(p).forEach(({ site, at }) => {
        const index = model.sites.indexOf(site);
        const away = Math.hypot((at[0] - q.x) * matrix.a, (at[1] - q.y) * matrix.d);
        if (away < 16 && (!nearest || away < nearest.away)) nearest = { away, index };
      });
      if (nearest) return onSite(nearest.index);
      const { latDeg, lonDeg } = unproject(p.map, q.x, q.y);
      onPoint(latDeg, lonDeg);
    }

    // A cross of the same size at every zoom.
    function place(p) {
      const size = (p.map.window[2] / 60) * Math.min(1, 1 / Math.sqrt(p.scale));
      p.cross.setAttribute('transform', `translate(${p.at[0]} ${p.at[1]}) scale(${size / p.scale ** 0.5 / 10})`);
    }
    function mark(latDeg, lonDeg) {
      for (const p of plates) {
        p.cross?.remove();
        p.cross = null;
        p.at = p.map.unproject ? project(p.map, latDeg, lonDeg) : null;
        if (!p.at) continue;
        p.cross = s(
          'g',
          { 'aria-hidden': 'true', 'pointer-events': 'none' },
          s('path', {
            d: 'M-20 0H-6M6 0H20M0 -20V-6M0 6V20',
            stroke: '#fbf9f4',
            'stroke-width': 6,
            'stroke-linecap': 'round',
          }),
          s('path', {
            d: 'M-20 0H-6M6 0H20M0 -20V-6M0 6V20',
            stroke: '#22262c',
            'stroke-width': 2.4,
            'stroke-linecap': 'round',
          }),
        );
        p.svg.append(p.cross);
        place(p);
      }
    }

    // Buttons, keys and layers.
    const zoomBy = (f) => {
      const { zoom } = shown();
      zoom.zoom(Math.min(Math.max(zoom.getScale() * f, 1), 24));
    };
    const whole = () => {
      const { zoom } = shown();
      zoom.zoom(1, { force: true });
      zoom.pan(0, 0, { force: true });
    };
    const move = (dx, dy) => {
      const { zoom } = shown(),
        scale = zoom.getScale();
      zoom.pan(dx / scale, dy / scale, { relative: true });
    };
    const keys = {
      '+': () => zoomBy(1.6),
      '=': () => zoomBy(1.6),
      '-': () => zoomBy(1 / 1.6),
      0: whole,
      ArrowLeft: () => move(60, 0),
      ArrowRight: () => move(-60, 0),
      ArrowUp: () => move(0, 60),
      ArrowDown: () => move(0, -60),
    };
    for (const p of plates) {
      p.plate.tabIndex = 0;
      p.plate.setAttribute('role', 'group');
      p.plate.setAttribute('aria-label', say('map_keys'));
      p.plate.addEventListener('keydown', (event) => {
        const f = keys[event.key];
        if (!f || event.ctrlKey || event.metaKey || event.altKey) return;
        if (event.key.startsWith('Arrow') && p.zoom.getScale() <= 1.01) return;
        event.preventDefault();
        f();
      });
    }
    const names = new Map();
    const always = [say('layer_land'), say('layer_land_lines'), say('layer_legend'), say('layer_scale')];
    for (const { svg } of plates)
      for (const g of svg.querySelectorAll(':scope > .layers > g[aria-label], :scope > g[aria-label]')) {
        const name = g.getAttribute('aria-label');
        if (always.includes(name)) continue;
        names.set(name, [...(names.get(name) ?? []), g]);
      }
    const tools = document.getElementById('maptools');
    tools.append(
      el('button', { type: 'button', 'aria-label': say('zoom_in'), on: { click: () => zoomBy(1.6) } }, '+'),
      el('button', { type: 'button', 'aria-label': say('zoom_out'), on: { click: () => zoomBy(1 / 1.6) } }, '−'),
      el('button', { type: 'button', on: { click: whole } }, say('whole_map')),
    );
    if (names.size) {
      const show = (groups, on) => {
        for (const g of groups) g.style.display = on ? '' : 'none';
      };
      tools.append(
        el(
          'fieldset',
          {},
          el('legend', {}, say('show')),
          [...names].map(([name, groups]) => {
            // The stipple of clouds would crowd the sites: it waits to be asked for.
            const first = name !== say('layer_clouds');
            show(groups, first);
            return el(
              'label',
              {},
              el('input', {
                type: 'checkbox',
                checked: first,
                on: { change: (event) => show(groups, event.target.checked) },
              }),
              name,
            );
          }),
        ),
      );
    }
    return { mark };
  }

  return { start, project, unproject };
})();
