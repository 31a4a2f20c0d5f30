// One site: the answer in short, and the day in full.
const Site = (() => {
  'use strict';
  const { el } = Draw;
  const MARKS = ['C1', 'C2', 'max', 'C3', 'C4'];
  const MEANING = {
    C1: 'The Moon touches the Sun',
    C2: 'Totality begins',
    max: 'Deepest eclipse',
    C3: 'Totality ends',
    C4: 'The Moon leaves the Sun',
  };
  const meaning = (site, mark) =>
    site.phase === 'annular' && (mark === 'C2' || mark === 'C3')
      ? mark === 'C2'
        ? 'The ring closes: filters stay on'
        : 'The ring breaks: filters stay on'
      : MEANING[mark];

  const local = (at, round) => Words.clock(at.utc_ms, at.offset_s, round);
  const utc = (at, round) => `${Words.clock(at.utc_ms, 0, round)} UTC`;
  const clockName = (site) => {
    const at = site.contacts[2]?.at;
    const offset = at ? Words.offset(at.offset_s) : '';
    return [site.zone_short && site.zone_short !== offset ? site.zone_short : null, offset]
      .filter(Boolean)
      .join(', ');
  };

  function fact(label, value, note, strong) {
    return el(
      'div',
      { class: strong ? 'strong' : null },
      el('dt', {}, label),
      el('dd', {}, el('b', {}, value), note),
    );
  }

  function oddsWords(cloud) {
    const years = cloud.years ? `, from ${cloud.years} years` : '';
    return `95 % sure of ${Words.percent(cloud.low_95)} to ${Words.percent(cloud.high_95)}${years}`;
  }

  const overBorder = (border) => (border ? `, over a border (${border})` : '');

  // A drive from the base or to the fallback, and when to leave for it.
  function driveWords(drive) {
    const leave = drive.leave_by ? `: leave by ${Words.minute(drive.leave_by)}` : '';
    const worst = drive.leave_at_worst ? `, at the very latest ${Words.minute(drive.leave_at_worst)}` : '';
    return `${Words.drive(drive.drive_hours)} without traffic${overBorder(drive.border)}${leave}${worst}`;
  }

  function fallbackWords(fallback) {
    const [low, high] = fallback.joint_clear ?? [];
    const joint = !fallback.joint_clear
      ? 'not known'
      : high - low < 0.005
        ? Words.percent(low)
        : `${Words.percent(low)} to ${Words.percent(high)}`;
    return `${driveWords(fallback)}. Clear at one of the two at least: ${joint}`;
  }

  // The facts that a leader asks for first.
  function facts(model, site, withWay = true) {
    const [, c2, max, c3] = site.contacts;
    const rows = [];
    if (site.phase === 'total' && c2) {
      rows.push(
        fact(
          'Totality lasts',
          Words.length(site.duration_s),
          site.contacts[1].up && c3.up ? null : 'the Sun is not up all the while',
          true,
        ),
        fact('Totality begins', local(c2.at), `${clockName(site)}; ${utc(c2.at)}`, true),
      );
    } else if (site.phase === 'annular' && c2) {
      rows.push(
        fact('The ring lasts', Words.length(site.duration_s), 'never without a filter'),
        fact('The ring closes', local(c2.at), `${clockName(site)}; ${utc(c2.at)}`),
      );
    } else if (max) {
      rows.push(
        fact(
          'Partial only',
          `${Math.min(site.obscuration * 100, 99.9).toFixed(1)} % covered`,
          'filters on throughout',
        ),
        fact('Deepest at', local(max.at), `${clockName(site)}; ${utc(max.at)}`),
      );
    } else {
      rows.push(fact('Eclipse', 'none here'));
    }
    if (max) {
      rows.push(
        fact(
          'The Sun stands',
          max.up ? `${max.altitude_deg.toFixed(0)}° high, ${Words.wind(max.azimuth_deg)}` : 'below the horizon',
          max.up
            ? `${Words.fists(max.altitude_deg)} at arm’s length; direction ${Words.azimuth(max.azimuth_deg)}`
            : null,
        ),
      );
    }
    rows.push(
      site.cloud
        ? fact('Clear line to the Sun', Words.percent(site.cloud.clear), oddsWords(site.cloud))
        : fact('Clear line to the Sun', 'not known', 'no cloud data given'),
    );
    if (site.way && withWay) rows.push(fact('From the base', site.way.base, driveWords(site.way)));
    if (!site.way && withWay && site.rank && model.no_way) rows.push(fact('From the base', 'no drive', model.no_way));
    if (site.fallback) rows.push(fact('If the morning is grey', site.fallback.name, fallbackWords(site.fallback)));
    return el('dl', { class: 'facts' }, rows);
  }

  // The block at the head of the page.
  function answer(model, row, changed) {
    if (!row)
      return [
        el(
          'p',
          { class: 'warn' },
          model.sites.length
            ? 'No site can be ranked: the table says why for each.'
            : 'The plan holds no candidate site.',
        ),
      ];
    const { site } = row;
    return [
      el(
        'p',
        { class: 'quiet' },
        changed ? 'Under your own weights, stand at' : 'Under the plan’s weights, stand at',
      ),
      el('p', { class: 'place' }, el('bdi', {}, site.name)),
      el('p', { class: 'quiet' }, place(site)),
      facts(model, site),
      Filters.ofSite(site),
    ];
  }

  const place = (site) =>
    `${Words.coordinates(site.lat_deg, site.lon_deg)}, ${Math.round(site.elevation_m)} m, ${site.zone}`;

  // A contact's time by the local clock, UTC below it; and where the Sun is then, its direction below its height.
  const when = (c) => [local(c.at), el('span', { class: 'under' }, utc(c.at))];
  const sunThere = (c) => [
    c.up ? `${c.altitude_deg.toFixed(1)}°` : 'down',
    el('span', { class: 'under' }, `${Words.azimuth(c.azimuth_deg)} ${Words.shortWind(c.azimuth_deg)}`),
  ];

  function contactsTable(site) {
    const max = site.contacts[2];
    if (!max) return el('p', {}, 'Nothing of the eclipse is seen here.');
    const day = Words.day(max.at.utc_ms, max.at.offset_s);
    const rows = site.contacts.map(
      (c, i) =>
        c &&
        el(
          'tr',
          {},
          el('th', { scope: 'row' }, `${MARKS[i]} `, el('span', { class: 'under' }, meaning(site, MARKS[i]))),
          el('td', { class: 'n' }, el('span', { 'data-until': c.at.utc_ms, role: 'timer' })),
          el('td', { class: 'n' }, when(c)),
          el('td', { class: 'n' }, sunThere(c)),
        ),
    );
    const heads = ['Contact', 'Still to go', 'Local', 'The Sun'];
    return [
      el('p', { class: 'quiet' }, `Contacts by the clock of ${site.zone} (${clockName(site)}), ${day}.`),
      Draw.table('Contacts and countdown', { id: 'countdown' }, [
        el(
          'thead',
          {},
          el(
            'tr',
            {},
            heads.map((text, i) => el('th', { scope: 'col', class: i ? 'n' : null }, text)),
          ),
        ),
        el('tbody', {}, rows),
      ]),
    ];
  }

  // What happens when: the timeline that the report carries. Whether the filter is ON or OFF is read off the window,
  // never off the words.
  function timeline(site, most = Infinity, looks = true) {
    const all = site.detail?.timeline ?? [];
    if (!all.length)
      return el('p', { class: 'quiet' }, 'Told in full for the best places only; the contacts are above.');
    const total = site.phase === 'total' && site.window;
    // Where room is short the contacts and the filter lines stay.
    const must = (event) => event.mark || event.must;
    let spare = most - all.filter(must).length;
    const kept = all.filter((event) => must(event) || spare-- > 0);
    return el(
      'ol',
      { class: 'timeline' },
      kept.map((event) => {
        const bare = total && event.at.utc_ms >= site.window.off.utc_ms && event.at.utc_ms < site.window.on.utc_ms;
        return el(
          'li',
          { class: bare ? 'unfiltered' : null },
          el('b', {}, local(event.at)),
          el('span', { class: 'quiet utc' }, utc(event.at)),
          el('span', { class: 'state' }, bare ? '◯ OFF' : '■ ON'),
          el(
            'span',
            { class: 'event' },
            event.mark ? el('b', {}, `${event.mark} `) : null,
            event.what,
            event.look && looks ? el('span', { class: 'quiet look' }, event.look) : null,
          ),
        );
      }),
    );
  }

  function sharesTable(model, site, weights, mean) {
    const total = weights.reduce((a, b) => a + b, 0);
    const product = mean === 'geometric';
    const shareOf = (u, weight) => (product ? u ** (weight / total) : (u * weight) / total);
    const { values, utilities } = site;
    const rows = model.criteria.map((c, i) => {
      const u = utilities[i];
      const share = u === null || total <= 0 ? null : shareOf(u, weights[i]);
      return el(
        'tr',
        {},
        el('th', { scope: 'row' }, c.label),
        el('td', { class: 'n' }, Words.value(values[i], c.unit)),
        el('td', { class: 'n' }, Words.fixed(u, 3)),
        el('td', { class: 'n' }, Words.fixed(weights[i], 2)),
        el('td', { class: 'n' }, Words.fixed(share, 3)),
        el('td', {}, c.curve),
      );
    });
    const heads = ['Criterion', 'Value', 'Utility', 'Weight', 'Share', 'Utility curve'];
    const how = product ? 'the shares multiply to the score' : 'the shares add up to the score';
    return [
      el('p', { class: 'quiet' }, `How the score comes about: ${how}.`),
      Draw.table('How the score comes about', { class: 'stacked' }, [
        el(
          'thead',
          {},
          el(
            'tr',
            {},
            heads.map((text, i) => el('th', { scope: 'col', class: i > 0 && i < 5 ? 'n' : null }, text)),
          ),
        ),
        el('tbody', {}, rows),
      ]),
    ];
  }

  function pictures(model, site) {
    const max = site.contacts[2],
      out = [];
    if (!max) return out;
    const e = model.elements;
    if (site.phase === 'total' && max.up && site.detail?.sky.length) {
      out.push(
        el(
          'figure',
          {},
          el('h3', {}, 'The sky in totality'),
          Draw.sky(max, site.detail.sky),
          el(
            'figcaption',
            {},
            'Facing the Sun, the zenith at the top. Filled: to be seen with unaided eyes; open: hard to see.',
          ),
        ),
      );
    }
    if (e && site.contacts[0] && site.contacts[4]) {
      const seconds = (c) => (c.at.utc_ms - e.epoch_utc_ms) / 1000;
      const [from, to] = [seconds(site.contacts[0]), seconds(site.contacts[4])];
      const track = Shadow.track(e, site.lat_deg, site.lon_deg, site.elevation_m, from, to, 60);
      const at = (c) => ({ azimuthDeg: c.azimuth_deg, apparentAltitudeDeg: c.altitude_deg });
      const marks = [
        { view: at(site.contacts[0]), name: 'C1' },
        { view: at(site.contacts[4]), name: 'C4' },
        { view: at(max), name: site.phase === 'total' ? 'totality' : 'max', deep: true },
      ];
      const skyline = site.detail?.skyline;
      const margin = skyline?.least_margin_deg;
      const words = skyline
        ? [
            margin === null || margin === undefined
              ? null
              : margin >= 0
                ? `In totality the Sun clears the skyline by ${margin.toFixed(1)}°.`
                : `In totality the skyline hides the Sun by ${(-margin).toFixed(1)}°.`,
            skyline.sun_lost ? `The Sun goes behind it at ${local(skyline.sun_lost)}.` : null,
            `Skyline: ${skyline.source}.`,
          ]
            .filter(Boolean)
            .join(' ')
        : 'No terrain was given for this site: the horizon is drawn level. Look at the place before you trust it.';
      out.push(
        el(
          'figure',
          {},
          el('h3', {}, 'The Sun’s track'),
          Draw.skyline(track, marks, skyline?.profile),
          el('figcaption', {}, words),
        ),
      );
    }
    if (site.cloud) {
      out.push(
        el(
          'figure',
          {},
          el('h3', {}, 'How likely is a clear line to the Sun?'),
          Draw.odds(site.cloud),
          el(
            'figcaption',
            {},
            `${Words.percent(site.cloud.clear)} (dot); ${oddsWords(site.cloud)} (bar). `,
            `Mean cloud ${Words.percent(site.cloud.cloud_fraction)}. Source: ${site.cloud.source}.`,
          ),
        ),
      );
    }
    if (site.window && site.detail?.edge) {
      out.push(
        el(
          'figure',
          { class: 'whole' },
          el('h3', {}, 'The Moon’s edge at the last and the first light'),
          Draw.drawn(site.detail.edge.svg),
          el('figcaption', {}, site.detail.edge.words.join(' ')),
        ),
      );
    }
    return out;
  }

  // The whole section.
  function full(model, row, weights, mean) {
    const { site } = row;
    const detail = site.detail;
    const firstIn = site.first_chance === null ? '' : `, first in ${Words.percent(site.first_chance)}`;
    return [
      el(
        'p',
        { class: 'quiet' },
        place(site),
        row.rank ? ` · rank ${row.rank}, score ${row.score.toFixed(3)}` : ' · not ranked',
        row.rank && site.rank_interval
          ? `. Over the draws about the plan’s weights: rank ${site.rank_interval.join('–')}${firstIn}`
          : '',
      ),
      row.reasons.length ? el('p', { class: 'warn' }, `Rejected: ${row.reasons.join('; ')}.`) : null,
      site.warnings.map((text) => el('p', { class: 'warn' }, text)),
      facts(model, site),
      Filters.ofSite(site),
      detail?.look_away ? el('p', { class: 'warn' }, el('b', {}, 'Look away: '), detail.look_away) : null,
      el('h3', {}, 'Still to go'),
      contactsTable(site),
      el('p', { class: 'quiet', id: 'device-clock' }),
      el('div', { class: 'pictures' }, pictures(model, site)),
      el('h3', {}, 'What happens when'),
      timeline(site),
      detail?.facts.length
        ? [
            el('h3', {}, 'What there is to see'),
            el(
              'dl',
              { class: 'facts' },
              detail.facts.map((f) => fact(f.label, f.value, f.note)),
            ),
          ]
        : null,
      el('h3', {}, 'Why it stands where it stands'),
      sharesTable(model, site, weights, mean),
    ]
      .flat(Infinity)
      .filter(Boolean);
  }

  // Choices for a list of sites: of very many the first, and the one that must be there; the table has them all.
  const MOST_CHOICES = 200;
  function choices(model, keep) {
    const count = Math.min(model.sites.length, MOST_CHOICES);
    const indices = Array.from({ length: count }, (_, k) => k);
    model.sites.forEach((site, k) => {
      if (k >= count && (site.own || k === keep)) indices.push(k);
    });
    return indices.map((k) => el('option', { value: k, selected: k === keep }, model.sites[k].name.slice(0, 60)));
  }

  return {
    choices,
    when,
    sunThere,
    answer,
    full,
    facts,
    fact,
    timeline,
    pictures,
    clockName,
    place,
    local,
    utc,
    meaning,
    MARKS,
    oddsWords,
    fallbackWords,
    driveWords,
  };
})();
