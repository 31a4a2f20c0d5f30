// Puts the parts together.
(async () => {
  'use strict';
  const { say } = Say;
  const model = await Model.ready;
  const memory = Memory.of(model);
  document.documentElement.classList.add('scripted');
  const answer = document.getElementById('answer');
  const box = document.getElementById('site');
  const chosenSelect = document.getElementById('chosen');
  const listed = model.sites.length;
  let rows = [];
  let chosen = null;
  let order = null;
  let opened = false;

  // Points that were kept on an earlier visit.
  if (model.elements) {
    for (const p of memory.get('own', [])) {
      if ([p.lat_deg, p.lon_deg, p.elevation_m].every(Number.isFinite) && typeof p.name === 'string')
        model.sites.push(Assess.place(model, p.name, p.lat_deg, p.lon_deg, p.elevation_m));
    }
  }

  let ground = null;
  const startGround = () => {
    ground = Ground.start(
      model,
      (lat, lon) => point.show(lat, lon),
      (index) => {
        const site = model.sites[index];
        choose(index);
        point.show(site.lat_deg, site.lon_deg, site);
      },
    );
  };
  const force = () => order?.weights ?? { weights: model.criteria.map((c) => c.weight), mean: model.plan.mean };
  const point = Point.start(model, {
    standing: (site) => Scoring.standing(model, force(), site, rows),
    onMark: (lat, lon) => ground?.mark(lat, lon),
    onKeep: keep,
  });
  const beside = Beside.start(model);
  const day = DayMode.start(model, memory);

  function fillChoices() {
    chosenSelect.replaceChildren(...Site.choices(model, chosen));
  }
  if (listed) {
    chosenSelect.addEventListener('change', () => choose(Number(chosenSelect.value), false));
  } else {
    document.getElementById('day').remove();
    document.getElementById('weights').remove();
  }

  const chosenRow = () => rows.find((r) => r.index === chosen) ?? null;
  function showDay() {
    const row = chosenRow();
    if (!row) return;
    fillChoices();
    const { weights, mean } = force();
    box.replaceChildren(...Site.full(model, row, weights, mean));
    document.getElementById('day-mode').textContent = say('day_mode_at', { place: row.site.name.slice(0, 40) });
    Countdown.tick();
  }
  const fillSheet = () => Sheet.fill(model, chosenRow(), rows);
  function show() {
    showDay();
    fillSheet();
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
    if (chosen === null && rows.length) chosen = (first ?? rows[0]).index;
    if (!opened) return;
    beside.update(rows);
    show();
    point.refresh?.();
  }

  // --- own points ---
  const own = () => model.sites.slice(listed);
  function remember() {
    memory.set(
      'own',
      own().map(({ name, lat_deg, lon_deg, elevation_m }) => ({ name, lat_deg, lon_deg, elevation_m })),
    );
    ownFiles();
    if (order) order.rerank();
  }
  function keep(site) {
    model.sites.push(site);
    remember();
  }
  function drop(index) {
    model.sites.splice(index, 1);
    if (chosen >= model.sites.length) chosen = 0;
    remember();
  }
  function ownFiles() {
    const files = document.getElementById('own-files');
    if (!files) return;
    files.hidden = own().length === 0;
    const button = (text, name, type, make) =>
      Draw.el('button', { type: 'button', on: { click: () => Exchange.save(name, type, make()) } }, text);
    files.replaceChildren(
      button(say('own_gpx'), 'own-points.gpx', 'application/gpx+xml', () => Exchange.gpx(own(), model.program)),
      button(say('own_geojson'), OWN_FILE, 'application/geo+json', () => Exchange.geojson(own())),
    );
  }
  const OWN_FILE = 'own-points.geojson';

  // The plan with what was set here; own points come as a file beside it, which the plan names.
  function savePlan() {
    const { plan } = model;
    const { weights, mean } = force();
    const remark = say('plan_remark', { plan: plan.file, sum: plan.sha256.slice(0, 12) });
    const text = Scoring.planText(plan, model.criteria, weights, mean, remark, own().length ? OWN_FILE : null);
    const name = plan.file.replace(/\.toml$/i, '').replace(/[^\w.-]+/g, '-') || 'plan';
    Exchange.save(`${name}-reweighted.toml`, 'application/toml', text);
    if (own().length) Exchange.save(OWN_FILE, 'application/geo+json', Exchange.geojson(own()));
  }

  if (listed) {
    order = Order.start(model, memory, { onRank: ranked, onSite: (index) => choose(index, true), onDrop: drop });
    const save = document.getElementById('save');
    save.disabled = !model.plan.text;
    save.addEventListener('click', savePlan);
    ownFiles();
    // The place of the day, where one was remembered.
    const name = day.remembered();
    const remembered = name === null ? -1 : model.sites.findIndex((site) => site.name === name);
    if (remembered >= 0) chosen = remembered;
    order.rerank();
    order.choose(chosen);
    opened = true;
    document.getElementById('day-mode').addEventListener('click', () => day.open(model.sites[chosen]));
  } else {
    answer.replaceChildren(...Site.answer(model, null, false));
  }
  // The first screen first. What lies below it follows when that stands, each part in a task of its own, so that a
  // slow phone answers in between.
  const parts = [startGround, ...(listed ? [showDay, () => beside.update(rows), fillSheet] : [])];
  const next = () => {
    const part = parts.shift();
    if (part) {
      part();
      setTimeout(next);
    } else {
      Countdown.start();
      document.documentElement.classList.add('whole');
    }
  };
  requestAnimationFrame(() => setTimeout(next));
})();
