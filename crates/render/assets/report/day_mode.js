// Day mode: one thing at a time, large, for the minutes that count. It shows the page's own decision and computes
// none.
const DayMode = (() => {
  'use strict';
  const { el, s } = Draw;
  const LOOKS = ['sun', 'light', 'dark'];
  const LOOK_NAMES = { sun: 'Direct sun', light: 'Light', dark: 'Dark' };
  // A rehearsal begins so long before what it rehearses and ends so long after totality, ms.
  const LEAD_MS = 60_000;
  // Around the real eclipse nothing is rehearsed, ms before first contact.
  const REAL_MS = 600_000;
  const MARK = 'REHEARSAL: not the eclipse. Do not look at the Sun.';
  const DECIDES = 'The sky decides, not the clock: the moment any bright edge of the Sun shows, filters go back on.';
  const TRUST =
    'This page cannot check the device’s clock without a connection. A phone that had a network today is usually ' +
    'right within a second (common practice, no source); after days without one it may be several seconds off, and a ' +
    'clock set by hand even minutes. Compare it with a satellite receiver, a time signal on the radio, or a second ' +
    'device that had a network today.';

  const RIMLESS =
    'No time for the red rim is told here: the report works it out only for the places that it describes in full, ' +
    'the first of its table. Lower binoculars and telescopes well before filter ON.';

  // The state's own shape: a filled square for ON, an open ring for OFF.
  function shape(off) {
    const part = off
      ? s('circle', { cx: 50, cy: 50, r: 36, fill: 'none', stroke: 'currentColor', 'stroke-width': 14 })
      : s('rect', { x: 10, y: 10, width: 80, height: 80, fill: 'currentColor' });
    return s('svg', { class: 'dv-shape', viewBox: '0 0 100 100', 'aria-hidden': 'true' }, part);
  }

  function start(model, memory) {
    const clock = DayClock.start();
    const signal = DaySignal.start(memory);
    const parts = {};
    let root = null;
    let site = null;
    let list = [];
    let timer = null;
    let before = null;
    let opener = null;

    const put = (element, text) => {
      if (element.textContent !== text) element.textContent = text;
    };
    const button = (text, attributes, f) => el('button', { type: 'button', ...attributes, on: { click: f } }, text);

    // --- what stands on the screen ---
    function build() {
      const part = (key, name, attributes, ...children) => (parts[key] = el(name, attributes, ...children));
      root = el(
        'section',
        { id: 'day-view', role: 'dialog', 'aria-modal': 'true', 'aria-labelledby': 'dv-place', tabindex: -1 },
        part('mark', 'p', { class: 'dv-mark', hidden: true }, MARK),
        el(
          'div',
          { class: 'dv-head' },
          el('div', {}, part('place', 'h2', { id: 'dv-place' }), part('time', 'p', { class: 'dv-time' })),
          button('Leave day mode', { class: 'dv-leave' }, close),
        ),
        part('state', 'div', { class: 'dv-state' }),
        part('next', 'div', { class: 'dv-next' }, [
          part('what', 'p', { class: 'dv-what' }),
          part('left', 'p', { class: 'dv-left', role: 'timer', 'aria-live': 'off' }),
          part('at', 'p', { class: 'dv-at' }),
        ]),
        el('p', { class: 'dv-decides' }, DECIDES),
        part('trust', 'p', { class: 'dv-trust' }),
        el('h3', {}, 'Also to come'),
        part('later', 'ol', { class: 'dv-later' }),
        part('rimless', 'p', { class: 'dv-rimless', hidden: true }, RIMLESS),
        part('said', 'p', { class: 'dv-said', role: 'status' }),
        el('h3', {}, 'Rehearse'),
        part('rehearse', 'div', { class: 'dv-tools' }),
        el('h3', {}, 'Screen'),
        part('screen', 'div', { class: 'dv-tools' }),
        part('awake', 'p', {}),
        el('h3', {}, 'Sound and vibration'),
        part('signals', 'div', { class: 'dv-tools' }),
        el('h3', {}, 'How far this clock can be trusted'),
        el('p', {}, TRUST),
        part('compare', 'form', { class: 'dv-tools' }),
        part('checked', 'p', { role: 'status' }),
        el('h3', {}, 'Take care'),
        part('care', 'ul', {}),
        part('foot', 'p', { class: 'dv-mark', hidden: true }, MARK),
      );
      root.addEventListener('keydown', (event) => {
        if (event.key === 'Escape') close();
      });
      document.body.append(root);
      tools();
    }

    function tools() {
      const looks = LOOKS.map((name) =>
        button(LOOK_NAMES[name], { 'aria-pressed': 'false', 'data-look': name }, () => setLook(name)),
      );
      parts.screen.append(...looks);
      const toggle = (name, words, none) => {
        if (!signal.can[name]) return el('p', {}, none);
        const make = button(words, { 'aria-pressed': String(signal.wishes[name]), 'data-signal': name }, () => {
          signal.wish(name, !signal.wishes[name]);
          make.setAttribute('aria-pressed', String(signal.wishes[name]));
          if (signal.wishes[name]) signal.play('mark');
        });
        return make;
      };
      const tests = [
        ['off', 'Try: OFF, two long tones'],
        ['rim', 'Try: red rim, five short ones'],
        ['on', 'Try: ON, a siren'],
      ];
      parts.signals.append(
        toggle('sound', 'Sound', 'This browser makes no sounds for a page.'),
        toggle('vibration', 'Vibration', 'This browser does not let a page vibrate.'),
        ...tests.map(([kind, words]) => button(words, { 'data-try': kind }, () => signal.play(kind))),
        el(
          'p',
          {},
          'Tap once after opening the page, or it stays silent. A silent switch mutes it: turn the volume up.',
        ),
      );
      const typed = el('input', {
        id: 'dv-typed',
        inputmode: 'numeric',
        autocomplete: 'off',
        placeholder: 'hhmmss',
        size: 9,
        'aria-describedby': 'dv-typed-how',
      });
      parts.compare.append(
        el('label', { for: 'dv-typed' }, 'A trusted clock will show, by the clock of this place:'),
        typed,
        el('button', {}, 'It shows that NOW'),
        button('Ask the satellite receiver', {}, askSatellites),
        el(
          'p',
          { id: 'dv-typed-how' },
          'Type a time some seconds ahead, wait for it on the trusted clock, and tap at that moment.',
        ),
      );
      parts.compare.addEventListener('submit', (event) => {
        event.preventDefault();
        compare(typed.value);
      });
    }

    const offsetS = () => (site.contacts[2] ?? site.contacts[0])?.at.offset_s ?? 0;
    const shown = (ms, round) => Words.clock(ms, offsetS(), round);

    // --- the clock ---
    function compare(text) {
      const digits = text.replace(/\D/g, '');
      const found = /^(\d{1,2})(\d\d)(\d\d)$/.exec(digits);
      const [h, m, sec] = found ? found.slice(1).map(Number) : [99, 0, 0];
      if (h > 23 || m > 59 || sec > 59) {
        put(parts.checked, 'Give a time of day as hours, minutes and seconds, such as 124310.');
        return;
      }
      // The day is taken from the device: the nearest instant at which the place's clocks show that time.
      const now = Date.now();
      const dayMs = 86_400_000;
      const local = now + offsetS() * 1000;
      const wanted = (h * 3600 + m * 60 + sec) * 1000;
      const apart = ((((wanted - (local % dayMs)) % dayMs) + dayMs * 1.5) % dayMs) - dayMs / 2;
      clock.compare(now + apart);
      tick();
    }

    function askSatellites() {
      if (!navigator.geolocation) {
        put(parts.checked, 'This browser has no access to a receiver.');
        return;
      }
      put(parts.checked, 'Waiting for a position …');
      navigator.geolocation.getCurrentPosition(
        (position) => {
          const apart = clock.stamped(position.timestamp) / 1000;
          const way = apart > 0 ? 'later' : 'earlier';
          tick();
          put(
            parts.checked,
            Math.abs(apart) > DayClock.BY_EYE_MS / 1000
              ? `The position is stamped ${Math.abs(apart).toFixed(1)} s ${way} than this clock. ` +
                  'One of them is wrong: until you compare, OFF waits for both and ON comes by the first.'
              : 'The position carries the same time. That proves little: many stamp it by their own clock. ' +
                  'Compare by eye.',
          );
        },
        () => put(parts.checked, 'No position was given. Compare by eye.'),
        { enableHighAccuracy: true, timeout: 60000, maximumAge: 0 },
      );
    }

    function trustWords() {
      const { check, jump, offsets } = clock.state();
      if (jump) {
        const by = `${Math.abs(jump.ms / 1000).toFixed(0)} s`;
        const again = check
          ? ' Compare it again: until then OFF waits for the later reading and ON comes by the earlier.'
          : '';
        return `⚠ The clock jumped by ${by}: the device slept, or was set. The time was read anew.${again}`;
      }
      if (!check)
        return offsets.length > 1
          ? '⚠ Two times disagree: compare the clock below.'
          : '⚠ Clock not compared. How to: below.';
      const off = check.offset / 1000;
      const by = Math.abs(off) < 0.05 ? 'right' : `${Math.abs(off).toFixed(1)} s ${off > 0 ? 'slow' : 'fast'}`;
      return `Clock compared at ${shown(check.wall)}: ${by}, within 1 s. OFF waits 1 s longer, ON comes 1 s earlier.`;
    }

    function awakeWords() {
      return {
        kept: 'The screen is kept awake.',
        asked: 'The device is asked to keep the screen awake …',
        lost: '⚠ The screen may go dark: tap anywhere, or set the device’s screen to stay on.',
        refused:
          '⚠ The device refuses to keep the screen awake (a low battery does that): set its screen to stay on.',
        cannot: '⚠ This browser cannot keep the screen awake: set the device’s screen to stay on.',
      }[signal.awake()];
    }

    // --- the rehearsal ---
    const key = (name) => list.find((event) => event.key === name);
    function realSoon() {
      const { earliest, latest } = clock.real();
      const first = list[0]?.utc_ms ?? Infinity;
      const last = list.at(-1)?.utc_ms ?? -Infinity;
      return latest >= first - REAL_MS && earliest <= last;
    }
    function rehearsals() {
      if (clock.state().rehearsal) {
        return [button('Stop the rehearsal', { class: 'dv-stop' }, () => rehearse(null))];
      }
      if (realSoon()) return [el('p', {}, 'No rehearsal now: the eclipse itself is on.')];
      const heart = key('C2') ?? key('max');
      if (!heart) return [el('p', {}, 'Nothing of the eclipse is seen here.')];
      const on = key('on');
      return [
        button(`From 1 min before ${heart.key === 'C2' ? 'C2' : 'the maximum'}`, { 'data-rehearse': 'begin' }, () =>
          rehearse(heart.utc_ms - LEAD_MS),
        ),
        on && button('From 1 min before filter ON', { 'data-rehearse': 'end' }, () => rehearse(on.utc_ms - LEAD_MS)),
      ].filter(Boolean);
    }
    function rehearse(fromMs) {
      clock.rehearse(fromMs);
      before = null;
      root.classList.toggle('rehearsal', fromMs !== null);
      parts.rehearse.replaceChildren(...rehearsals());
      tick();
      root.scrollTop = 0;
    }

    // --- every tick ---
    function signalCrossings(reading) {
      const now = Object.fromEntries(list.map((event) => [event.key, DayClock.left(event, reading)]));
      if (before) {
        for (const event of list) {
          const [was, is] = [before[event.key], now[event.key]];
          // What was slept through is not sounded late.
          if (was > 0 && is <= 0 && is > -2000)
            signal.play(['off', 'rim', 'on'].includes(event.key) ? event.key : 'mark');
          if (event.key === 'off' && was > 60_000 && is <= 60_000 && is > 58_000) signal.play('soon');
        }
      }
      before = now;
    }

    function stateWords(reading, view) {
      if (view.off && reading.rehearsal) return 'practice: keep yours on';
      if (view.off) return view.rim ? 'Red rim: look away now' : 'for the Sun in totality, until the time below';
      const [c1, c4] = [key('C1'), key('C4')];
      if (!c1) return 'nothing of the eclipse is seen here';
      if (DayClock.left(c1, reading) > 0) return 'for every look at the Sun';
      if (c4 && DayClock.left(c4, reading) <= 0) return 'the eclipse is over: for every look at the Sun';
      const on = key('on');
      if (!on) return site.no_window || 'all the while: there is no time for bare eyes here';
      return DayClock.left(on, reading) <= 0
        ? 'until the end'
        : 'until filter OFF is due, and the last bright edge is gone';
    }

    function tick() {
      if (!site) return;
      const reading = clock.read();
      const over = (key('C3') ?? key('max'))?.utc_ms + LEAD_MS;
      if (reading.rehearsal && (reading.middle > over || realSoon())) {
        rehearse(null);
        return;
      }
      const view = DayClock.outlook(site, list, reading);
      const rehearsing = reading.rehearsal;
      root.dataset.filter = view.off ? 'off' : 'on';
      parts.mark.hidden = !rehearsing;
      parts.foot.hidden = !rehearsing;
      put(
        parts.time,
        `${rehearsing ? 'rehearsed time ' : ''}${shown(reading.middle, 'earlier')} ${Site.clockName(site)}`,
      );
      const word = `${rehearsing ? 'REHEARSAL, ' : ''}${view.off ? 'FILTER OFF' : 'FILTER ON'}`;
      const why = stateWords(reading, view);
      if (parts.state.dataset.word !== word + why) {
        parts.state.dataset.word = word + why;
        parts.state.className = `dv-state ${view.off ? 'off' : 'on'}${view.rim ? ' rim' : ''}`;
        parts.state.replaceChildren(shape(view.off), el('div', {}, el('b', {}, word), el('span', {}, why)));
        put(parts.said, `${word}: ${why}`);
      }
      if (view.next) {
        const whole = DayClock.seconds(view.next, reading);
        const left = whole > 0 ? Words.remaining(whole * 1000) : 'now';
        put(parts.what, `${rehearsing ? 'Rehearsed: ' : ''}${title(view.next)}`);
        put(parts.left, left);
        parts.left.style.setProperty('--chars', String(left.length));
        put(parts.at, `at ${timeOf(view.next)} ${rehearsing ? '(rehearsed)' : onDay(view.next)}`.trim());
      } else {
        put(parts.what, list.length ? 'The eclipse is over' : 'Nothing of the eclipse is seen here');
        put(parts.left, '');
        put(parts.at, '');
      }
      const later = view.later.map((event) => `${timeOf(event)}  ${title(event)}`);
      if (parts.later.dataset.told !== later.join('|')) {
        parts.later.dataset.told = later.join('|');
        parts.later.replaceChildren(...later.map((text) => el('li', {}, text)));
      }
      put(parts.trust, trustWords());
      put(parts.awake, awakeWords());
      signalCrossings(reading);
      const soon = String(realSoon());
      if (parts.rehearse.dataset.soon !== soon) {
        parts.rehearse.dataset.soon = soon;
        parts.rehearse.replaceChildren(...rehearsals());
      }
    }

    const MARKED = ['C1', 'C2', 'C3', 'C4'];
    const title = (event) => (MARKED.includes(event.key) ? `${event.name} (${event.key})` : event.name);
    // Contacts to the nearest second as everywhere on the page; what the eyes go by to the safe side.
    const ROUND = { off: 'later', on: 'earlier', rim: 'earlier' };
    const timeOf = (event) => shown(event.utc_ms, ROUND[event.key]);
    const onDay = (event) => Words.day(event.utc_ms, event.offset_s);

    // --- opening and leaving ---
    function setLook(name) {
      memory.set('look', name);
      root.dataset.look = name;
      for (const b of parts.screen.querySelectorAll('[data-look]'))
        b.setAttribute('aria-pressed', String(b.dataset.look === name));
    }
    const others = () => [...document.body.children].filter((e) => e !== root && e.tagName !== 'SCRIPT');

    function open(chosen) {
      if (!root) build();
      site = chosen;
      list = DayClock.events(site);
      before = null;
      memory.set('day', site.name);
      opener = document.activeElement;
      put(parts.place, site.name);
      parts.rimless.hidden = !site.window || key('rim') !== undefined;
      const cautions = site.window ? model.cautions_total : model.cautions_partial;
      parts.care.replaceChildren(...cautions.map((text) => el('li', {}, text)));
      const dark = window.matchMedia('(prefers-color-scheme: dark)').matches;
      setLook(memory.get('look', dark ? 'dark' : 'light'));
      root.hidden = false;
      root.scrollTop = 0;
      document.documentElement.classList.add('day-open');
      for (const e of others()) e.inert = true;
      root.focus();
      root.requestFullscreen?.().catch(() => {});
      signal.stayAwake().then(tick);
      parts.rehearse.replaceChildren(...rehearsals());
      tick();
      timer ??= setInterval(tick, 100);
    }

    function close() {
      clearInterval(timer);
      timer = null;
      clock.rehearse(null);
      root.classList.remove('rehearsal');
      root.hidden = true;
      site = null;
      signal.letSleep();
      document.documentElement.classList.remove('day-open');
      for (const e of others()) e.inert = false;
      if (document.fullscreenElement) document.exitFullscreen().catch(() => {});
      opener?.focus();
    }

    // After sleep, a hidden tab or a page taken from the cache the time is read anew before anything else.
    const again = () => {
      if (!site || document.visibilityState !== 'visible') return;
      tick();
      signal.stayAwake().then(tick);
    };
    for (const name of ['visibilitychange', 'resume']) document.addEventListener(name, again);
    for (const name of ['pageshow', 'focus', 'pointerdown']) window.addEventListener(name, again);

    return { open, remembered: () => memory.get('day', null) };
  }

  return { start };
})();
