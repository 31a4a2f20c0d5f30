// Two or more sites side by side.
const Beside = (() => {
  'use strict';
  const { el } = Draw;
  const MOST = 4;

  function start(model) {
    const box = document.getElementById('beside-choice'),
      out = document.getElementById('beside-out');
    const sites = model.sites;
    if (sites.length < 2) {
      document.getElementById('beside').remove();
      return { update() {} };
    }
    let chosen = model.pair ? [...model.pair] : [0, 1],
      rows = [];

    function choices() {
      box.replaceChildren(
        ...chosen.map((index, k) =>
          el(
            'label',
            {},
            model.pair && k < 2 && index === model.pair[k] && model.pair_labels[k]
              ? model.pair_labels[k]
              : `Site ${k + 1}`,
            el(
              'select',
              {
                on: {
                  change: (event) => {
                    chosen[k] = Number(event.target.value);
                    choices();
                    draw();
                  },
                },
              },
              Site.choices(model, index),
            ),
          ),
        ),
        (chosen.length < MOST &&
          el(
            'button',
            {
              type: 'button',
              on: {
                click: () => {
                  chosen.push(sites.findIndex((_, i) => !chosen.includes(i)));
                  if (chosen.at(-1) < 0) chosen[chosen.length - 1] = 0;
                  choices();
                  draw();
                },
              },
            },
            'One more',
          )) ||
          '',
        (chosen.length > 2 &&
          el(
            'button',
            {
              type: 'button',
              on: {
                click: () => {
                  chosen.pop();
                  choices();
                  draw();
                },
              },
            },
            'One less',
          )) ||
          '',
      );
    }

    // One row: caption, the number behind it (for the bar and the difference), the words.
    const part = (fraction) => Math.round(fraction * 100);
    /** @returns {any[][]} */
    function quantities() {
      const eyes = (s) =>
        s.phase === 'total' && s.window ? Math.round((s.window.on.utc_ms - s.window.off.utc_ms) / 1000) : 0;
      const list = [
        ['Rank', () => null, (s, r) => (r?.rank ? String(r.rank) : 'rejected')],
        ['Score', (s, r) => r?.score, (s, r) => Words.fixed(r?.score, 3), (d) => Words.fixed(d, 3)],
        [
          'Totality',
          (s) => (s.phase === 'total' ? s.duration_s : 0),
          (s) => (s.phase === 'total' ? Words.length(s.duration_s) : 'none'),
          (d) => `${Words.fixed(d, 0)} s`,
        ],
        [
          'Totality begins, local',
          () => null,
          (s) =>
            s.phase === 'total' && s.contacts[1]
              ? `${Site.local(s.contacts[1].at)} (${Site.clockName(s)})`
              : Words.DASH,
        ],
        [
          'Time for unaided eyes',
          eyes,
          (s) => (eyes(s) > 0 ? `◯ ${Words.length(eyes(s))}` : '■ never: filter ON throughout'),
          (d) => `${Words.fixed(d, 0)} s`,
        ],
        [
          'Sun’s height',
          (s) => (s.contacts[2]?.up ? s.contacts[2].altitude_deg : null),
          (s) => {
            const max = s.contacts[2];
            if (!max) return Words.DASH;
            return max.up ? `${max.altitude_deg.toFixed(1)}°, ${Words.fists(max.altitude_deg)}` : 'below the horizon';
          },
          (d) => `${Words.fixed(d, 1)}°`,
        ],
        [
          'Direction',
          () => null,
          (s) =>
            s.contacts[2]?.up
              ? `${Words.wind(s.contacts[2].azimuth_deg)} (${Words.azimuth(s.contacts[2].azimuth_deg)})`
              : Words.DASH,
        ],
        [
          'Clear line to the Sun',
          (s) => s.cloud?.clear,
          (s) =>
            s.cloud
              ? `${Words.percent(s.cloud.clear)} (${part(s.cloud.low_95)}–${part(s.cloud.high_95)} %)`
              : 'not known',
          (d) => `${Words.fixed(d * 100, 0)} points`,
        ],
        ['Height of the place', () => null, (s) => `${Math.round(s.elevation_m)} m`],
      ];
      const said = new Set(['totality', 'sun_altitude', 'clear_sky']);
      model.criteria.forEach((c, i) => {
        if (said.has(c.name)) return;
        list.push([
          c.label,
          (s) => s.values[i],
          (s) => Words.value(s.values[i], c.unit),
          (d) =>
            c.unit === 'fraction' ? `${Words.fixed(d * 100, 0)} points` : Words.value(d, c.unit).replace('-', '−'),
        ]);
      });
      const labels = [...new Set(chosen.flatMap((i) => sites[i].detail?.facts.map((f) => f.label) ?? []))];
      for (const label of labels) {
        list.push([label, () => null, (s) => s.detail?.facts.find((f) => f.label === label)?.value ?? Words.DASH]);
      }
      return list;
    }

    function draw() {
      const byIndex = new Map(rows.map((r) => [r.index, r]));
      const picked = chosen.map((i) => [sites[i], byIndex.get(i)]);
      const isPair = model.pair && chosen.length === 2 && chosen.every((c, k) => c === model.pair[k]);
      const body = quantities().map(([label, number, words, difference]) => {
        const values = picked.map(([s, r]) => number(s, r));
        const most = Math.max(...values.filter((v) => Number.isFinite(v)).map(Math.abs), 0);
        return el(
          'tr',
          {},
          el('th', { scope: 'row' }, label),
          picked.map(([s, r], k) =>
            el(
              'td',
              {},
              words(s, r),
              most > 0 && Number.isFinite(values[k])
                ? el('span', {
                    class: 'bar',
                    style: `width:${Math.round((Math.abs(values[k]) / most) * 100)}%`,
                    'aria-hidden': 'true',
                  })
                : null,
            ),
          ),
          chosen.length === 2 &&
            el(
              'td',
              { class: 'n difference' },
              difference && values.every((v) => Number.isFinite(v))
                ? `${values[1] > values[0] ? '+' : ''}${difference(values[1] - values[0])}`
                : '',
            ),
        );
      });
      out.replaceChildren(
        Draw.table('Table of the sites side by side', {}, [
          el(
            'thead',
            {},
            el(
              'tr',
              {},
              el('td', {}),
              picked.map(([s]) => el('th', { scope: 'col' }, el('bdi', {}, s.name))),
              chosen.length === 2 && el('th', { scope: 'col', class: 'n difference' }, 'Second less first'),
            ),
          ),
          el('tbody', {}, body),
        ]),
        ...(isPair ? model.pair_words.map((text) => el('p', {}, text)) : []),
      );
    }
    return {
      update(newRows) {
        rows = newRows;
        // An own point may have come or gone.
        chosen = chosen.map((index) => Math.min(index, sites.length - 1));
        choices();
        draw();
      },
    };
  }
  return { start };
})();
