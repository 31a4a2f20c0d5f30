// Second and third contact at the Moon's measured edge, from the profiles that the page carries.
//
// The same geometry as the program's: the place, the Moon and the Sun in the Moon's own axes, the summits that can
// matter from nearly the same side, and for an instant how far the Sun reaches beyond the edge where it reaches
// furthest. That is a convex function of time; totality is where it is below zero. Vectors are [x, y, z] in the
// Moon's axes.
const Edge = (() => {
  'use strict';
  const ANGLE_STEPS = 65536,
    TANGENT_FROM = 0.0044,
    TANGENT_STEP = 1e-8,
    DEPTH_STEPS_PER_DEG = 14,
    DEPTH_MIDDLE = 128;
  // Over which the Moon's libration is taken for steady, seconds; contacts are sought so far from the middle,
  // seconds.
  const DRIFT_S = 60,
    REACH_S = 480;

  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
  const add = (a, b, k) => [a[0] + k * b[0], a[1] + k * b[1], a[2] + k * b[2]];
  const unit = (a) => {
    const n = Math.sqrt(dot(a, a));
    return [a[0] / n, a[1] / n, a[2] / n];
  };

  // East, north and sunward in the Moon's axes.
  function axes(e, edge, t) {
    const s = t / e.half_span_s;
    return edge.axes.map((axis) => axis.map((powers) => powers.reduceRight((sum, c) => sum * s + c, 0)));
  }

  // The side of the Moon opposite to the Sun, the direction in which it moves over the Moon, and how fast.
  function drift(e, edge, t) {
    const [now, later] = [t, t + DRIFT_S].map((at) => axes(e, edge, at)[2].map((c) => -c));
    const step = add(later, now, -1),
      length = Math.sqrt(dot(step, step));
    return { axis: unit(now), ahead: unit(step), rate: length / DRIFT_S };
  }

  // From the first offset to the axis, in steps.
  const firstToAxis = (edge) => (edge.offsets - 1) / 2;

  const cache = new WeakMap();
  // The summits of a profile as points about the Moon's centre, km, and the north of its sight.
  function profile(e, edge, number) {
    const known = cache.get(edge) ?? new Map();
    cache.set(edge, known);
    if (known.has(number)) return known.get(number);
    const along = Math.floor(number / edge.offsets),
      offset = (number % edge.offsets) - firstToAxis(edge);
    const t = edge.first_s + along * edge.along_s;
    const { axis, ahead } = drift(e, edge, t);
    const eye = unit(add(axis, cross(axis, ahead), offset * edge.across_rad));
    const celestial = axes(e, edge, t)[1],
      north = unit(add(celestial, eye, -dot(celestial, eye))),
      east = cross(eye, north);
    const m = Shadow.moment(e, t);
    const distance = (m.moonZ - Math.sqrt(Math.max(1 - m.x * m.x - m.y * m.y, 0))) * e.earth_equatorial_radius_km;
    const bytes = Base64.bytes(edge.profiles[number]),
      points = [];
    const pair = (i) => bytes[i] * 256 + bytes[i + 1];
    for (let i = 0; i < bytes.length; i += 5) {
      const angle = (pair(i) / ANGLE_STEPS) * 2 * Math.PI,
        tangent = TANGENT_FROM + TANGENT_STEP * pair(i + 2);
      const depth = (((bytes[i + 4] - DEPTH_MIDDLE) / DEPTH_STEPS_PER_DEG) * Math.PI) / 180;
      const radius = (tangent * distance) / (Math.cos(depth) + tangent * Math.sin(depth));
      const outward = add(
        east.map((c) => c * Math.sin(angle)),
        north,
        Math.cos(angle),
      );
      points.push(
        add(
          eye.map((c) => c * radius * Math.sin(depth)),
          outward,
          radius * Math.cos(depth),
        ),
      );
    }
    const found = { north, points };
    known.set(number, found);
    return found;
  }

  // Moon and Sun from a place at an instant.
  function sky(e, edge, p, t) {
    const { m, r } = Shadow.snapshot(e, p, t),
      [east, north, sunward] = axes(e, edge, t);
    const toMoon = m.moonZ - r.zeta,
      toSun = toMoon + m.sunBeyondMoon;
    const turned = (v) =>
      add(
        add(
          east.map((c) => c * v[0]),
          north,
          v[1],
        ),
        sunward,
        v[2],
      );
    const moon = [r.u, r.v, toMoon],
      sun = [r.u, r.v, toSun],
      km = e.earth_equatorial_radius_km;
    return {
      eye: unit(turned(moon)).map((c) => -c),
      distance: Math.sqrt(dot(moon, moon)) * km,
      sun: unit(turned(sun)),
      sunDistance: Math.sqrt(dot(sun, sun)) * km,
    };
  }

  // Number of the profile for a place at an instant; null where the page carries none.
  function numberFor(e, edge, p, t) {
    const { axis, ahead, rate } = drift(e, edge, t),
      away = add(sky(e, edge, p, t).eye, axis, -1);
    const along = Math.round((t - edge.first_s + dot(away, ahead) / rate) / edge.along_s);
    const offset = Math.round(dot(away, cross(axis, ahead)) / edge.across_rad + firstToAxis(edge));
    if (along < 0 || along >= edge.profiles.length / edge.offsets) return null;
    return along * edge.offsets + Math.min(Math.max(offset, 0), edge.offsets - 1);
  }

  // How far the Sun reaches beyond the edge where it reaches furthest (tangent); below zero in totality.
  function gap(e, edge, p, { north, points }, t) {
    const s = sky(e, edge, p, t);
    const up = unit(add(north, s.eye, -dot(north, s.eye))),
      east = cross(s.eye, up);
    const centre = [dot(s.sun, east), dot(s.sun, up)],
      off = centre[0] ** 2 + centre[1] ** 2;
    const sine = edge.sun_radius_km / s.sunDistance,
      room = sine * sine - off;
    const c2 = 1 - sine * sine,
      c = Math.sqrt(c2),
      cosOff = Math.sqrt(1 - off);
    let widest = -Infinity;
    for (const point of points) {
      const ahead = s.distance - dot(point, s.eye),
        x = dot(point, east) / ahead,
        y = dot(point, up) / ahead;
      const tangent = Math.sqrt(x * x + y * y),
        along = (centre[0] * x + centre[1] * y) / tangent;
      const under = along * along + room;
      if (under < 0) continue;
      widest = Math.max(widest, (along * cosOff + c * Math.sqrt(under)) / (c2 - along * along) - tangent);
    }
    return widest;
  }

  // One end of totality, `side` −1 or 1, by the profile for an instant; null where there is no totality.
  function end(e, edge, p, number, middle, side) {
    const beyond = (t) => gap(e, edge, p, profile(e, edge, number), t);
    let low = middle - REACH_S,
      high = middle + REACH_S;
    for (let i = 0; i < 70; i++) {
      const third = (high - low) / 3;
      if (beyond(low + third) < beyond(high - third)) high -= third;
      else low += third;
    }
    let inside = (low + high) / 2,
      outside = middle + side * REACH_S;
    if (!(beyond(inside) < 0)) return null;
    for (let i = 0; i < 45; i++) {
      const half = (inside + outside) / 2;
      if (beyond(half) < 0) inside = half;
      else outside = half;
    }
    return (inside + outside) / 2;
  }

  // Totality at a place: `{ c2, c3, durationS }` in seconds past the epoch of the elements, `{ none: true }` where
  // the edge leaves none, null where the page carries no profile for the place. `smooth` is what
  // Shadow.circumstances says of it.
  function totality(e, edge, latDeg, lonDeg, elevationM, smooth) {
    const p = Shadow.station(e, latDeg, lonDeg, elevationM),
      middle = smooth.contacts[2].t;
    const ends = [
      [1, -1],
      [3, 1],
    ].map(([contact, side]) => {
      const number = numberFor(e, edge, p, smooth.contacts[contact]?.t ?? middle);
      return number === null ? undefined : end(e, edge, p, number, middle, side);
    });
    if (ends.includes(undefined)) return null;
    const [c2, c3] = ends;
    return c2 === null || c3 === null || !(c3 > c2) ? { none: true } : { c2, c3, durationS: c3 - c2 };
  }

  return { totality };
})();
