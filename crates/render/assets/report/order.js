// The ranked table.
const Order = (() => {
  'use strict';
  const { el } = Draw;
  const { say } = Say;
  // Rows of a long table that are shown before all are asked for; a table up to `ALL_ROWS` is shown whole
  // (`report/page.rs` writes as many into the page).
  const FIRST_ROWS = 40;
  const ALL_ROWS = 100;
  const collator = new Intl.Collator();

  // Columns: caption, whether numeric, the value that sorts, the cell.
  function columns(model) {
    return [
      {
        name: say('rank'),
        numeric: true,
        sort: (r) => r.rank ?? r.between ?? Infinity,
        cell: (r) =>
          r.site.own
            ? el('span', { class: 'quiet' }, say('own'))
            : r.rank
              ? [
                  el('span', { class: 'disc' }, r.rank),
                  r.site.rank_interval ? el('span', { class: 'range' }, r.site.rank_interval.join('–')) : null,
                ]
              : Words.DASH,
      },
      { name: say('site'), sort: (r) => r.site.name, cell: null },
      { name: say('score'), numeric: true, sort: (r) => r.score, cell: (r) => Words.fixed(r.score, 3) },
      {
        name: say('totality'),
        numeric: true,
        sort: (r) => (r.site.phase === 'total' ? r.site.duration_s : 0),
        cell: (r) => (r.site.phase === 'total' ? Words.length(r.site.duration_s) : say('none')),
      },
      {
        name: say('begins_local'),
        short: say('begins'),
        numeric: true,
        sort: (r) => (r.site.contact(1) ?? r.site.contact(2))?.at.utc_ms,
        cell: (r) => {
          const c = r.site.phase === 'total' ? r.site.contact(1) : null;
          return c
            ? [Site.local(c.at), el('br'), el('span', { class: 'quiet' }, Site.clockName(r.site).split(', ')[0])]
            : Words.DASH;
        },
      },
      {
        name: say('sun_height'),
        short: say('sun'),
        numeric: true,
        sort: (r) => r.site.contact(2)?.altitude_deg,
        cell: (r) => {
          const c = r.site.contact(2);
          return c
            ? c.up
              ? [
                  `${c.altitude_deg.toFixed(1)}°`,
                  el('br'),
                  el('span', { class: 'quiet' }, Words.shortWind(c.azimuth_deg)),
                ]
              : say('down')
            : Words.DASH;
        },
      },
      model.has_cloud && {
        name: say('clear'),
        numeric: true,
        sort: (r) => r.site.cloud?.clear,
        cell: (r) =>
          r.site.cloud
            ? [
                Words.percent(r.site.cloud.clear),
                el('br'),
                el('span', { class: 'quiet' }, Words.interval(r.site.cloud.low_95, r.site.cloud.high_95)),
              ]
            : Words.DASH,
      },
    ].filter(Boolean);
  }

  // `onRank(rows, changed)` after every change of weights, `onSite(index)` when a name is chosen, `onDrop(index)`
  // when an own point is given up.
  function start(model, memory, { onRank, onSite, onDrop }) {
    const table = document.getElementById('ranking');
    const more = document.getElementById('more');
    const find = document.getElementById('find');
    const cols = columns(model);
    const state = { sort: 0, down: false, all: false, rows: [], shown: [], chosen: -1 };
    const weights = Weights.start(model, memory, rerank);

    // On a phone the rows become cards; the roles keep the table a table for screen readers.
    table.setAttribute('role', 'table');
    table.tHead.setAttribute('role', 'rowgroup');
    table.tHead.rows[0].setAttribute('role', 'row');
    table.tHead.rows[0].setAttribute('aria-rowindex', '1');
    const sortBy = (k) => {
      state.down = state.sort === k ? !state.down : false;
      state.sort = k;
      draw(true);
    };
    const heads = cols.map((c, k) =>
      el(
        'th',
        { scope: 'col', role: 'columnheader', class: c.numeric ? 'n' : null },
        el('button', { type: 'button', on: { click: () => sortBy(k) } }, c.name),
      ),
    );
    table.tHead.rows[0].replaceChildren(...heads);
    const body = LongTable.start(table, document.getElementById('ranking-scroll'), cols.length, (k) =>
      row(state.shown[k]),
    );

    function sorted() {
      // The rows come in the order of their ranks.
      if (state.sort === 0 && !state.down && !state.rows.some((r) => r.site.own)) return state.rows;
      const key = cols[state.sort].sort;
      const text = !cols[state.sort].numeric;
      const missing = (v) => v === null || v === undefined || v === Infinity;
      // What has no value stays at the foot, whichever way the rest runs.
      const order = (/** @type {any} */ x, /** @type {any} */ y) => {
        if (missing(x) || missing(y)) return Number(missing(x)) - Number(missing(y));
        return (text ? collator.compare(x, y) : x - y) * (state.down ? -1 : 1);
      };
      return state.rows
        .map((r) => [key(r), r])
        .sort((a, b) => order(a[0], b[0]))
        .map(([, r]) => r);
    }

    function nameCell(r) {
      return el(
        'th',
        { scope: 'row', role: 'rowheader' },
        el(
          'button',
          { type: 'button', title: say('show_site'), on: { click: () => onSite(r.index) } },
          el('bdi', {}, r.site.name),
        ),
        r.site.own ? el('div', { class: 'why' }, r.note) : null,
        r.reasons.length && !r.site.own
          ? el('div', { class: 'why' }, say('rejected_because', { reasons: r.reasons.join('; ') }))
          : null,
        r.site.warnings.length ? el('div', { class: 'why' }, r.site.warnings.join(' ')) : null,
        r.site.own
          ? el('button', { type: 'button', class: 'drop', on: { click: () => onDrop(r.index) } }, say('give_up'))
          : null,
      );
    }

    function row(r) {
      return el(
        'tr',
        { role: 'row', class: r.index === state.chosen ? 'chosen' : null, 'data-site': r.index },
        cols.map((c, k) =>
          c.cell
            ? el(
                'td',
                { role: 'cell', class: c.numeric ? 'n' : null, 'data-label': k > 2 ? (c.short ?? c.name) : null },
                c.cell(r),
              )
            : nameCell(r),
        ),
      );
    }

    function draw(fromTop = false) {
      heads.forEach((th, k) =>
        k === state.sort
          ? th.setAttribute('aria-sort', state.down ? 'descending' : 'ascending')
          : th.removeAttribute('aria-sort'),
      );
      const wanted = find.value.trim().toLowerCase();
      const rows = sorted();
      const found = wanted ? rows.filter((r) => r.site.name.toLowerCase().includes(wanted)) : rows;
      state.shown = state.all || found.length <= ALL_ROWS ? found : found.slice(0, FIRST_ROWS);
      if (fromTop) body.show(state.shown.length);
      else body.refresh(state.shown.length);
      more.hidden = state.shown.length === found.length;
      more.textContent = say('show_all_of', { count: found.length });
    }
    more.addEventListener('click', () => {
      state.all = true;
      draw(true);
    });
    find.addEventListener('input', () => draw(true));
    document.getElementById('find-box').hidden = model.sites.length <= ALL_ROWS;

    function rerank() {
      state.rows = Scoring.order(model, weights);
      draw();
      onRank(state.rows, weights.changed());
    }

    return {
      weights,
      rerank,
      choose(index) {
        state.chosen = index;
        for (const tr of table.querySelectorAll('tr[data-site]'))
          tr.classList.toggle('chosen', Number(tr.dataset.site) === index);
      },
    };
  }
  return { start };
})();
