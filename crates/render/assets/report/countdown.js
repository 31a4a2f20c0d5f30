// Time still to go to each contact, by this device's clock.
const Countdown = (() => {
  'use strict';
  function tick() {
    const now = Date.now();
    for (const cell of document.querySelectorAll('[data-until]')) {
      const left = Number(cell.dataset.until) - now;
      const text = left > 0 ? Words.remaining(left) : 'past';
      if (cell.textContent !== text) cell.textContent = text;
    }
    const note = document.getElementById('device-clock');
    if (note) {
      const says = `${new Date(now).toISOString().slice(0, 10)} ${Words.clock(now, 0, 'earlier')} UTC`;
      const text =
        `Counted by the clock of this device, which now says ${says}. If that clock is wrong, so is the countdown: ` +
        'set it by a time signal or satellite receiver on the day. The sky decides, not the clock.';
      if (note.textContent !== text) note.textContent = text;
    }
  }
  function start() {
    tick();
    setInterval(tick, 1000);
  }
  return { start, tick };
})();
