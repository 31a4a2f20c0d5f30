// The page on paper: one clean sheet about the chosen site.
const Sheet = (() => {
  'use strict';
  const { el } = Draw;
  const { say } = Say;

  function fill(model, row, rows) {
    const sheet = document.getElementById('sheet');
    document.body.classList.toggle('with-sheet', Boolean(row));
    if (!row) {
      sheet.replaceChildren();
      return;
    }
    const { site } = row;
    const total = site.phase === 'total';
    const [sky] = total ? Site.pictures(model, site) : [];
    const best = rows.filter((r) => r.rank).slice(0, 5);
    const cautions = site.window ? model.cautions_total : model.cautions_partial;
    sheet.replaceChildren(
      ...[
        el(
          'p',
          {},
          model.eclipse.title,
          row.rank ? say('rank_of', { rank: row.rank, of: rows.filter((r) => r.rank).length }) : say('not_ranked'),
        ),
        el('h1', {}, el('bdi', {}, site.name)),
        el('p', {}, Site.place(site)),
        model.invented ? el('p', { class: 'invented' }, model.invented) : null,
        row.reasons.length
          ? el('p', { class: 'clip' }, say('rejected_because', { reasons: row.reasons.join('; ') }))
          : null,
        site.way
          ? el(
              'p',
              { class: 'clip' },
              say('from_base_named', { base: site.way.base, drive: Site.driveWords(site.way) }),
            )
          : null,
        !site.way && row.rank && model.no_way ? el('p', { class: 'clip' }, model.no_way) : null,
        Site.facts(model, site, false),
        Filters.ofSite(site),
        el(
          'div',
          { class: 'columns' },
          el(
            'div',
            {},
            el('h2', {}, say('contacts_of', { zone: site.zone })),
            el(
              'table',
              {},
              el(
                'thead',
                {},
                el(
                  'tr',
                  {},
                  ['', say('local'), say('utc'), say('height'), say('direction')].map((t) => el('th', {}, t)),
                ),
              ),
              el(
                'tbody',
                {},
                site.contacts.map(
                  (c, i) =>
                    c &&
                    el(
                      'tr',
                      {},
                      el('th', {}, Site.MARKS[i]),
                      el('td', {}, Site.local(c.at)),
                      el('td', {}, Words.clock(c.at.utc_ms, 0)),
                      el('td', {}, c.up ? `${c.altitude_deg.toFixed(1)}°` : say('down')),
                      el('td', {}, `${Words.azimuth(c.azimuth_deg)} ${Words.shortWind(c.azimuth_deg)}`),
                    ),
                ),
              ),
            ),
          ),
          el('div', {}, sky ? [el('h2', {}, say('facing')), sky.querySelector('svg')] : null),
        ),
        el('h2', {}, total && site.window ? say('when_signed') : say('when_on')),
        Site.timeline(site, site.way ? 11 : 12, false),
        el('h2', {}, say('take_care')),
        el(
          'ul',
          { class: 'two' },
          cautions.map((text) => el('li', {}, text)),
        ),
        best.length > 1
          ? [
              el('h2', {}, say('best')),
              el(
                'ol',
                { class: 'best' },
                best.map((r) =>
                  el(
                    'li',
                    {},
                    el('bdi', {}, r.site.name.slice(0, 40)),
                    `: ${r.site.phase === 'total' ? Words.length(r.site.duration_s) : say('no_totality')}`,
                    r.site.cloud ? say('and_clear', { chance: Words.percent(r.site.cloud.clear) }) : '',
                  ),
                ),
              ),
            ]
          : null,
        model.notes.slice(0, 2).map((text) => el('p', { class: 'quiet clip' }, text)),
      ]
        .flat(Infinity)
        .filter(Boolean),
    );
  }

  return { fill };
})();
