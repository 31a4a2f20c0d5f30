// The ground from which hills hide the Sun in totality, as a layer of a map: the grid that came with the page, hatched.
const HiddenGround = (() => {
  'use strict';
  const { s } = Draw;
  const { say } = Say;

  // Cells along the longer side of what is drawn, at most, and of the first look for where the grid lies.
  const MOST = 500,
    LOOK = 200;

  // What is found in the cells of a window, `[left, top, size, across, down]`, row by row. A row has one y, so that its
  // series need only be summed along x.
  function hidden(map, window, found) {
    const [left, top, size, across, down] = window;
    const { terms, coefficients } = map.unproject,
      [x0, y0, width, height] = map.window;
    const polynomials = (x) => {
      const t = [1, x];
      for (let k = 2; k < terms; k++) t.push(2 * x * t[k - 1] - t[k - 2]);
      return t;
    };
    const alongX = Array.from({ length: across }, (_, i) =>
      polynomials((2 * (left + (i + 0.5) * size - x0)) / width - 1),
    );
    const cells = new Uint8Array(across * down);
    for (let j = 0; j < down; j++) {
      const ty = polynomials((2 * (top + (j + 0.5) * size - y0)) / height - 1);
      const series = coefficients.map((c) =>
        Array.from({ length: terms }, (_, i) => ty.reduce((sum, t, k) => sum + t * c[k * terms + i], 0)),
      );
      for (let i = 0; i < across; i++) {
        const v = series.map((row) => row.reduce((sum, c, k) => sum + c * alongX[i][k], 0));
        const lat = (Math.atan2(v[2], Math.hypot(v[0], v[1])) * 180) / Math.PI,
          lon = (Math.atan2(v[1], v[0]) * 180) / Math.PI;
        if (found(lat, lon)) cells[j * across + i] = 1;
      }
    }
    return cells;
  }

  // Rings around the marked cells, as path data: edges with a marked cell to their right, put end to end.
  function rings(cells, window) {
    const [left, top, size, across, down] = window;
    const marked = (i, j) => i >= 0 && j >= 0 && i < across && j < down && cells[j * across + i] === 1;
    const from = new Map();
    const corner = (i, j) => j * (across + 1) + i;
    const edge = (a, b) => from.set(a, [...(from.get(a) ?? []), b]);
    for (let j = 0; j < down; j++)
      for (let i = 0; i < across; i++) {
        if (!marked(i, j)) continue;
        if (!marked(i, j - 1)) edge(corner(i, j), corner(i + 1, j));
        if (!marked(i + 1, j)) edge(corner(i + 1, j), corner(i + 1, j + 1));
        if (!marked(i, j + 1)) edge(corner(i + 1, j + 1), corner(i, j + 1));
        if (!marked(i - 1, j)) edge(corner(i, j + 1), corner(i, j));
      }
    const number = (value) => String(Math.round(value * 100) / 100);
    const at = (c) => [left + (c % (across + 1)) * size, top + Math.floor(c / (across + 1)) * size].map(number);
    const out = [];
    for (const start of from.keys()) {
      while (from.get(start)?.length) {
        const ring = [start];
        let here = from.get(start).pop(),
          way = here - start;
        while (here !== start) {
          const next = from.get(here).pop();
          // A corner where the edge turns; straight on there is nothing to say.
          if (next - here !== way) ring.push(here);
          way = next - here;
          here = next;
        }
        out.push(`M${ring.map((c) => at(c).join(' ')).join('L')}Z`);
      }
    }
    return out.join('');
  }

  // Where the grid lies in the window: `[left, top, size, across, down]` in cells about as wide as the grid's own.
  function part(grid, map) {
    const [left, top, width, height] = map.window;
    const look = Math.max(width, height) / LOOK;
    const [across, down] = [Math.ceil(width / look), Math.ceil(height / look)];
    const covered = hidden(map, [left, top, look, across, down], (lat, lon) => GroundEntry.covers(grid, lat, lon));
    let [west, north, east, south] = [Infinity, Infinity, -Infinity, -Infinity];
    const take = (x, y) => {
      [west, east] = [Math.min(west, x), Math.max(east, x)];
      [north, south] = [Math.min(north, y), Math.max(south, y)];
    };
    covered.forEach(
      (yes, k) => yes && take(left + ((k % across) + 0.5) * look, top + (Math.floor(k / across) + 0.5) * look),
    );
    // A small grid may lie between the points looked at.
    const middle = GroundEntry.middle(grid);
    const at = Ground.project(map, middle.latDeg, middle.lonDeg);
    if (at) take(...at);
    if (west > east) return null;
    west = Math.max(west - look, left);
    north = Math.max(north - look, top);
    east = Math.min(east + look, left + width);
    south = Math.min(south + look, top + height);
    const a = Ground.unproject(map, (west + east) / 2, (north + south) / 2),
      b = Ground.unproject(map, (west + east) / 2, (north + south) / 2 + 1);
    const degAUnit = Math.hypot(b.latDeg - a.latDeg, (b.lonDeg - a.lonDeg) * Math.cos((a.latDeg * Math.PI) / 180));
    const size = Math.max(grid.lat_step_deg / degAUnit, Math.max(east - west, south - north) / MOST);
    return [west, north, size, Math.ceil((east - west) / size), Math.ceil((south - north) / size)];
  }

  // Adds the layer to a drawing; nothing where its map does not touch the grid.
  function add(grid, map, svg, name) {
    if (!grid || !map.unproject) return;
    const window = part(grid, map);
    if (!window) return;
    const cells = hidden(map, window, (lat, lon) => GroundEntry.at(grid, lat, lon)?.marginDeg < 0);
    const path = svg.querySelector(`:scope > .layers > g[aria-label^="${say('layer_path')}"]`);
    const id = `${name}-hidden-ground`,
      unit = map.window[2] / 260;
    const pattern = s(
      'pattern',
      { id, width: unit, height: unit, patternUnits: 'userSpaceOnUse', patternTransform: 'rotate(45)' },
      s('path', { d: `M0 0V${unit}`, stroke: '#22262c', 'stroke-width': unit / 4 }),
    );
    const layer = s(
      'g',
      { role: 'group', 'aria-label': say('layer_hidden'), class: 'hidden-ground' },
      s('defs', {}, pattern),
      s('path', { d: rings(cells, window), fill: `url(#${id})`, 'fill-rule': 'evenodd' }),
    );
    if (path) path.after(layer);
    else svg.append(layer);
  }

  // The hatching stays as fine as it is when the map is drawn larger.
  function enlarged(svg, scale) {
    const pattern = svg.querySelector('.hidden-ground pattern');
    pattern?.setAttribute('patternTransform', `rotate(45) scale(${1 / scale})`);
  }

  return { add, enlarged };
})();
