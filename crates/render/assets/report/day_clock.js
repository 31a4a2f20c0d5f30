// What time it is, as far as this device can know it, and what the engine's decision says for that time.
//
// A reading is an interval: true time lies between `earliest` and `latest`, milliseconds of UTC, as far as is known.
// The filter is OFF only if the whole interval lies inside the window that the page carries; nothing here moves an
// end of it outwards.
const DayClock = (() => {
  'use strict';
  const { say } = Say;
  // Somebody who compares two clocks by eye and taps is right within this, ms (common practice, no source).
  const BY_EYE_MS = 1000;
  // Wall clock and running time that part by more than this between two readings: the clock was set, or the device
  // slept.
  const JUMP_MS = 700;

  function start() {
    // What the device's clock may lack, ms: true time = its time + offset. One value while nothing speaks against it.
    let offsets = [0];
    let spread = 0;
    let check = null;
    let jump = null;
    let wall = Date.now();
    let running = performance.now();
    let rehearsal = null;

    // Looks at both clocks. Whoever shows time calls this first.
    function look() {
      const [nowWall, nowRunning] = [Date.now(), performance.now()];
      const apart = nowWall - wall - (nowRunning - running);
      if (Math.abs(apart) > JUMP_MS) {
        jump = { ms: apart, wall: nowWall };
        // A device that slept keeps its error, one that was set loses it: until somebody compares again, either may
        // hold.
        if (check) offsets = [...new Set([0, ...offsets, ...offsets.map((offset) => offset - apart)])];
      }
      wall = nowWall;
      running = nowRunning;
      return jump;
    }

    function real() {
      const times = offsets.map((offset) => wall + offset);
      const earliest = Math.min(...times) - spread;
      const latest = Math.max(...times) + spread;
      return { earliest, latest, middle: wall + offsets.at(-1), rehearsal: false };
    }

    function read() {
      look();
      if (!rehearsal) return real();
      const t = rehearsal.from + (running - rehearsal.began);
      return { earliest: t, latest: t, middle: t, rehearsal: true };
    }

    return {
      read,
      real() {
        look();
        return real();
      },
      // Somebody saw a trusted clock show `utcMs` at this moment.
      compare(utcMs) {
        look();
        offsets = [utcMs - wall];
        spread = BY_EYE_MS;
        check = { wall, offset: offsets[0] };
        jump = null;
      },
      // A position was stamped with a time. It proves nothing if it agrees; if it does not, either may be right.
      stamped(utcMs) {
        look();
        const apart = utcMs - wall;
        if (Math.abs(apart) > BY_EYE_MS) offsets = [...offsets, apart];
        return apart;
      },
      rehearse(fromMs) {
        look();
        rehearsal = fromMs === null ? null : { from: fromMs, began: running };
      },
      state: () => ({ check, jump, offsets: [...offsets], spread, rehearsal: rehearsal !== null }),
    };
  }

  // What an event is waited for: `wait` never comes early, `hurry` never late.
  const WAIT = 'wait';
  const HURRY = 'hurry';

  // What day mode counts to at a site, in order of time: `{key, utc_ms, offset_s, name, rule}`. All of it is the
  // page's data.
  function events(site) {
    const out = [];
    const put = (key, at, name, rule) =>
      at && out.push({ key, utc_ms: at.utc_ms, offset_s: at.offset_s, name, rule });
    const bare = site.phase === 'total' && site.window;
    const names = {
      C1: say('c1'),
      C2: bare ? say('totality_begins') : site.phase === 'total' ? say('c2_total_kept') : say('c2_ring'),
      max: say('max'),
      C3: bare ? say('c3_total') : site.phase === 'total' ? say('c3_total_kept') : say('c3_ring'),
      C4: say('c4'),
    };
    const rules = [HURRY, WAIT, WAIT, HURRY, WAIT];
    site.contacts.forEach((c, k) => put(Site.MARKS[k], c?.at, names[Site.MARKS[k]], rules[k]));
    if (bare) {
      put('off', site.window.off, say('filter_off'), WAIT);
      put('on', site.window.on, say('filter_on'), HURRY);
      const rim = site.detail?.timeline.find((line) => line.kind === 'rim');
      put('rim', rim?.at, say('rim_away'), HURRY);
    }
    // At one instant the filter goes on before anything else is told.
    const first = (event) => (event.key === 'on' ? 0 : 1);
    return out.sort((a, b) => a.utc_ms - b.utc_ms || first(a) - first(b));
  }

  // Milliseconds still to go, by the end of the reading that errs to the safe side.
  const left = (event, reading) => event.utc_ms - (event.rule === WAIT ? reading.earliest : reading.latest);

  // Whole seconds for the display: up where one waits, down where one must hurry.
  const seconds = (event, reading) => {
    const s = left(event, reading) / 1000;
    return Math.max(event.rule === WAIT ? Math.ceil(s) : Math.floor(s), 0);
  };

  // Whether the window holds the whole reading.
  function filterOff(site, reading) {
    if (site.phase !== 'total' || !site.window) return false;
    return reading.earliest >= site.window.off.utc_ms && reading.latest < site.window.on.utc_ms;
  }

  // Everything the display needs: `{off, next, later, rim, over}`. A filter's change comes first while it is near.
  const NEAR_MS = 120_000;
  function outlook(site, list, reading) {
    const on = list.find((event) => event.key === 'on');
    // Where the clock is so unsure that ON may be due, nobody is told to wait for OFF any more.
    const closed = on !== undefined && left(on, reading) <= 0;
    const ahead = list.filter((event) => left(event, reading) > 0 && !(closed && event.key === 'off'));
    const off = filterOff(site, reading);
    const change = ahead.find((event) => event.key === 'off' || event.key === 'on');
    const near = change && (off || left(change, reading) <= NEAR_MS);
    const next = near ? change : (ahead[0] ?? null);
    const rim = list.find((event) => event.key === 'rim');
    return {
      off,
      next,
      later: ahead.filter((event) => event !== next),
      rim: off && rim !== undefined && left(rim, reading) <= 0,
      over: ahead.length === 0,
    };
  }

  return { start, events, left, seconds, filterOff, outlook, BY_EYE_MS };
})();
