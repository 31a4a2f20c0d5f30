// What counts, and how much: the sliders. What was set lasts until it is set back.
const Weights = (() => {
  'use strict';
  const { el } = Draw;
  const { say } = Say;

  // `onChange()` after every change, not for the state at the start.
  function start(model, memory, onChange) {
    const plans = () => model.criteria.map((c) => c.weight);
    const plansMean = model.plan.mean || 'arithmetic';
    const state = { weights: plans(), mean: plansMean };
    const kept = memory.get('weights', null);
    if (kept) {
      state.weights = model.criteria.map((c) => {
        const weight = kept.weights?.[c.name];
        return Number.isFinite(weight) && weight >= 0 ? weight : c.weight;
      });
      if (['arithmetic', 'geometric'].includes(kept.mean)) state.mean = kept.mean;
    }
    const note = document.getElementById('weights-note');
    const changed = () => state.mean !== plansMean || state.weights.some((w, i) => w !== model.criteria[i].weight);

    function tell() {
      const none = state.weights.every((w) => w <= 0);
      const remembered = memory.lasting ? say('weights_kept') : '';
      note.textContent = none ? say('weights_zero') : changed() ? say('weights_own', { kept: remembered }) : '';
    }
    function moved() {
      const named = model.criteria.map((c, i) => [c.name, state.weights[i]]);
      memory.set('weights', changed() ? { weights: Object.fromEntries(named), mean: state.mean } : null);
      tell();
      onChange();
    }

    // A slider runs to twice the largest weight, in steps of a hundredth of that.
    const most = Math.max(2 * Math.max(0, ...plans()), ...state.weights, 1);
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
        const steps = Math.round((Number(input.value) / most) * 200);
        state.weights[i] = Number(((steps * most) / 200).toFixed(6));
        show();
        moved();
      });
      input.addEventListener('keydown', (event) => {
        const step = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1 }[event.key];
        if (!step) return;
        event.preventDefault();
        const weight = state.weights[i] + (step * most) / 100;
        state.weights[i] = Number(Math.min(Math.max(weight, 0), most).toFixed(6));
        set();
        moved();
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
    const showMean = () => {
      for (const input of means) input.checked = input.value === state.mean;
    };
    for (const input of means) {
      input.addEventListener('change', () => {
        state.mean = input.value;
        moved();
      });
    }
    showMean();
    document.getElementById('weights').addEventListener('submit', (event) => event.preventDefault());
    document.getElementById('reset').addEventListener('click', () => {
      state.weights = plans();
      state.mean = plansMean;
      for (const slider of sliders) slider.set();
      showMean();
      moved();
    });
    tell();
    return {
      changed,
      get weights() {
        return state.weights;
      },
      get mean() {
        return state.mean;
      },
    };
  }
  return { start };
})();
