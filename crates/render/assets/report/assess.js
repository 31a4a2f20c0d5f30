// Any place, looked at with what the page carries: contacts, what the criteria make of it, why it would be rejected.
//
// The same rules as the program's `assess.rs`. What the page does not carry (cloud, terrain, shadow bands, columns
// of the sites table) has no value here and is named as unknown, never filled in.
const Assess = (() => {
  'use strict';
  // The clock of a listed site serves a place this far away, km; beyond it the device's own clock is used and named.
  const CLOCK_REACH_KM = 300;
  // The cloud figure of a listed site is mentioned, as that site's, up to this far away, km.
  const CLOUD_REACH_KM = 50;
  const NO_WINDOW =
    'A point worked out on this page gets no time for bare eyes: that needs the ground, the height and what is ' +
    'uncertain as well. Ask the program for this place.';

  function distanceKm(a, b) {
    const rad = Math.PI / 180;
    const h =
      Math.sin(((b.lat_deg - a.lat_deg) * rad) / 2) ** 2 +
      Math.cos(a.lat_deg * rad) * Math.cos(b.lat_deg * rad) * Math.sin(((b.lon_deg - a.lon_deg) * rad) / 2) ** 2;
    return 12742 * Math.asin(Math.min(Math.sqrt(h), 1));
  }

  // The listed site nearest to a place among those that fit: `{site, km}`, or null.
  function nearest(model, place, fits) {
    let best = null;
    for (const site of model.sites) {
      if (site.own) continue;
      const km = distanceKm(place, site);
      if ((!best || km < best.km) && fits(site)) best = { km, site };
    }
    return best;
  }

  // Height of the ground at a place, `{metres, source}`; null where the page carries none. **The one place that
  // knows of heights.**
  /**
   * @param {any} model @param {number} latDeg @param {number} lonDeg
   * @returns {{metres: number, source: string} | null}
   */
  function groundHeight(model, latDeg, lonDeg) {
    const here = GroundEntry.at(model.ground, latDeg, lonDeg);
    const known = here !== null && here.heightM !== null;
    return known ? { metres: here.heightM, source: 'the terrain that came with this page' } : null;
  }

  // Whose clock to show: `{offsetS, zone, words}`.
  function clockFor(model, place, utcMs) {
    const best = nearest(model, place, (site) => site.contact(2) !== null);
    if (best && best.km <= CLOCK_REACH_KM) {
      const { site } = best;
      const offsetS = site.contact(2).at.offset_s;
      const away = `${Math.round(best.km)} km away`;
      const words = `clock of ${site.name}, the nearest listed site, ${away} (${site.zone}, ${Words.offset(offsetS)})`;
      return { offsetS, zone: site.zone, words };
    }
    const offsetS = -new Date(utcMs).getTimezoneOffset() * 60;
    const zone = Intl.DateTimeFormat().resolvedOptions().timeZone ?? 'zone not named';
    return { offsetS, zone, words: `clock of this device (${zone}, ${Words.offset(offsetS)}), not of the place` };
  }

  // A value in a reason: three figures at least.
  function figure(value) {
    const size = Math.abs(value);
    return value.toFixed(size >= 100 ? 0 : size >= 10 ? 1 : 2);
  }

  // The plan's requirements that the known values do not meet, and those that cannot be checked here.
  function unmet(model, valueOf) {
    const rejected = [];
    const unchecked = [];
    for (const r of model.requirements) {
      const value = valueOf(r.criterion);
      const unit = r.unit ? ` ${r.unit}` : '';
      if (value === null) {
        const least = r.at_least === null ? '' : ` at least ${r.at_least}${unit}`;
        const most = r.at_most === null ? '' : ` at most ${r.at_most}${unit}`;
        unchecked.push(`${r.label}${least}${most}`);
      } else if (r.at_least !== null && value < r.at_least) {
        rejected.push(`${r.label} ${figure(value)}${unit} is below the ${r.at_least}${unit} required (${r.key})`);
      } else if (r.at_most !== null && value > r.at_most) {
        rejected.push(`${r.label} ${figure(value)}${unit} is above the ${r.at_most}${unit} allowed (${r.key})`);
      }
    }
    return { rejected, unchecked };
  }

  // Why nothing total is seen; null inside the path with the Sun up.
  function physical({ circumstances: c, total, contacts, up }) {
    if (c.phase === 'none') return 'outside the path: no eclipse is seen here';
    if (c.phase === 'annular') return 'the eclipse is annular here, not total';
    if (!total && c.phase === 'total') {
      const smooth = `a smooth Moon would cover the Sun for ${c.durationS.toFixed(1)} s`;
      return `the Moon's edge leaves no totality here: ${smooth}, sunlight through its valleys remains`;
    }
    if (!total) return `outside the path: the eclipse is partial here (magnitude ${c.magnitude.toFixed(4)})`;
    const altitude = contacts[2].apparentAltitudeDeg.toFixed(1);
    if (![1, 2, 3].every((k) => up(contacts[k])))
      return `the Sun is below the horizon in totality (altitude ${altitude}° at maximum, level horizon)`;
    return null;
  }

  // The place as an entry like a listed site's, `own`, with `seen` for whoever wants more than the table shows.
  function place(model, name, latDeg, lonDeg, elevationM) {
    const e = model.elements;
    const c = Shadow.circumstances(e, latDeg, lonDeg, elevationM);
    const utc = (t) => e.epoch_utc_ms + t * 1000;
    // Second and third contact at the Moon's measured edge, where the page carries it.
    const measured = model.edge && c.phase !== 'annular' && c.phase !== 'none';
    const truth = measured ? Edge.totality(e, model.edge, latDeg, lonDeg, elevationM, c) : null;
    const total = truth ? !truth.none : c.phase === 'total';
    const contacts = [...c.contacts];
    if (truth) {
      const station = Shadow.station(e, latDeg, lonDeg, elevationM);
      for (const [k, t] of [
        [1, truth.c2],
        [3, truth.c3],
      ])
        contacts[k] = truth.none ? null : Shadow.view(e, station, t);
    }
    const durationS = truth ? (truth.durationS ?? 0) : c.durationS;
    const up = (v) => v !== null && v.apparentAltitudeDeg > 0;
    const here = { lat_deg: latDeg, lon_deg: lonDeg };
    const clock = contacts[2] ? clockFor(model, here, utc(contacts[2].t)) : null;
    const known = {
      totality: total ? durationS : 0,
      sun_altitude: contacts[2]?.altitudeDeg ?? 0,
    };
    const valueOf = (criterion) => known[criterion] ?? null;
    const values = model.criteria.map((k) => valueOf(k.name));
    // A column of the sites table has no value here, which the plan may have a utility for; what was not looked at
    // has none.
    const utilities = model.criteria.map((k, i) =>
      values[i] !== null ? Scoring.utility(k.points, values[i]) : k.built_in ? null : k.missing,
    );
    const first = physical({ circumstances: c, total, contacts, up });
    const { rejected, unchecked } = first === null ? unmet(model, valueOf) : { rejected: [first], unchecked: [] };
    const entries = contacts.map(
      (v) =>
        v && {
          at: { utc_ms: Math.round(utc(v.t)), offset_s: clock.offsetS },
          altitude_deg: v.apparentAltitudeDeg,
          azimuth_deg: v.azimuthDeg,
          up: up(v),
        },
    );
    const cloud = nearest(model, here, (site) => site.cloud !== null);
    return {
      own: true,
      name,
      lat_deg: latDeg,
      lon_deg: lonDeg,
      elevation_m: elevationM,
      zone: clock?.zone ?? 'UTC',
      zone_short: '',
      rank: null,
      rank_interval: null,
      first_chance: null,
      score: null,
      rejected,
      warnings: [],
      values,
      utilities,
      utility: (k) => utilities[k],
      phase: total ? 'total' : c.phase === 'total' ? 'partial' : c.phase,
      contacts: entries,
      contact: (k) => entries[k],
      duration_s: total || c.phase === 'annular' ? durationS : 0,
      magnitude: c.magnitude,
      obscuration: total ? 1 : Math.min(c.obscuration, 0.9999),
      window: null,
      no_window: total
        ? NO_WINDOW
        : c.phase === 'annular'
          ? 'A ring of Sun remains: never without a filter.'
          : 'The Sun is never wholly covered here.',
      cloud: null,
      fallback: null,
      way: null,
      detail: null,
      seen: {
        circumstances: c,
        truth,
        total,
        clock,
        unchecked,
        sunrise: c.sunrise === null ? null : utc(c.sunrise),
        sunset: c.sunset === null ? null : utc(c.sunset),
        cloudNear: cloud && cloud.km <= CLOUD_REACH_KM ? cloud : null,
      },
    };
  }

  return { place, groundHeight, distanceKm };
})();
