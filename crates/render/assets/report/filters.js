// Filter ON and filter OFF, told by word and shape: the window that the report carries, never one worked out here.
const Filters = (() => {
  'use strict';
  const { el } = Draw;
  const { say } = Say;

  function strip(site) {
    const [c1, , , , c4] = site.contacts,
      { off, on, kept } = site.window;
    const clock = (at) => Words.clock(at.utc_ms, at.offset_s);
    const seconds = Math.round((on.utc_ms - off.utc_ms) / 1000);
    return el(
      'ol',
      { class: 'filters', 'aria-label': say('filters') },
      el(
        'li',
        { class: 'on' },
        el('b', {}, say('signed_on', { words: say('filter_on') })),
        say('on_before', { from: clock(c1.at), until: clock(off) }),
      ),
      el(
        'li',
        { class: 'off' },
        el('b', {}, say('signed_off', { words: say('filter_off') })),
        say('off_between', { from: clock(off), to: clock(on) }),
        el('br'),
        `${Words.length(seconds)}; ${kept}`,
      ),
      el(
        'li',
        { class: 'on' },
        el('b', {}, say('signed_on', { words: say('filter_on') })),
        say('on_after', { from: clock(on), until: clock(c4.at) }),
      ),
    );
  }

  function always(reason) {
    return el(
      'ol',
      { class: 'filters', 'aria-label': say('filters') },
      el('li', { class: 'on' }, el('b', {}, say('signed_on', { words: say('on_throughout') })), reason),
    );
  }

  // The strip of a site of the model.
  function ofSite(site) {
    const [c1, , , , c4] = site.contacts;
    return site.phase === 'total' && site.window && c1 && c4 ? strip(site) : always(site.no_window);
  }

  return { always, ofSite };
})();
