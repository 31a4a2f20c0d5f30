// What this page keeps from one visit to the next, on this device alone: weights, own points, the place of the day.
//
// Some browsers keep nothing for a file on disk, or nothing at all in private windows: then it lasts as long as the
// page is open, and whoever shows the state says so by `lasting`.
const Memory = (() => {
  'use strict';
  const held = new Map();
  let store = null;
  try {
    store = window.localStorage;
    store.setItem('noonfall:try', '1');
    store.removeItem('noonfall:try');
  } catch {
    store = null;
  }

  // One trip's reports do not read another's.
  function of(model) {
    const own = `noonfall:${model.eclipse.date}:${model.plan.sha256.slice(0, 16) || model.title}:`;
    return {
      lasting: store !== null,
      get(name, otherwise) {
        try {
          const text = store ? store.getItem(own + name) : held.get(own + name);
          return text === null || text === undefined ? otherwise : JSON.parse(text);
        } catch {
          return otherwise;
        }
      },
      set(name, value) {
        const text = JSON.stringify(value);
        held.set(own + name, text);
        try {
          store?.setItem(own + name, text);
        } catch {
          store = null;
        }
      },
    };
  }

  return { of };
})();
