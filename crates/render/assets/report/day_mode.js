// Day mode: one thing at a time, large, for the minutes that count. It shows the page's own decision and computes
// none.
const DayMode = (() => {
  'use strict';
  const { el, s } = Draw;
  const { say } = Say;
  const LOOKS = ['sun', 'light', 'dark'];
  // A rehearsal begins so long before what it rehearses and ends so long after totality, ms.
  const LEAD_MS = 60_000;
  // Around the real eclipse nothing is rehearsed, ms before first contact.
  const REAL_MS = 600_000;

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
        part('mark', 'p', { class: 'dv-mark', hidden: true }, say('rehearsal_mark')),
        el(
          'div',
          { class: 'dv-head' },
          el('div', {}, part('place', 'h2', { id: 'dv-place' }), part('time', 'p', { class: 'dv-time' })),
          button(say('leave_day'), { class: 'dv-leave' }, close),
        ),
        part('state', 'div', { class: 'dv-state' }),
        part('next', 'div', { class: 'dv-next' }, [
          part('what', 'p', { class: 'dv-what' }),
          part('left', 'p', { class: 'dv-left', role: 'timer', 'aria-live': 'off' }),
          part('at', 'p', { class: 'dv-at' }),
        ]),
        el('p', { class: 'dv-decides' }, say('sky_decides')),
        part('trust', 'p', { class: 'dv-trust' }),
        el('h3', {}, say('also_to_come')),
        part('later', 'ol', { class: 'dv-later' }),
        part('rimless', 'p', { class: 'dv-rimless', hidden: true }, say('rimless')),
        part('said', 'p', { class: 'dv-said', role: 'status' }),
        el('h3', {}, say('rehearse')),
        part('rehearse', 'div', { class: 'dv-tools' }),
        el('h3', {}, say('screen')),
        part('screen', 'div', { class: 'dv-tools' }),
        part('awake', 'p', {}),
        el('h3', {}, say('signals')),
        part('signals', 'div', { class: 'dv-tools' }),
        el('h3', {}, say('trust')),
        el('p', {}, say('trust_how')),
        part('compare', 'form', { class: 'dv-tools' }),
        part('checked', 'p', { role: 'status' }),
        el('h3', {}, say('take_care')),
        part('care', 'ul', {}),
        part('foot', 'p', { class: 'dv-mark', hidden: true }, say('rehearsal_mark')),
      );
      root.addEventListener('keydown', (event) => {
        if (event.key === 'Escape') close();
      });
      document.body.append(root);
      tools();
    }

    function tools() {
      const names = { sun: say('look_sun'), light: say('look_light'), dark: say('look_dark') };
      const looks = LOOKS.map((name) =>
        button(names[name], { 'aria-pressed': 'false', 'data-look': name }, () => setLook(name)),
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
        ['off', say('try_off')],
        ['rim', say('try_rim')],
        ['on', say('try_on')],
      ];
      parts.signals.append(
        toggle('sound', say('sound'), say('no_sound')),
        toggle('vibration', say('vibration'), say('no_vibration')),
        ...tests.map(([kind, words]) => button(words, { 'data-try': kind }, () => signal.play(kind))),
        el('p', {}, say('signals_how')),
      );
      const typed = el('input', {
        id: 'dv-typed',
        inputmode: 'numeric',
        autocomplete: 'off',
        placeholder: say('typed'),
        size: 9,
        'aria-describedby': 'dv-typed-how',
      });
      parts.compare.append(
        el('label', { for: 'dv-typed' }, say('trusted_shows')),
        typed,
        el('button', {}, say('shows_now')),
        button(say('ask_satellites'), {}, askSatellites),
        el('p', { id: 'dv-typed-how' }, say('typed_how')),
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
        put(parts.checked, say('bad_time'));
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
        put(parts.checked, say('no_receiver'));
        return;
      }
      put(parts.checked, say('waiting'));
      navigator.geolocation.getCurrentPosition(
        (position) => {
          const apart = clock.stamped(position.timestamp) / 1000;
          const seconds = Math.abs(apart).toFixed(1);
          tick();
          put(
            parts.checked,
            Math.abs(apart) > DayClock.BY_EYE_MS / 1000
              ? apart > 0
                ? say('stamped_later', { seconds })
                : say('stamped_earlier', { seconds })
              : say('stamped_same'),
          );
        },
        () => put(parts.checked, say('no_position')),
        { enableHighAccuracy: true, timeout: 60000, maximumAge: 0 },
      );
    }

    function trustWords() {
      const { check, jump, offsets } = clock.state();
      if (jump) {
        const seconds = Math.abs(jump.ms / 1000).toFixed(0);
        return say('jumped', { seconds, again: check ? say('compare_again') : '' });
      }
      if (!check) return offsets.length > 1 ? say('two_times') : say('not_compared');
      const off = check.offset / 1000;
      const seconds = Math.abs(off).toFixed(1);
      const wrong = off > 0 ? say('slow', { seconds }) : say('fast', { seconds });
      return say('compared', { time: shown(check.wall), by: Math.abs(off) < 0.05 ? say('right') : wrong });
    }

    function awakeWords() {
      return {
        kept: say('awake_kept'),
        asked: say('awake_asked'),
        lost: say('awake_lost'),
        refused: say('awake_refused'),
        cannot: say('awake_cannot'),
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
        return [button(say('stop_rehearsal'), { class: 'dv-stop' }, () => rehearse(null))];
      }
      if (realSoon()) return [el('p', {}, say('no_rehearsal'))];
      const heart = key('C2') ?? key('max');
      if (!heart) return [el('p', {}, say('nothing_seen'))];
      const on = key('on');
      return [
        button(heart.key === 'C2' ? say('from_c2') : say('from_max'), { 'data-rehearse': 'begin' }, () =>
          rehearse(heart.utc_ms - LEAD_MS),
        ),
        on && button(say('from_on'), { 'data-rehearse': 'end' }, () => rehearse(on.utc_ms - LEAD_MS)),
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
      if (view.off && reading.rehearsal) return say('practice');
      if (view.off) return view.rim ? say('rim_now') : say('off_why');
      const [c1, c4] = [key('C1'), key('C4')];
      if (!c1) return say('on_nothing_seen');
      if (DayClock.left(c1, reading) > 0) return say('on_every_look');
      if (c4 && DayClock.left(c4, reading) <= 0) return say('on_over');
      const on = key('on');
      if (!on) return site.no_window || say('on_all_the_while');
      return DayClock.left(on, reading) <= 0 ? say('on_to_end') : say('on_until_off');
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
      const now = `${shown(reading.middle, 'earlier')} ${Site.clockName(site)}`;
      put(parts.time, rehearsing ? say('rehearsed_time', { time: now }) : now);
      const filter = view.off ? say('is_off') : say('is_on');
      const word = rehearsing ? say('rehearsal', { filter }) : filter;
      const why = stateWords(reading, view);
      if (parts.state.dataset.word !== word + why) {
        parts.state.dataset.word = word + why;
        parts.state.className = `dv-state ${view.off ? 'off' : 'on'}${view.rim ? ' rim' : ''}`;
        parts.state.replaceChildren(shape(view.off), el('div', {}, el('b', {}, word), el('span', {}, why)));
        put(parts.said, `${word}: ${why}`);
      }
      if (view.next) {
        const whole = DayClock.seconds(view.next, reading);
        const left = whole > 0 ? Words.remaining(whole * 1000) : say('now');
        const what = title(view.next);
        put(parts.what, rehearsing ? say('rehearsed', { what }) : what);
        put(parts.left, left);
        parts.left.style.setProperty('--chars', String(left.length));
        const time = timeOf(view.next);
        put(
          parts.at,
          rehearsing ? say('at_time_rehearsed', { time }) : say('at_time', { time, day: onDay(view.next) }),
        );
      } else {
        put(parts.what, list.length ? say('over') : say('nothing_seen'));
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
    const title = (event) =>
      MARKED.includes(event.key) ? say('named', { name: event.name, mark: event.key }) : event.name;
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
