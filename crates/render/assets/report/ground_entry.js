// The ground that came with the page: height, and how far above the skyline the Sun stands in totality, on a grid.
const GroundEntry = (() => {
  'use strict';
  const { say } = Say;
  const unpacked = new WeakMap();

  function open(grid) {
    if (!unpacked.has(grid)) {
      const heights = Base64.bytes(grid.heights);
      unpacked.set(grid, { heights: new DataView(heights.buffer), margins: Base64.bytes(grid.margins) });
    }
    return unpacked.get(grid);
  }

  // `{heightM, marginDeg}`, each null where it is not known; null outside the grid.
  function at(grid, latDeg, lonDeg) {
    if (!grid) return null;
    const turn = (((lonDeg - grid.west_deg) % 360) + 360) % 360;
    const x = turn / grid.lon_step_deg,
      y = (grid.north_deg - latDeg) / grid.lat_step_deg;
    if (!(x >= 0 && y >= 0 && x <= grid.columns - 1 && y <= grid.rows - 1)) return null;
    const { heights, margins } = open(grid);
    const column = Math.min(Math.floor(x), grid.columns - 2),
      row = Math.min(Math.floor(y), grid.rows - 2);
    const u = x - column,
      v = y - row;
    const corners = [
      [0, 0, (1 - u) * (1 - v)],
      [1, 0, u * (1 - v)],
      [0, 1, (1 - u) * v],
      [1, 1, u * v],
    ];
    let heightM = 0;
    for (const [i, j, weight] of corners) {
      const h = heights.getInt16(2 * ((row + j) * grid.columns + column + i), true);
      heightM = h === -32768 || heightM === null ? null : heightM + h * weight;
    }
    // A margin jumps at a ridge: that of the nearest node, not a mean.
    const margin = margins[Math.round(y) * grid.columns + Math.round(x)];
    return {
      heightM: heightM === null ? null : Math.round(heightM),
      marginDeg: margin === 255 ? null : margin / 5 - 20,
    };
  }

  // Whether the grid reaches over a place, and the place in its middle.
  const covers = (grid, latDeg, lonDeg) => at(grid, latDeg, lonDeg) !== null;
  const middle = (grid) => ({
    latDeg: grid.north_deg - (grid.lat_step_deg * (grid.rows - 1)) / 2,
    lonDeg: grid.west_deg + (grid.lon_step_deg * (grid.columns - 1)) / 2,
  });

  const everyKm = (grid) => (grid.lat_step_deg * 111.2).toFixed(1);

  // One line about the ground at a point.
  function words(grid, latDeg, lonDeg) {
    const here = at(grid, latDeg, lonDeg);
    if (!here || here.heightM === null) return say('ground_unknown');
    const metres = here.heightM;
    const spot = say('on_the_spot', { km: everyKm(grid) });
    if (here.marginDeg === null) return say('ground_high', { metres });
    if (here.marginDeg < 0) return say('ground_hides', { metres, degrees: (-here.marginDeg).toFixed(1), spot });
    const degrees = here.marginDeg >= 30 ? say('more_than', { degrees: 30 }) : `${here.marginDeg.toFixed(1)}°`;
    return say('ground_clears', { metres, degrees, spot });
  }

  return { at, covers, middle, words };
})();
