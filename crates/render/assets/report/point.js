// What any point of the map would see, worked out here from the Besselian elements.
const Point = (() => {
  'use strict';
  const { el } = Draw;
  const NAMES = ['C1', 'C2', 'max', 'C3', 'C4'];
  // The clock of a listed site serves a point this far away, km; beyond it the device's own clock is used and named.
  const CLOCK_REACH_KM = 300;

  function distanceKm(a, b) {
    const rad = Math.PI / 180;
    const h =
      Math.sin(((b.latDeg - a.latDeg) * rad) / 2) ** 2 +
      Math.cos(a.latDeg * rad) * Math.cos(b.latDeg * rad) * Math.sin(((b.lonDeg - a.lonDeg) * rad) / 2) ** 2;
    return 12742 * Math.asin(Math.min(Math.sqrt(h), 1));
  }

  // Whose clock to show: `{offsetS, words}`.
  function clockFor(model, latDeg, lonDeg, utcMs) {
    let best = null;
    for (const site of model.sites) {
      const km = distanceKm({ latDeg, lonDeg }, { latDeg: site.lat_deg, lonDeg: site.lon_deg });
      if (site.contacts[2] && (!best || km < best.km)) best = { km, site };
    }
    if (best && best.km <= CLOCK_REACH_KM) {
      const offsetS = best.site.contacts[2].at.offset_s;
      return {
        offsetS,
        words: `clock of ${best.site.name}, the nearest listed site, ${Math.round(best.km)} km away (${best.site.zone}, ${Words.offset(offsetS)})`,
      };
    }
    const offsetS = -new Date(utcMs).getTimezoneOffset() * 60;
    const zone = Intl.DateTimeFormat().resolvedOptions().timeZone ?? 'zone not named';
    return { offsetS, words: `clock of this device (${zone}, ${Words.offset(offsetS)}), not of the place` };
  }

  const number = (text) => {
    const value = Number(text.trim().replace('−', '-').replace(',', '.'));
    return text.trim() !== '' && Number.isFinite(value) ? value : NaN;
  };

  function start(model, onMark) {
    const form = document.getElementById('point-form'),
      out = document.getElementById('point-out');
    if (!model.elements) {
      document.getElementById('point').remove();
      return { show() {} };
    }
    const fields = ['lat', 'lon', 'height'].map((name) => document.getElementById(`point-${name}`));

    function show(latDeg, lonDeg, heightM, reveal) {
      fields[0].value = latDeg.toFixed(4);
      fields[1].value = lonDeg.toFixed(4);
      fields[2].value = String(heightM);
      const wrapped = ((((lonDeg + 180) % 360) + 360) % 360) - 180;
      onMark(latDeg, wrapped);
      out.replaceChildren(...describe(model, latDeg, wrapped, heightM));
      if (reveal) document.getElementById('point').scrollIntoView({ block: 'nearest' });
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
    return { show: (latDeg, lonDeg) => show(latDeg, lonDeg, number(fields[2].value || '0') || 0, true) };
  }

  function describe(model, latDeg, lonDeg, heightM) {
    const e = model.elements,
      c = Shadow.circumstances(e, latDeg, lonDeg, heightM);
    const place = Words.coordinates(latDeg, lonDeg);
    if (c.phase === 'none')
      return [el('p', {}, el('b', {}, place)), el('p', {}, 'Nothing of this eclipse is seen here.')];
    const utc = (t) => e.epoch_utc_ms + t * 1000;
    // Second and third contact at the Moon's measured edge, where the page carries it.
    const truth =
      model.edge && c.phase !== 'annular' ? Edge.totality(e, model.edge, latDeg, lonDeg, heightM, c) : null;
    const smoothTotal = c.phase === 'total',
      total = truth ? !truth.none : smoothTotal;
    const contacts = [...c.contacts];
    if (truth) {
      const p = Shadow.station(e, latDeg, lonDeg, heightM);
      [
        [1, truth.c2],
        [3, truth.c3],
      ].forEach(([i, t]) => {
        contacts[i] = truth.none ? null : Shadow.view(e, p, t);
      });
    }
    const durationS = truth ? truth.durationS : c.durationS;
    const [, c2, max, c3] = contacts;
    const clock = clockFor(model, latDeg, lonDeg, utc(max.t));
    const up = (v) => v.apparentAltitudeDeg > 0;
    const anyUp = contacts.some((v) => v && up(v));
    const sunUp = c2 && c3 && up(c2) && up(c3) && up(max);
    const head = !anyUp
      ? 'The Sun is below the horizon throughout.'
      : total
        ? sunUp
          ? `Totality for ${Words.length(durationS)}${truth ? ' at the Moon’s measured edge' : ''}.`
          : 'Total, but not with the Sun above the horizon all the while.'
        : smoothTotal
          ? `No totality at the Moon’s measured edge, though a smooth Moon would give ${Words.length(c.durationS)}: beads of Sun stay all the while. Filters stay on.`
          : c.phase === 'annular'
            ? `A ring for ${Words.length(c.durationS)}: filters stay on.`
            : `Partial only, ${Math.min(c.obscuration * 100, 99.9).toFixed(1)} % of the Sun’s face covered: filters stay on.`;
    const rows = contacts.map(
      (v, i) =>
        v &&
        el(
          'tr',
          {},
          el('th', { scope: 'row' }, NAMES[i]),
          el('td', { class: 'n' }, Words.clock(utc(v.t), clock.offsetS)),
          el('td', { class: 'n' }, Words.clock(utc(v.t), 0)),
          el('td', { class: 'n' }, up(v) ? `${v.apparentAltitudeDeg.toFixed(1)}°` : 'down'),
          el('td', {}, `${Math.round(v.azimuthDeg) % 360}° ${Words.shortWind(v.azimuthDeg)}`),
        ),
    );
    return [
      el('p', {}, el('b', {}, place), heightM ? `, ${heightM} m` : ''),
      el('p', { class: total && sunUp ? null : 'warn' }, head),
      el(
        'div',
        { class: 'scroll', tabindex: 0, role: 'region', 'aria-label': 'Contacts at this point' },
        el(
          'table',
          {},
          el('caption', {}, `Local: ${clock.words}. ${Words.day(utc(max.t), clock.offsetS)}.`),
          el(
            'thead',
            {},
            el(
              'tr',
              {},
              ['', 'Local', 'UTC', 'Sun’s height', 'Direction'].map((text, i) =>
                el(text ? 'th' : 'td', { scope: text ? 'col' : null, class: i > 0 && i < 4 ? 'n' : null }, text),
              ),
            ),
          ),
          el('tbody', {}, rows),
        ),
      ),
      el(
        'p',
        {},
        `Magnitude ${c.magnitude.toFixed(4)}, obscuration ${(c.obscuration * 100).toFixed(smoothTotal ? 0 : 2)} %.`,
      ),
      c.sunrise !== null && el('p', {}, `Sunrise ${Words.clock(utc(c.sunrise), clock.offsetS)}, during the eclipse.`),
      c.sunset !== null && el('p', {}, `Sunset ${Words.clock(utc(c.sunset), clock.offsetS)}, during the eclipse.`),
      Filters.always(
        total
          ? 'A tapped point gets no time for bare eyes: those need the ground, the height and what is uncertain as well. Ask the program for this place.'
          : c.phase === 'annular'
            ? 'A ring of Sun remains: never without a filter.'
            : 'The Sun is never wholly covered here.',
      ),
      el('p', { class: 'quiet' }, edgeWords(model, c, truth)),
    ].filter(Boolean);
  }

  // Which edge of the Moon the contacts are for.
  function edgeWords(model, smooth, truth) {
    const ground = 'No terrain is taken into account.';
    if (!truth)
      return `Contacts of a smooth Moon${model.edge && smooth.phase === 'total' ? ', this place lying outside the area for which its measured edge came with the page' : ''}: its real edge moves C2 and C3 by seconds, most near the edge of the path. ${ground}`;
    if (truth.none)
      return smooth.phase === 'total'
        ? `By the Moon’s measured edge; the smooth Moon’s C2 and C3 are left out. ${ground}`
        : `${ground}`;
    const off = (a, b) => `${a < b ? '−' : '+'}${Math.abs(a - b).toFixed(1)} s`;
    const against =
      smooth.phase === 'total'
        ? ` (${off(truth.c2, smooth.contacts[1].t)} and ${off(truth.c3, smooth.contacts[3].t)} from a smooth Moon’s)`
        : ', where a smooth Moon gives no totality: on the very limit';
    return `C2 and C3 at the Moon’s measured edge${against}. ${ground}`;
  }

  return { start, describe, distanceKm };
})();
