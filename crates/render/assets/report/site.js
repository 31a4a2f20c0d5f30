// One site: the answer in short, and the day in full.
const Site = (() => {
  'use strict';
  const { el } = Draw;
  const { say } = Say;
  const MARKS = ['C1', 'C2', 'max', 'C3', 'C4'];
  function meaning(site, mark) {
    const ring = site.phase === 'annular';
    return {
      C1: say('c1'),
      C2: ring ? say('c2_ring') : say('totality_begins'),
      max: say('max'),
      C3: ring ? say('c3_ring') : say('c3_total'),
      C4: say('c4'),
    }[mark];
  }

  const local = (at, round) => Words.clock(at.utc_ms, at.offset_s, round);
  const utc = (at, round) => say('utc_time', { time: Words.clock(at.utc_ms, 0, round) });
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
    const years = cloud.years ? say('years', { years: cloud.years }) : '';
    return `${Words.oddsInterval(cloud)}${years}`;
  }

  const overBorder = (between) => (between ? say('over_border', { between }) : '');

  // A drive from the base or to the fallback, and when to leave for it.
  function driveWords(drive) {
    const way = say('drive', { drive: Words.drive(drive.drive_hours), border: overBorder(drive.border) });
    const leave = drive.leave_by ? `: ${say('leave_by', { time: Words.minute(drive.leave_by) })}` : '';
    const worst = drive.leave_at_worst
      ? `, ${say('at_the_latest', { time: Words.minute(drive.leave_at_worst) })}`
      : '';
    return `${way}${leave}${worst}`;
  }

  function fallbackWords(fallback) {
    const [low, high] = fallback.joint_clear ?? [];
    const chance = !fallback.joint_clear
      ? say('not_known')
      : high - low < 0.005
        ? Words.percent(low)
        : Words.interval(low, high);
    return `${driveWords(fallback)}. ${say('clear_at_one', { chance })}`;
  }

  // The facts that a leader asks for first.
  function facts(model, site, withWay = true) {
    const [, c2, max, c3] = site.contacts;
    const rows = [];
    if (site.phase === 'total' && c2) {
      rows.push(
        fact(
          say('totality_lasts'),
          Words.length(site.duration_s),
          site.contacts[1].up && c3.up ? null : say('sun_not_up'),
          true,
        ),
        fact(say('totality_begins'), local(c2.at), `${clockName(site)}; ${utc(c2.at)}`, true),
      );
    } else if (site.phase === 'annular' && c2) {
      rows.push(
        fact(say('ring_lasts'), Words.length(site.duration_s), say('never_without')),
        fact(say('ring_closes_at'), local(c2.at), `${clockName(site)}; ${utc(c2.at)}`),
      );
    } else if (max) {
      rows.push(
        fact(
          say('partial_only'),
          say('covered', { percent: Math.min(site.obscuration * 100, 99.9).toFixed(1) }),
          say('filters_throughout'),
        ),
        fact(say('deepest_at'), local(max.at), `${clockName(site)}; ${utc(max.at)}`),
      );
    } else {
      rows.push(fact(say('eclipse'), say('none_here')));
    }
    if (max) {
      rows.push(
        fact(
          say('sun_stands'),
          max.up
            ? say('high_in', { height: max.altitude_deg.toFixed(0), direction: Words.wind(max.azimuth_deg) })
            : say('below_horizon'),
          max.up
            ? say('fists_towards', {
                fists: say('arms_length', { fists: Words.fists(max.altitude_deg) }),
                azimuth: Words.azimuth(max.azimuth_deg),
              })
            : null,
        ),
      );
    }
    rows.push(
      site.cloud
        ? fact(say('clear_line'), Words.percent(site.cloud.clear), oddsWords(site.cloud))
        : fact(say('clear_line'), say('not_known'), say('no_cloud')),
    );
    if (site.way && withWay) rows.push(fact(say('from_base'), site.way.base, driveWords(site.way)));
    if (!site.way && withWay && site.rank && model.no_way)
      rows.push(fact(say('from_base'), say('no_drive'), model.no_way));
    if (site.fallback) rows.push(fact(say('if_grey'), site.fallback.name, fallbackWords(site.fallback)));
    return el('dl', { class: 'facts' }, rows);
  }

  // The block at the head of the page.
  function answer(model, row, changed) {
    if (!row) return [el('p', { class: 'warn' }, model.sites.length ? say('no_site') : say('no_candidate'))];
    const { site } = row;
    return [
      el('p', { class: 'quiet' }, changed ? say('own_weights_stand') : say('plan_weights_stand')),
      el('p', { class: 'place' }, el('bdi', {}, site.name)),
      el('p', { class: 'quiet' }, place(site)),
      facts(model, site),
      Filters.ofSite(site),
    ];
  }

  const place = (site) => {
    const metres = Math.round(site.elevation_m);
    return [Words.coordinates(site.lat_deg, site.lon_deg), say('metres', { metres }), site.zone].join(', ');
  };

  // A contact's time by the local clock, UTC below it; and where the Sun is then, its direction below its height.
  const when = (c) => [local(c.at), el('span', { class: 'under' }, utc(c.at))];
  const sunThere = (c) => [
    c.up ? `${c.altitude_deg.toFixed(1)}°` : say('down'),
    el('span', { class: 'under' }, `${Words.azimuth(c.azimuth_deg)} ${Words.shortWind(c.azimuth_deg)}`),
  ];

  function contactsTable(site) {
    const max = site.contacts[2];
    if (!max) return el('p', {}, say('nothing_seen'));
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
    const heads = [say('contact'), say('to_go'), say('local'), say('the_sun')];
    return [
      el('p', { class: 'quiet' }, say('contacts_by', { zone: site.zone, clock: clockName(site), day })),
      Draw.table(say('countdown'), { id: 'countdown' }, [
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
    if (!all.length) return el('p', { class: 'quiet' }, say('told_for_best'));
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
          el(
            'span',
            { class: 'state' },
            bare ? say('signed_off', { words: say('off') }) : say('signed_on', { words: say('on') }),
          ),
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
    const heads = [say('criterion'), say('value'), say('utility'), say('weight'), say('share'), say('curve')];
    return [
      el('p', { class: 'quiet' }, product ? say('score_multiplies') : say('score_adds')),
      Draw.table(say('score_about'), { class: 'stacked' }, [
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
          el('h3', {}, say('sky')),
          Draw.sky(max, site.detail.sky),
          el('figcaption', {}, say('sky_signs')),
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
        { view: at(max), name: site.phase === 'total' ? say('totality_there') : 'max', deep: true },
      ];
      const skyline = site.detail?.skyline;
      out.push(
        el(
          'figure',
          {},
          el('h3', {}, say('track')),
          Draw.skyline(track, marks, skyline?.profile),
          el('figcaption', {}, skyline ? skyline.words : say('no_terrain')),
        ),
      );
    }
    if (site.cloud) {
      out.push(
        el(
          'figure',
          {},
          el('h3', {}, say('how_likely')),
          Draw.odds(site.cloud),
          el(
            'figcaption',
            {},
            say('odds_signs', {
              chance: Words.percent(site.cloud.clear),
              interval: oddsWords(site.cloud),
              cloud: Words.percent(site.cloud.cloud_fraction),
              source: site.cloud.source,
            }),
          ),
        ),
      );
    }
    if (site.window && site.detail?.edge) {
      out.push(
        el(
          'figure',
          { class: 'whole' },
          el('h3', {}, say('edge')),
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
    const firstIn = site.first_chance === null ? '' : say('first_in', { chance: Words.percent(site.first_chance) });
    return [
      el(
        'p',
        { class: 'quiet' },
        place(site),
        row.rank ? say('rank_score', { rank: row.rank, score: row.score.toFixed(3) }) : say('not_ranked'),
        row.rank && site.rank_interval
          ? say('rank_range', { range: site.rank_interval.join('–'), first: firstIn })
          : '',
      ),
      row.reasons.length
        ? el('p', { class: 'warn' }, say('rejected_because', { reasons: row.reasons.join('; ') }))
        : null,
      site.warnings.map((text) => el('p', { class: 'warn' }, text)),
      facts(model, site),
      Filters.ofSite(site),
      detail?.look_away ? el('p', { class: 'warn' }, el('b', {}, say('look_away')), detail.look_away) : null,
      el('h3', {}, say('to_go')),
      contactsTable(site),
      el('p', { class: 'quiet', id: 'device-clock' }),
      el('div', { class: 'pictures' }, pictures(model, site)),
      el('h3', {}, say('when')),
      timeline(site),
      detail?.facts.length
        ? [
            el('h3', {}, say('what_to_see')),
            el(
              'dl',
              { class: 'facts' },
              detail.facts.map((f) => fact(f.label, f.value, f.note)),
            ),
          ]
        : null,
      el('h3', {}, say('why_it_stands')),
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
