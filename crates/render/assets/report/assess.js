// Any place, looked at with what the page carries: contacts, what the criteria make of it, why it would be rejected.
//
// The same rules as the program's `assess.rs`. What the page does not carry (cloud, terrain, shadow bands, columns
// of the sites table) has no value here and is named as unknown, never filled in.
const Assess = (() => {
  'use strict';
  const { say } = Say;
  // The clock of a listed site serves a place this far away, km; beyond it the device's own clock is used and named.
  const CLOCK_REACH_KM = 300;
  // The cloud figure of a listed site is mentioned, as that site's, up to this far away, km.
  const CLOUD_REACH_KM = 50;

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
    return known ? { metres: here.heightM, source: say('terrain_here') } : null;
  }

  // Whose clock to show: `{offsetS, zone, words}`.
  function clockFor(model, place, utcMs) {
    const best = nearest(model, place, (site) => site.contact(2) !== null);
    if (best && best.km <= CLOCK_REACH_KM) {
      const { site } = best;
      const offsetS = site.contact(2).at.offset_s;
      const km = Math.round(best.km);
      const { name, zone } = site;
      return { offsetS, zone, words: say('clock_of_site', { site: name, km, zone, offset: Words.offset(offsetS) }) };
    }
    const offsetS = -new Date(utcMs).getTimezoneOffset() * 60;
    const zone = Intl.DateTimeFormat().resolvedOptions().timeZone ?? say('zone_unnamed');
    return { offsetS, zone, words: say('clock_of_device', { zone, offset: Words.offset(offsetS) }) };
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
      const { label, key } = r;
      const unit = r.unit ? ` ${r.unit}` : '';
      const told = (number) => `${figure(number)}${unit}`;
      if (value === null) {
        const least = r.at_least === null ? '' : say('at_least', { value: `${r.at_least}${unit}` });
        const most = r.at_most === null ? '' : say('at_most', { value: `${r.at_most}${unit}` });
        unchecked.push(`${label}${least}${most}`);
      } else if (r.at_least !== null && value < r.at_least) {
        rejected.push(say('below_required', { label, value: told(value), least: `${r.at_least}${unit}`, key }));
      } else if (r.at_most !== null && value > r.at_most) {
        rejected.push(say('above_allowed', { label, value: told(value), most: `${r.at_most}${unit}`, key }));
      }
    }
    return { rejected, unchecked };
  }

  // Why nothing total is seen; null inside the path with the Sun up.
  function physical({ circumstances: c, total, contacts, up }) {
    if (c.phase === 'none') return say('out_no_eclipse');
    if (c.phase === 'annular') return say('out_annular');
    if (!total && c.phase === 'total') return say('out_edge', { seconds: c.durationS.toFixed(1) });
    if (!total) return say('out_partial', { magnitude: c.magnitude.toFixed(4) });
    const altitude = contacts[2].apparentAltitudeDeg.toFixed(1);
    if (![1, 2, 3].every((k) => up(contacts[k]))) return say('out_sun_down', { altitude });
    return null;
  }

  // Why some of the Sun shows all the while where nothing total is seen.
  function uncovered({ phase, durationS }) {
    if (phase === 'total') return say('valleys_shine', { seconds: durationS.toFixed(0) });
    if (phase === 'annular') return say('ring_stays');
    return phase === 'none' ? say('nothing_seen') : say('some_sun_shows');
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
      zone: clock?.zone ?? say('utc'),
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
      no_window: total ? say('no_time_for_eyes') : uncovered(c),
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
