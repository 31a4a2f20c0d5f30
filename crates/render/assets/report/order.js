// The ranked table and the weights.
const Order = (() => {
  'use strict';
  const { el } = Draw;
  const FIRST_ROWS = 100;

  // Columns: caption, whether numeric, the value that sorts, the cell.
  function columns(model) {
    const has = (f) => model.sites.some(f);
    return [
      {
        name: 'Rank',
        numeric: true,
        sort: (r) => r.rank ?? Infinity,
        cell: (r) =>
          r.rank
            ? [
                el('span', { class: 'disc' }, r.rank),
                r.site.rank_interval ? el('span', { class: 'range' }, r.site.rank_interval.join('–')) : null,
              ]
            : Words.DASH,
      },
      { name: 'Site', sort: (r) => r.site.name, cell: null },
      { name: 'Score', numeric: true, sort: (r) => r.score, cell: (r) => Words.fixed(r.score, 3) },
      {
        name: 'Totality',
        numeric: true,
        sort: (r) => (r.site.phase === 'total' ? r.site.duration_s : 0),
        cell: (r) => (r.site.phase === 'total' ? Words.length(r.site.duration_s) : 'none'),
      },
      {
        name: 'Begins, local',
        short: 'Begins',
        numeric: true,
        sort: (r) => (r.site.contacts[1] ?? r.site.contacts[2])?.at.utc_ms,
        cell: (r) => {
          const c = r.site.phase === 'total' ? r.site.contacts[1] : null;
          return c
            ? [Site.local(c.at), el('br'), el('span', { class: 'quiet' }, Site.clockName(r.site).split(', ')[0])]
            : Words.DASH;
        },
      },
      {
        name: 'Sun’s height',
        short: 'Sun',
        numeric: true,
        sort: (r) => r.site.contacts[2]?.altitude_deg,
        cell: (r) => {
          const c = r.site.contacts[2];
          return c
            ? c.up
              ? [
                  `${c.altitude_deg.toFixed(1)}°`,
                  el('br'),
                  el('span', { class: 'quiet' }, Words.shortWind(c.azimuth_deg)),
                ]
              : 'down'
            : Words.DASH;
        },
      },
      has((s) => s.cloud) && {
        name: 'Clear line',
        numeric: true,
        sort: (r) => r.site.cloud?.clear,
        cell: (r) =>
          r.site.cloud
            ? [
                Words.percent(r.site.cloud.clear),
                el('br'),
                el(
                  'span',
                  { class: 'quiet' },
                  `${Math.round(r.site.cloud.low_95 * 100)}–${Math.round(r.site.cloud.high_95 * 100)} %`,
                ),
              ]
            : Words.DASH,
      },
    ].filter(Boolean);
  }

  // `onRank(rows, changed)` after every change of weights, `onSite(index)` when a name is chosen.
  function start(model, onRank, onSite) {
    const table = document.getElementById('ranking'),
      more = document.getElementById('more');
    const cols = columns(model);
    const state = {
      weights: model.criteria.map((c) => c.weight),
      mean: model.plan.mean || 'arithmetic',
      sort: 0,
      down: false,
      all: false,
      rows: [],
      chosen: -1,
    };

    // On a phone the rows become cards; the roles keep the table a table for screen readers.
    table.setAttribute('role', 'table');
    table.tHead.setAttribute('role', 'rowgroup');
    table.tHead.rows[0].setAttribute('role', 'row');
    table.tBodies[0].setAttribute('role', 'rowgroup');
    const heads = cols.map((c, k) =>
      el(
        'th',
        { scope: 'col', role: 'columnheader', class: c.numeric ? 'n' : null },
        el(
          'button',
          {
            type: 'button',
            on: {
              click: () => {
                state.down = state.sort === k ? !state.down : false;
                state.sort = k;
                draw();
              },
            },
          },
          c.name,
        ),
      ),
    );
    table.tHead.rows[0].replaceChildren(...heads);

    function sorted() {
      const key = cols[state.sort].sort,
        text = !cols[state.sort].numeric;
      const missing = (v) => v === null || v === undefined || v === Infinity;
      return [...state.rows].sort((a, b) => {
        const [x, y] = [key(a), key(b)];
        // What has no value stays at the foot, whichever way the rest runs.
        if (missing(x) || missing(y)) return missing(x) - missing(y);
        const order = text ? x.localeCompare(y) : x - y;
        return state.down ? -order : order;
      });
    }

    function draw() {
      heads.forEach((th, k) =>
        k === state.sort
          ? th.setAttribute('aria-sort', state.down ? 'descending' : 'ascending')
          : th.removeAttribute('aria-sort'),
      );
      const rows = sorted(),
        shown = state.all ? rows : rows.slice(0, FIRST_ROWS);
      table.tBodies[0].replaceChildren(
        ...shown.map((r) =>
          el(
            'tr',
            { role: 'row', class: r.index === state.chosen ? 'chosen' : null, 'data-site': r.index },
            cols.map((c, k) =>
              c.cell
                ? el(
                    'td',
                    { role: 'cell', class: c.numeric ? 'n' : null, 'data-label': k > 2 ? (c.short ?? c.name) : null },
                    c.cell(r),
                  )
                : el(
                    'th',
                    { scope: 'row', role: 'rowheader' },
                    el(
                      'button',
                      { type: 'button', title: 'Show this site in full', on: { click: () => onSite(r.index) } },
                      el('bdi', {}, r.site.name),
                    ),
                    r.reasons.length ? el('div', { class: 'why' }, `Rejected: ${r.reasons.join('; ')}`) : null,
                    r.site.warnings.length ? el('div', { class: 'why' }, r.site.warnings.join(' ')) : null,
                  ),
            ),
          ),
        ),
      );
      more.hidden = shown.length === rows.length;
      more.textContent = `Show all ${rows.length}`;
    }
    more.addEventListener('click', () => {
      state.all = true;
      draw();
    });

    const note = document.getElementById('weights-note');
    const changed = () =>
      state.mean !== (model.plan.mean || 'arithmetic') ||
      state.weights.some((w, i) => w !== model.criteria[i].weight);
    function rerank() {
      // Under the plan's own weights the ranks are the program's; the page carries rounded utilities and might part ties otherwise.
      state.rows = changed()
        ? Scoring.rank(model.sites, model.criteria, state.weights, state.mean)
        : model.sites.map((site, index) => ({
            site,
            index,
            reasons: Scoring.reasons(site, model.criteria, state.weights),
            rank: site.rank,
            score: site.score,
          }));
      const none = state.weights.every((w) => w <= 0);
      note.textContent = none
        ? 'All weights are zero: nothing tells the sites apart.'
        : changed()
          ? 'These are your own weights. Rank range and “first in” still speak of the plan’s.'
          : '';
      draw();
      onRank(state.rows, changed());
    }

    // A slider runs to twice the largest weight, in steps of a hundredth of that.
    const most = Math.max(2 * Math.max(0, ...model.criteria.map((c) => c.weight)), 1);
    const sliders = model.criteria.map((c, i) => {
      const output = el('output', { for: `weight-${i}` });
      const input = el('input', {
        type: 'range',
        id: `weight-${i}`,
        min: 0,
        max: most,
        step: 'any',
        'aria-describedby': `about-${i}`,
      });
      const show = () => {
        output.textContent = Words.fixed(state.weights[i], 2);
        input.setAttribute('aria-valuetext', Words.fixed(state.weights[i], 2));
      };
      const set = () => {
        input.value = state.weights[i];
        show();
      };
      input.addEventListener('input', () => {
        state.weights[i] = (Math.round((Number(input.value) / most) * 200) * most) / 200;
        state.weights[i] = Number(state.weights[i].toFixed(6));
        show();
        rerank();
      });
      input.addEventListener('keydown', (event) => {
        const step = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1 }[event.key];
        if (!step) return;
        event.preventDefault();
        state.weights[i] = Number(Math.min(Math.max(state.weights[i] + (step * most) / 100, 0), most).toFixed(6));
        set();
        rerank();
      });
      set();
      return {
        set,
        node: el(
          'div',
          { class: 'slider' },
          el('label', { for: `weight-${i}` }, c.label),
          output,
          input,
          el('p', { class: 'quiet', id: `about-${i}` }, c.about),
        ),
      };
    });
    document.getElementById('sliders').replaceChildren(...sliders.map((x) => x.node));
    const means = [...document.querySelectorAll('input[name="mean"]')];
    const showMean = () =>
      means.forEach((input) => {
        input.checked = input.value === state.mean;
      });
    means.forEach((input) =>
      input.addEventListener('change', () => {
        state.mean = input.value;
        rerank();
      }),
    );
    showMean();
    document.getElementById('weights').addEventListener('submit', (event) => event.preventDefault());
    document.getElementById('reset').addEventListener('click', () => {
      state.weights = model.criteria.map((c) => c.weight);
      state.mean = model.plan.mean || 'arithmetic';
      sliders.forEach((x) => x.set());
      showMean();
      rerank();
    });
    const save = document.getElementById('save');
    save.disabled = !model.plan.text;
    save.addEventListener('click', () => {
      const remark = `Weights set in the report of ${model.plan.file} (SHA-256 ${model.plan.sha256.slice(0, 12)}).`;
      const text = Scoring.planText(model.plan, model.criteria, state.weights, state.mean, remark);
      const url = URL.createObjectURL(new Blob([text], { type: 'application/toml' }));
      const name = model.plan.file.replace(/\.toml$/i, '').replace(/[^\w.-]+/g, '-') || 'plan';
      el('a', { href: url, download: `${name}-reweighted.toml` }).click();
      setTimeout(() => URL.revokeObjectURL(url), 10000);
    });

    rerank();
    return {
      state,
      choose(index) {
        state.chosen = index;
        draw();
      },
    };
  }
  return { start };
})();
