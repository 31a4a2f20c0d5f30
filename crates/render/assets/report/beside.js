// Two or more sites side by side.
const Beside = (() => {
  'use strict';
  const { el } = Draw;
  const { say } = Say;
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
              : say('site_number', { number: k + 1 }),
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
            say('one_more'),
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
            say('one_less'),
          )) ||
          '',
      );
    }

    // One row: caption, the number behind it (for the bar and the difference), the words.
    /** @returns {any[][]} */
    function quantities() {
      const eyes = (s) =>
        s.phase === 'total' && s.window ? Math.round((s.window.on.utc_ms - s.window.off.utc_ms) / 1000) : 0;
      const list = [
        [say('rank'), () => null, (s, r) => (r?.rank ? String(r.rank) : say('rejected'))],
        [say('score'), (s, r) => r?.score, (s, r) => Words.fixed(r?.score, 3), (d) => Words.fixed(d, 3)],
        [
          say('totality'),
          (s) => (s.phase === 'total' ? s.duration_s : 0),
          (s) => (s.phase === 'total' ? Words.length(s.duration_s) : say('none')),
          (d) => say('seconds', { seconds: Words.fixed(d, 0) }),
        ],
        [
          say('totality_begins_local'),
          () => null,
          (s) =>
            s.phase === 'total' && s.contacts[1]
              ? `${Site.local(s.contacts[1].at)} (${Site.clockName(s)})`
              : Words.DASH,
        ],
        [
          say('eyes_time'),
          eyes,
          (s) => (eyes(s) > 0 ? say('signed_off', { words: Words.length(eyes(s)) }) : say('eyes_never')),
          (d) => say('seconds', { seconds: Words.fixed(d, 0) }),
        ],
        [
          say('sun_height'),
          (s) => (s.contacts[2]?.up ? s.contacts[2].altitude_deg : null),
          (s) => {
            const max = s.contacts[2];
            if (!max) return Words.DASH;
            return max.up
              ? `${max.altitude_deg.toFixed(1)}°, ${Words.fists(max.altitude_deg)}`
              : say('below_horizon');
          },
          (d) => `${Words.fixed(d, 1)}°`,
        ],
        [
          say('direction'),
          () => null,
          (s) =>
            s.contacts[2]?.up
              ? `${Words.wind(s.contacts[2].azimuth_deg)} (${Words.azimuth(s.contacts[2].azimuth_deg)})`
              : Words.DASH,
        ],
        [
          say('clear_line'),
          (s) => s.cloud?.clear,
          (s) =>
            s.cloud
              ? `${Words.percent(s.cloud.clear)} (${Words.interval(s.cloud.low_95, s.cloud.high_95)})`
              : say('not_known'),
          (d) => say('points', { count: Words.fixed(d * 100, 0) }),
        ],
        [say('place_height'), () => null, (s) => say('metres', { metres: Math.round(s.elevation_m) })],
      ];
      const said = new Set(['totality', 'sun_altitude', 'clear_sky']);
      model.criteria.forEach((c, i) => {
        if (said.has(c.name)) return;
        list.push([
          c.label,
          (s) => s.values[i],
          (s) => Words.value(s.values[i], c.unit),
          (d) =>
            c.unit === 'fraction'
              ? say('points', { count: Words.fixed(d * 100, 0) })
              : Words.value(d, c.unit).replace('-', '−'),
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
        Draw.table(say('beside_table'), {}, [
          el(
            'thead',
            {},
            el(
              'tr',
              {},
              el('td', {}),
              picked.map(([s]) => el('th', { scope: 'col' }, el('bdi', {}, s.name))),
              chosen.length === 2 && el('th', { scope: 'col', class: 'n difference' }, say('second_less_first')),
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
