// What any point of the map would see, and the points that were kept.
const Point = (() => {
  'use strict';
  const { el } = Draw;
  const { say } = Say;
  const NAMES = ['C1', 'C2', 'max', 'C3', 'C4'];
  const MOST_OWN = 50;

  const number = (text) => {
    const value = Number(text.trim().replace('−', '-').replace(',', '.'));
    return text.trim() !== '' && Number.isFinite(value) ? value : NaN;
  };

  // `standing(site)` says where a place would stand; `onMark(lat, lon)` shows it on the map; `onKeep(site)` takes a
  // kept one.
  function start(model, { standing, onMark, onKeep }) {
    const form = document.getElementById('point-form');
    const out = document.getElementById('point-out');
    if (!model.elements) {
      document.getElementById('point').remove();
      return { show() {} };
    }
    const fields = ['lat', 'lon', 'height'].map((name) => document.getElementById(`point-${name}`));
    const where = document.getElementById('point-here');
    let shown = null;

    function show(latDeg, lonDeg, heightM, reveal, name) {
      const wrapped = ((((lonDeg + 180) % 360) + 360) % 360) - 180;
      fields[0].value = latDeg.toFixed(4);
      fields[1].value = wrapped.toFixed(4);
      fields[2].value = String(heightM);
      onMark(latDeg, wrapped);
      const site = Assess.place(model, name ?? Words.coordinates(latDeg, wrapped), latDeg, wrapped, heightM);
      shown = site;
      out.replaceChildren(...describe(model, site, standing(site)), keeper(site));
      if (reveal) document.getElementById('point').scrollIntoView({ block: 'nearest' });
    }

    function keeper(site) {
      const name = el('input', { id: 'point-name', maxlength: 60, autocomplete: 'off', value: site.name });
      const note = el('p', { class: 'quiet', role: 'status' });
      const full = () => model.sites.filter((s) => s.own).length >= MOST_OWN;
      const keep = () => {
        const wanted = name.value.trim() || site.name;
        if (full()) {
          note.textContent = say('own_most', { most: MOST_OWN });
          return;
        }
        if (model.sites.some((s) => s.name === wanted)) {
          note.textContent = say('name_taken');
          return;
        }
        onKeep({ ...site, name: wanted });
        note.textContent = say('kept');
      };
      return el(
        'div',
        { class: 'keep' },
        el('label', {}, say('point_name'), ' ', name),
        el('button', { type: 'button', id: 'point-keep', on: { click: keep } }, say('keep')),
        note,
      );
    }

    form.addEventListener('submit', (event) => {
      event.preventDefault();
      const [lat, lon, height] = fields.map((f) => number(f.value || '0'));
      const wrong = !(Math.abs(lat) <= 90)
        ? say('bad_latitude')
        : !(lon >= -180 && lon <= 360)
          ? say('bad_longitude')
          : !(height >= -500 && height <= 30000)
            ? say('bad_height')
            : null;
      if (wrong) out.replaceChildren(el('p', { class: 'warn' }, wrong));
      else show(lat, lon, height, false);
    });

    // The device's own position stays on the device: nothing is sent, and this page cannot send.
    if (!navigator.geolocation) where.hidden = true;
    where.addEventListener('click', () => {
      out.replaceChildren(el('p', { role: 'status' }, say('asking')));
      navigator.geolocation.getCurrentPosition(
        ({ coords }) => {
          // Heights from a satellite receiver are above the ellipsoid, as the program's are.
          const height = coords.altitude === null ? number(fields[2].value || '0') || 0 : Math.round(coords.altitude);
          show(coords.latitude, coords.longitude, height, true);
          const lines = [say('within', { metres: Math.ceil(coords.accuracy) })];
          lines.push(coords.altitude === null ? say('no_height') : say('height_too'));
          out.prepend(el('p', { class: 'quiet' }, lines.join(' ')));
        },
        (error) => {
          const why =
            { 1: say('not_allowed'), 2: say('does_not_know'), 3: say('too_long') }[error.code] ?? say('no_reason');
          out.replaceChildren(el('p', { class: 'warn' }, say('device_silent', { why })));
        },
        { enableHighAccuracy: true, timeout: 30000, maximumAge: 0 },
      );
    });

    return {
      show(latDeg, lonDeg, own) {
        const height = own
          ? own.elevation_m
          : (Assess.groundHeight(model, latDeg, lonDeg)?.metres ?? number(fields[2].value || '0'));
        show(latDeg, lonDeg, Number.isFinite(height) ? height : 0, true, own?.name);
      },
      refresh() {
        if (!shown) return;
        const old = out.querySelector('.standing');
        old?.replaceWith(standingPart(model, shown, standing(shown)));
      },
    };
  }

  function headline(site) {
    const { circumstances: c, truth } = site.seen;
    const contacts = site.contacts;
    const [, c2, max, c3] = contacts;
    if (!contacts.some((v) => v?.up)) return say('down_throughout');
    if (site.phase === 'total') {
      const length = Words.length(site.duration_s);
      if (!(c2.up && c3.up && max.up)) return say('total_not_up');
      return truth ? say('totality_at_edge', { length }) : say('totality_for', { length });
    }
    if (c.phase === 'total') return say('edge_leaves_none', { length: Words.length(c.durationS) });
    if (c.phase === 'annular') return say('ring_for', { length: Words.length(c.durationS) });
    return say('partial_covered', { percent: Math.min(c.obscuration * 100, 99.9).toFixed(1) });
  }

  function contactsTable(site) {
    const rows = site.contacts.map(
      (c, i) =>
        c &&
        el(
          'tr',
          {},
          el('th', { scope: 'row' }, NAMES[i]),
          el('td', { class: 'n' }, Site.when(c)),
          el('td', { class: 'n' }, Site.sunThere(c)),
        ),
    );
    const heads = ['', say('local'), say('the_sun')].map((text, i) =>
      el(text ? 'th' : 'td', { scope: text ? 'col' : null, class: i ? 'n' : null }, text),
    );
    const { at } = site.contacts[2];
    return Draw.table(say('contacts_here'), {}, [
      el('caption', {}, say('local_by', { clock: site.seen.clock.words, day: Words.day(at.utc_ms, at.offset_s) })),
      el('thead', {}, el('tr', {}, heads)),
      el('tbody', {}, rows),
    ]);
  }

  // Score and rank, or what is lacking for them; and why the place would be rejected.
  function standingPart(model, site, found) {
    const { unchecked } = site.seen;
    return el(
      'div',
      { class: 'standing' },
      el('h4', {}, say('would_stand')),
      site.rejected.length
        ? el('p', { class: 'warn' }, say('would_be_rejected', { reasons: site.rejected.join('; ') }))
        : null,
      site.rejected.length ? null : el('p', {}, Scoring.standingWords(model, found)),
      unchecked.length ? el('p', {}, say('not_checked', { requirements: unchecked.join('; ') })) : null,
    );
  }

  // What is known of the ground and the sky of the place.
  function surroundings(model, site) {
    const near = site.seen.cloudNear;
    const cloud = near
      ? say('cloud_near', {
          site: near.site.name,
          km: Math.round(near.km),
          chance: Words.percent(near.site.cloud.clear),
        })
      : say('cloud_none');
    const ground = model.ground
      ? GroundEntry.words(model.ground, site.lat_deg, site.lon_deg)
      : say('no_ground', { metres: site.elevation_m });
    return el('p', { class: 'quiet ground-here' }, [cloud, ground].join(' '));
  }

  function describe(model, site, found) {
    const { circumstances: c, sunrise, sunset } = site.seen;
    const place = Words.coordinates(site.lat_deg, site.lon_deg);
    if (c.phase === 'none')
      return [el('p', {}, el('b', {}, place)), el('p', {}, say('nothing_seen')), standingPart(model, site, found)];
    const offset = site.seen.clock.offsetS;
    const fine = site.phase === 'total' && site.contacts.slice(1, 4).every((v) => v.up);
    const percent = (c.obscuration * 100).toFixed(c.phase === 'total' ? 0 : 2);
    return [
      el('p', {}, el('b', {}, place), site.elevation_m ? `, ${say('metres', { metres: site.elevation_m })}` : ''),
      el('p', { class: fine ? null : 'warn' }, headline(site)),
      contactsTable(site),
      el('p', {}, `${say('depth', { magnitude: c.magnitude.toFixed(4), percent })}.`),
      sunrise !== null && el('p', {}, `${say('sunrise', { time: Words.clock(sunrise, offset) })}.`),
      sunset !== null && el('p', {}, `${say('sunset', { time: Words.clock(sunset, offset) })}.`),
      Filters.always(site.no_window),
      standingPart(model, site, found),
      surroundings(model, site),
      el('p', { class: 'quiet' }, edgeWords(model, c, site.seen.truth)),
    ].filter(Boolean);
  }

  // Which edge of the Moon the contacts are for.
  function edgeWords(model, smooth, truth) {
    const total = smooth.phase === 'total';
    if (!truth) return model.edge && total ? say('smooth_outside') : say('smooth');
    if (truth.none) return total ? say('edge_left_out') : '';
    if (!total) return say('edge_at_limit');
    const off = (a, b) => `${a < b ? '−' : '+'}${Math.abs(a - b).toFixed(1)}`;
    return say('edge_against', {
      c2: off(truth.c2, smooth.contacts[1].t),
      c3: off(truth.c3, smooth.contacts[3].t),
    });
  }

  return { start };
})();
