// Puts the parts together.
(() => {
  'use strict';
  const model = JSON.parse(document.getElementById('model').textContent);
  document.documentElement.classList.add('scripted');
  const answer = document.getElementById('answer'),
    box = document.getElementById('site'),
    chosenSelect = document.getElementById('chosen');
  let rows = [],
    chosen = null,
    order = null;

  const ground = Ground.start(
    model,
    (lat, lon) => point.show(lat, lon),
    (index) => {
      const site = model.sites[index];
      choose(index);
      point.show(site.lat_deg, site.lon_deg);
    },
  );
  const point = Point.start(model, (lat, lon) => ground.mark(lat, lon));
  const beside = Beside.start(model);

  if (model.sites.length) {
    chosenSelect.replaceChildren(
      ...model.sites.map((site, i) => Draw.el('option', { value: i }, site.name.slice(0, 60))),
    );
    chosenSelect.addEventListener('change', () => choose(Number(chosenSelect.value), false));
  } else {
    document.getElementById('day').remove();
    document.getElementById('weights').remove();
  }

  function show() {
    const row = rows.find((r) => r.index === chosen);
    if (!row) {
      Sheet.fill(model, null, rows);
      return;
    }
    chosenSelect.value = String(chosen);
    box.replaceChildren(
      ...Site.full(
        model,
        row,
        order ? order.state.weights : model.criteria.map((c) => c.weight),
        order ? order.state.mean : model.plan.mean,
      ),
    );
    Sheet.fill(model, row, rows);
    Countdown.tick();
  }

  function choose(index, go = false) {
    chosen = index;
    order?.choose(index);
    show();
    if (go) document.getElementById('day').scrollIntoView();
  }

  function ranked(newRows, changed) {
    rows = newRows;
    const first = rows.find((r) => r.rank === 1);
    answer.replaceChildren(...Site.answer(model, first, changed));
    beside.update(rows);
    if (chosen === null && rows.length) chosen = (first ?? rows[0]).index;
    show();
  }

  if (model.sites.length) {
    order = Order.start(model, ranked, (index) => choose(index, true));
    choose(chosen);
  } else {
    answer.replaceChildren(...Site.answer(model, null, false));
  }
  Countdown.start();
})();
