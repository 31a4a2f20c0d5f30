// What any point of the map would see, and the points that were kept.
const Point = (() => {
  'use strict';
  const { el } = Draw;
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
          note.textContent = `There is room for ${MOST_OWN} own points: give one up in the table first.`;
          return;
        }
        if (model.sites.some((s) => s.name === wanted)) {
          note.textContent = 'Another place has this name: give this one a name of its own.';
          return;
        }
        onKeep({ ...site, name: wanted });
        note.textContent =
          'Kept: it stands in the table, and goes into the plan that is saved and into the files below it.';
      };
      return el(
        'div',
        { class: 'keep' },
        el('label', {}, 'Name of this point ', name),
        el('button', { type: 'button', id: 'point-keep', on: { click: keep } }, 'Keep this point'),
        note,
      );
    }

    form.addEventListener('submit', (event) => {
      event.preventDefault();
      const [lat, lon, height] = fields.map((f) => number(f.value || '0'));
      const wrong = !(Math.abs(lat) <= 90)
        ? 'Give a latitude from −90 (south) to 90 (north).'
        : !(lon >= -180 && lon <= 360)
          ? 'Give a longitude from −180 (west) to 180 (east).'
          : !(height >= -500 && height <= 30000)
            ? 'Give a height from −500 to 30000 m.'
            : null;
      if (wrong) out.replaceChildren(el('p', { class: 'warn' }, wrong));
      else show(lat, lon, height, false);
    });

    // The device's own position stays on the device: nothing is sent, and this page cannot send.
    if (!navigator.geolocation) where.hidden = true;
    where.addEventListener('click', () => {
      out.replaceChildren(el('p', { role: 'status' }, 'Asking this device where it is …'));
      navigator.geolocation.getCurrentPosition(
        ({ coords }) => {
          // Heights from a satellite receiver are above the ellipsoid, as the program's are.
          const height = coords.altitude === null ? number(fields[2].value || '0') || 0 : Math.round(coords.altitude);
          show(coords.latitude, coords.longitude, height, true);
          const lines = [`This device takes itself to be within ${Math.ceil(coords.accuracy)} m of here.`];
          lines.push(
            coords.altitude === null ? 'It gives no height: set it above.' : 'The height is its own as well.',
          );
          out.prepend(el('p', { class: 'quiet' }, lines.join(' ')));
        },
        (error) => {
          const why =
            { 1: 'it was not allowed to say', 2: 'it does not know', 3: 'it took too long' }[error.code] ??
            'no reason given';
          const more = 'Some browsers never tell a page that is opened from a file. Type the coordinates instead.';
          out.replaceChildren(el('p', { class: 'warn' }, `This device does not tell where it is: ${why}. ${more}`));
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
    if (!contacts.some((v) => v?.up)) return 'The Sun is below the horizon throughout.';
    if (site.phase === 'total') {
      const edge = truth ? ' at the Moon’s measured edge' : '';
      if (c2.up && c3.up && max.up) return `Totality for ${Words.length(site.duration_s)}${edge}.`;
      return 'Total, but not with the Sun above the horizon all the while.';
    }
    if (c.phase === 'total') {
      const smooth = `though a smooth Moon would give ${Words.length(c.durationS)}`;
      return `No totality at the Moon’s measured edge, ${smooth}: beads of Sun stay all the while. Filters stay on.`;
    }
    if (c.phase === 'annular') return `A ring for ${Words.length(c.durationS)}: filters stay on.`;
    const covered = Math.min(c.obscuration * 100, 99.9).toFixed(1);
    return `Partial only, ${covered} % of the Sun’s face covered: filters stay on.`;
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
    const heads = ['', 'Local', 'The Sun'].map((text, i) =>
      el(text ? 'th' : 'td', { scope: text ? 'col' : null, class: i ? 'n' : null }, text),
    );
    const { at } = site.contacts[2];
    return Draw.table('Contacts at this point', {}, [
      el('caption', {}, `Local: ${site.seen.clock.words}. ${Words.day(at.utc_ms, at.offset_s)}.`),
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
      el('h4', {}, 'Where it would stand'),
      site.rejected.length ? el('p', { class: 'warn' }, `It would be rejected: ${site.rejected.join('; ')}.`) : null,
      site.rejected.length ? null : el('p', {}, Scoring.standingWords(model, found)),
      unchecked.length ? el('p', {}, `Not checked here: the plan also asks for ${unchecked.join('; ')}.`) : null,
    );
  }

  // What is known of the ground and the sky of the place.
  function surroundings(model, site) {
    const near = site.seen.cloudNear;
    const cloud = near
      ? `Cloud: not known for this point. ${near.site.name}, ${Math.round(near.km)} km away, has a clear line to the ` +
        `Sun in ${Words.percent(near.site.cloud.clear)}.`
      : 'Cloud: not known for this point, and no listed site with a figure is near.';
    const ground = model.ground
      ? GroundEntry.words(model.ground, site.lat_deg, site.lon_deg)
      : `Ground: its height is not carried by this page; the times are for ${site.elevation_m} m. ` +
        'Skyline: not known; the horizon is taken as level.';
    return el('p', { class: 'quiet ground-here' }, [cloud, ground].join(' '));
  }

  function describe(model, site, found) {
    const { circumstances: c, sunrise, sunset } = site.seen;
    const place = Words.coordinates(site.lat_deg, site.lon_deg);
    if (c.phase === 'none')
      return [
        el('p', {}, el('b', {}, place)),
        el('p', {}, 'Nothing of this eclipse is seen here.'),
        standingPart(model, site, found),
      ];
    const offset = site.seen.clock.offsetS;
    const fine = site.phase === 'total' && site.contacts.slice(1, 4).every((v) => v.up);
    const percent = (c.obscuration * 100).toFixed(c.phase === 'total' ? 0 : 2);
    return [
      el('p', {}, el('b', {}, place), site.elevation_m ? `, ${site.elevation_m} m` : ''),
      el('p', { class: fine ? null : 'warn' }, headline(site)),
      contactsTable(site),
      el('p', {}, `Magnitude ${c.magnitude.toFixed(4)}, obscuration ${percent} %.`),
      sunrise !== null && el('p', {}, `Sunrise ${Words.clock(sunrise, offset)}, during the eclipse.`),
      sunset !== null && el('p', {}, `Sunset ${Words.clock(sunset, offset)}, during the eclipse.`),
      Filters.always(site.no_window),
      standingPart(model, site, found),
      surroundings(model, site),
      el('p', { class: 'quiet' }, edgeWords(model, c, site.seen.truth)),
    ].filter(Boolean);
  }

  // Which edge of the Moon the contacts are for.
  function edgeWords(model, smooth, truth) {
    if (!truth) {
      const outside = ', this place lying outside the area for which its measured edge came with the page';
      const why = model.edge && smooth.phase === 'total' ? outside : '';
      const moves = 'its real edge moves C2 and C3 by seconds, most near the edge of the path';
      return `Contacts of a smooth Moon${why}: ${moves}.`;
    }
    if (truth.none)
      return smooth.phase === 'total' ? 'By the Moon’s measured edge; the smooth Moon’s C2 and C3 are left out.' : '';
    const off = (a, b) => `${a < b ? '−' : '+'}${Math.abs(a - b).toFixed(1)} s`;
    const against =
      smooth.phase === 'total'
        ? ` (${off(truth.c2, smooth.contacts[1].t)} and ${off(truth.c3, smooth.contacts[3].t)} from a smooth Moon’s)`
        : ', where a smooth Moon gives no totality: on the very limit';
    return `C2 and C3 at the Moon’s measured edge${against}.`;
  }

  return { start };
})();
