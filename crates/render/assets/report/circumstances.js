// The shadow at any place, from the Besselian elements that the page carries.
//
// The same geometry as the program's: polynomials of the shadow axis, the place in the fundamental frame, contacts by
// Newton's method inside a bracket. Times are seconds past the epoch of the elements, lengths Earth radii, angles
// radians unless the name says otherwise.
const Shadow = (() => {
  'use strict';
  // Order of the polynomials in the model.
  const [X, Y, DECLINATION, RIGHT_ASCENSION, MOON_Z, SUN_BEYOND_MOON, X_SLOPE, Y_SLOPE, L1, L2, TAN_F1, TAN_F2] =
    Array(12).keys();
  const RAD = Math.PI / 180;
  const CLOSE_ENOUGH_S = 1e-6;
  const MOST_ROUNDS = 60;
  // Airless altitude of the Sun's centre when its upper limb is on a level horizon, by the almanacs' convention.
  const RISING_ALTITUDE_DEG = -50 / 60;

  const wrap360 = (deg) => ((deg % 360) + 360) % 360;

  // Value, slope and curvature of a polynomial, all per scaled time.
  function polynomial(coefficients, s) {
    let value = 0,
      slope = 0,
      bend = 0;
    for (let i = coefficients.length - 1; i >= 0; i--) {
      bend = bend * s + 2 * slope;
      slope = slope * s + value;
      value = value * s + coefficients[i];
    }
    return [value, slope, bend];
  }

  // The elements at an instant, rates per second.
  function moment(e, t) {
    const h = e.half_span_s,
      s = t / h;
    const at = (i) => polynomial(e.coefficients[i], s);
    const [x, xRate, xBend] = at(X),
      [y, yRate, yBend] = at(Y);
    const [d, dRate] = at(DECLINATION),
      [ra, raRate] = at(RIGHT_ASCENSION);
    const [l1, l1Rate] = at(L1),
      [l2, l2Rate] = at(L2),
      [moonZ, moonZRate] = at(MOON_Z);
    return {
      t,
      x,
      y,
      xRate: xRate / h,
      yRate: yRate / h,
      xBend: xBend / (h * h),
      yBend: yBend / (h * h),
      sinD: Math.sin(d),
      cosD: Math.cos(d),
      dRate: dRate / h,
      mu: e.earth_rotation_at_epoch_rad + e.earth_rotation_rad_s * t - ra,
      muRate: e.earth_rotation_rad_s - raRate / h,
      l1,
      l1Rate: l1Rate / h,
      l2,
      l2Rate: l2Rate / h,
      tanF1: at(TAN_F1)[0],
      tanF2: at(TAN_F2)[0],
      xSlope: at(X_SLOPE)[0],
      ySlope: at(Y_SLOPE)[0],
      moonZ,
      moonZRate: moonZRate / h,
      sunBeyondMoon: at(SUN_BEYOND_MOON)[0],
    };
  }

  // A place on the ellipsoid, ready for many instants.
  function station(e, latDeg, lonDeg, elevationM) {
    const lat = latDeg * RAD,
      lon = lonDeg * RAD;
    const sinLat = Math.sin(lat),
      cosLat = Math.cos(lat),
      q = e.earth_polar_ratio ** 2;
    const normal = 1 / Math.sqrt(cosLat * cosLat + q * sinLat * sinLat);
    const height = elevationM / 1000 / e.earth_equatorial_radius_km;
    return {
      rhoCos: (normal + height) * cosLat,
      rhoSin: (q * normal + height) * sinLat,
      lon,
      north: [-sinLat * Math.cos(lon), -sinLat * Math.sin(lon), cosLat],
      east: [-Math.sin(lon), Math.cos(lon), 0],
      zenith: [cosLat * Math.cos(lon), cosLat * Math.sin(lon), sinLat],
    };
  }

  // The place against the axis.
  function relation(p, m) {
    const sinH = Math.sin(m.mu + p.lon),
      cosH = Math.cos(m.mu + p.lon);
    const xi = p.rhoCos * sinH,
      across = p.rhoCos * cosH;
    const eta = p.rhoSin * m.cosD - across * m.sinD;
    const zeta = p.rhoSin * m.sinD + across * m.cosD;
    const etaRate = m.muRate * xi * m.sinD - zeta * m.dRate;
    const zetaRate = -m.muRate * xi * m.cosD + eta * m.dRate;
    return {
      zeta,
      zetaRate,
      u: m.x + m.xSlope * zeta - xi,
      v: m.y + m.ySlope * zeta - eta,
      uRate: m.xRate + m.xSlope * zetaRate - m.muRate * across,
      vRate: m.yRate + m.ySlope * zetaRate - etaRate,
      uBend: m.xBend + m.muRate ** 2 * xi,
      vBend: m.yBend - m.muRate ** 2 * across * m.sinD,
    };
  }

  function snapshot(e, p, t) {
    const m = moment(e, t),
      r = relation(p, m);
    return {
      m,
      r,
      closing: r.u * r.uRate + r.v * r.vRate,
      bend: r.uRate ** 2 + r.vRate ** 2 + r.u * r.uBend + r.v * r.vBend,
    };
  }

  // Radius of a cone in the plane of the place, with its rate; for the umbra negative where total.
  function radius(s, umbra) {
    const { m, r } = s;
    return umbra
      ? [m.l2 - r.zeta * m.tanF2, m.l2Rate - r.zetaRate * m.tanF2]
      : [m.l1 - r.zeta * m.tanF1, m.l1Rate - r.zetaRate * m.tanF1];
  }

  // Distance squared beyond the cone's edge, and half its rate: negative inside.
  function outside(s, umbra) {
    const [l, lRate] = radius(s, umbra),
      { u, v } = s.r;
    return [u * u + v * v - l * l, s.closing - l * lRate];
  }

  // Root of a function that rises through zero in the bracket. A Newton step that leaves the bracket is replaced by
  // halving.
  function risingRoot(low, high, guess, f) {
    let t = Math.min(Math.max(guess, low), high);
    for (let round = 0; round < MOST_ROUNDS; round++) {
      const [value, rate] = f(t);
      if (value > 0) high = t;
      else low = t;
      const newton = t - value / rate;
      const next = rate > 0 && newton >= low && newton <= high ? newton : (low + high) / 2;
      const done = Math.abs(next - t) < CLOSE_ENOUGH_S;
      t = next;
      if (done) break;
    }
    return t;
  }

  // Instant of least angular separation of the centres.
  function leastSeparation(e, p) {
    return risingRoot(-e.half_span_s, e.half_span_s, 0, (t) => {
      const s = snapshot(e, p, t),
        { m, r } = s;
      const toMoon = m.moonZ - r.zeta,
        toSun = toMoon + m.sunBeyondMoon;
      const approach = m.moonZRate - r.zetaRate;
      return [s.closing + (r.u * r.u + r.v * r.v) * (-approach / toMoon - approach / toSun), s.bend];
    });
  }

  // When a cone's edge arrives and leaves; null where it passes by.
  function sweep(e, p, umbra, near) {
    const deepest = risingRoot(-e.half_span_s, e.half_span_s, near, (t) => {
      const s = snapshot(e, p, t);
      return [outside(s, umbra)[1], s.bend];
    });
    const inside = snapshot(e, p, deepest);
    const depth = -outside(inside, umbra)[0];
    if (!(depth > 0)) return null;
    const half = Math.sqrt(depth / Math.max(inside.bend, 1e-12));
    const crossing = (low, high, guess, sign) =>
      risingRoot(low, high, guess, (t) => {
        const [value, halfRate] = outside(snapshot(e, p, t), umbra);
        return [sign * value, sign * 2 * halfRate];
      });
    return {
      first: crossing(-e.half_span_s, deepest, deepest - half, -1),
      last: crossing(deepest, e.half_span_s, deepest + half, 1),
      total: radius(inside, umbra)[0] < 0,
    };
  }

  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];

  // Saemundsson 1986, as in the program.
  function refractionDeg(e, altitudeDeg) {
    const h = Math.max(altitudeDeg, -1);
    const arcmin = 1.02 / Math.tan((h + 10.3 / (h + 5.11)) * RAD);
    const fade = Math.min(Math.max((altitudeDeg + 5) / 4, 0), 1);
    return Math.max((arcmin / 60) * fade * (e.pressure_hpa / 1010) * (283 / (273 + e.temperature_c)), 0);
  }

  // The Sun, and the Moon against it, from the place at an instant.
  function view(e, p, t) {
    const { m, r } = snapshot(e, p, t);
    const toMoon = m.moonZ - r.zeta,
      toSun = toMoon + m.sunBeyondMoon;
    const sinMu = Math.sin(m.mu),
      cosMu = Math.cos(m.mu);
    const sun = [0, 1, 2].map(
      (i) =>
        r.u * [sinMu, cosMu, 0][i] +
        r.v * [-m.sinD * cosMu, m.sinD * sinMu, m.cosD][i] +
        toSun * [m.cosD * cosMu, -m.cosD * sinMu, m.sinD][i],
    );
    const [n, w, z] = [dot(sun, p.north), dot(sun, p.east), dot(sun, p.zenith)];
    const altitudeDeg = Math.atan2(z, Math.hypot(n, w)) / RAD;
    const across = Math.hypot(r.u, r.v);
    const sunDistance = Math.hypot(across, toSun),
      moonDistance = Math.hypot(across, toMoon);
    // The parallactic angle: position angle of the zenith at the Sun.
    const east = [-sun[1], sun[0], 0];
    const north = [-sun[2] * sun[0], -sun[2] * sun[1], sun[0] ** 2 + sun[1] ** 2].map((c) => c / sunDistance);
    return {
      t,
      altitudeDeg,
      apparentAltitudeDeg: altitudeDeg + refractionDeg(e, altitudeDeg),
      azimuthDeg: wrap360(Math.atan2(w, n) / RAD),
      sunRadius: Math.asin(e.sun_radius_km / e.earth_equatorial_radius_km / sunDistance),
      moonRadius: Math.asin(e.moon_k_exterior / moonDistance),
      moonRadiusInterior: Math.asin(e.moon_k_interior / moonDistance),
      separation: Math.atan2(across, toMoon) - Math.atan2(across, toSun),
      moonPositionAngleDeg: wrap360(Math.atan2(r.u, r.v) / RAD),
      parallacticAngleDeg: Math.atan2(dot(p.zenith, east), dot(p.zenith, north)) / RAD,
    };
  }

  // Fraction of a disc of radius a that one of radius b covers at separation s.
  function covered(a, b, s) {
    if (s >= a + b) return 0;
    if (s <= Math.abs(a - b)) return Math.min((b / a) ** 2, 1);
    const angle = (r, other) => Math.acos(Math.min(Math.max((s * s + r * r - other * other) / (2 * s * r), -1), 1));
    const one = angle(a, b),
      two = angle(b, a);
    const lens = a * a * (one - Math.sin(one) * Math.cos(one)) + b * b * (two - Math.sin(two) * Math.cos(two));
    return Math.min(Math.max(lens / (Math.PI * a * a), 0), 1);
  }

  // Sunrise and sunset between two instants, in steps of a few minutes and then by halving.
  function horizonCrossings(e, p, from, to) {
    const above = (t) => view(e, p, t).altitudeDeg - RISING_ALTITUDE_DEG;
    let rise = null,
      set = null,
      before = from,
      wasUp = above(from) > 0;
    for (let k = 1; k <= 24; k++) {
      const t = from + ((to - from) * k) / 24,
        isUp = above(t) > 0;
      if (isUp !== wasUp) {
        let [low, high] = [before, t];
        for (let i = 0; i < 30; i++) {
          const middle = (low + high) / 2;
          if (above(middle) > 0 === isUp) high = middle;
          else low = middle;
        }
        if (isUp) rise = (low + high) / 2;
        else set = (low + high) / 2;
      }
      before = t;
      wasUp = isUp;
    }
    return { rise, set };
  }

  // Everything a place sees. `contacts` is C1, C2, max, C3, C4, each a view or null.
  function circumstances(e, latDeg, lonDeg, elevationM) {
    const p = station(e, latDeg, lonDeg, elevationM);
    const max = leastSeparation(e, p);
    const penumbra = sweep(e, p, false, max);
    if (!penumbra)
      return {
        phase: 'none',
        contacts: [null, null, null, null, null],
        durationS: 0,
        magnitude: 0,
        obscuration: 0,
        sunrise: null,
        sunset: null,
      };
    const umbra = sweep(e, p, true, max);
    const at = view(e, p, max);
    const total = at.separation <= at.moonRadiusInterior - at.sunRadius;
    const { rise, set } = horizonCrossings(e, p, penumbra.first, penumbra.last);
    const see = (t) => view(e, p, t);
    return {
      phase: !umbra ? 'partial' : umbra.total ? 'total' : 'annular',
      contacts: [see(penumbra.first), umbra && see(umbra.first), at, umbra && see(umbra.last), see(penumbra.last)],
      durationS: umbra ? umbra.last - umbra.first : 0,
      magnitude: Math.max((at.sunRadius + at.moonRadius - at.separation) / (2 * at.sunRadius), 0),
      obscuration: total ? 1 : covered(at.sunRadius, at.moonRadius, at.separation),
      sunrise: rise,
      sunset: set,
    };
  }

  // The Sun's track: apparent altitude and azimuth at even steps between two instants.
  function track(e, latDeg, lonDeg, elevationM, from, to, steps) {
    const p = station(e, latDeg, lonDeg, elevationM);
    return Array.from({ length: steps + 1 }, (_, k) => view(e, p, from + ((to - from) * k) / steps));
  }

  return { circumstances, track, covered, refractionDeg, station, moment, snapshot, view };
})();
