// Time still to go to each contact, by this device's clock.
const Countdown = (() => {
  'use strict';
  const { say } = Say;
  function tick() {
    const now = Date.now();
    for (const cell of document.querySelectorAll('[data-until]')) {
      const left = Number(cell.dataset.until) - now;
      const text = left > 0 ? Words.remaining(left) : say('past');
      if (cell.textContent !== text) cell.textContent = text;
    }
    const note = document.getElementById('device-clock');
    if (note) {
      const time = `${new Date(now).toISOString().slice(0, 10)} ${Words.clock(now, 0, 'earlier')}`;
      const text = say('device_clock', { time: say('utc_time', { time }) });
      if (note.textContent !== text) note.textContent = text;
    }
  }
  function start() {
    tick();
    setInterval(tick, 1000);
  }
  return { start, tick };
})();
