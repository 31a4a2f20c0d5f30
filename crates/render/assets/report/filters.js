// Filter ON and filter OFF, told by word and shape. Only totality has an OFF, and only between C2 and C3.
const Filters = (() => {
  'use strict';
  const { el } = Draw;

  // `off`, `on`: milliseconds of UTC; `from`, `to`: first and last contact as given to `utc`.
  function strip({ from, to, off, on, utc, offsetS, marginS }) {
    const [offText, onText] = [Words.clock(off, offsetS, 'later'), Words.clock(on, offsetS, 'earlier')];
    const seconds = Math.floor(on / 1000) - Math.ceil(off / 1000);
    return el('ol', { class: 'filters', 'aria-label': 'Filters' },
      el('li', { class: 'on' }, el('b', {}, '■ Filter ON'), `from ${Words.clock(utc(from), offsetS)} (C1) until ${offText}`),
      el('li', { class: 'off' }, el('b', {}, '◯ Filter OFF'), `${offText} to ${onText}`, el('br'), `${Words.length(seconds)}, ${marginS.toFixed(1)} s kept from C2 and C3`),
      el('li', { class: 'on' }, el('b', {}, '■ Filter ON'), `from ${onText} until ${Words.clock(utc(to), offsetS)} (C4)`));
  }

  function always(phase, why) {
    const reason = why ?? (phase === 'annular' ? 'A ring of Sun remains: never without a filter.' : 'The Sun is never wholly covered here.');
    return el('ol', { class: 'filters', 'aria-label': 'Filters' }, el('li', { class: 'on' }, el('b', {}, '■ Filter ON throughout'), reason));
  }

  // The strip of a site of the model.
  function ofSite(site) {
    const [c1, , , , c4] = site.contacts;
    if (site.phase === 'total' && site.window && c1 && c4) {
      return strip({ from: c1.at.utc_ms, to: c4.at.utc_ms, off: site.window.off.utc_ms, on: site.window.on.utc_ms,
        utc: (ms) => ms, offsetS: site.window.off.offset_s, marginS: site.window.margin_s });
    }
    return always(site.phase, site.phase === 'total' ? 'The margins leave no safe window here.' : site.phase === 'none' ? 'Nothing of the eclipse is seen here.' : null);
  }

  return { strip, always, ofSite };
})();
