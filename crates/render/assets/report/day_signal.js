// Sound, vibration, and a screen that stays awake: each only where the device has it, and said where it has not.
const DaySignal = (() => {
  'use strict';
  // Tones of a signal: [pitch in hertz, seconds]; a pitch of 0 is a pause. Told apart by rhythm, not by pitch alone.
  const TONES = {
    mark: [[660, 0.25]],
    soon: [
      [660, 0.12],
      [0, 0.12],
      [660, 0.12],
    ],
    off: [
      [440, 0.7],
      [0, 0.2],
      [440, 0.7],
    ],
    rim: [
      [990, 0.1],
      [0, 0.08],
      [990, 0.1],
      [0, 0.08],
      [990, 0.1],
      [0, 0.08],
      [990, 0.1],
      [0, 0.08],
      [990, 0.1],
    ],
    on: [
      [880, 0.3],
      [550, 0.3],
      [880, 0.3],
      [550, 0.3],
      [880, 0.3],
      [550, 0.3],
    ],
  };
  const SHAKES = {
    mark: [200],
    soon: [100, 100, 100],
    off: [600, 200, 600],
    rim: [80, 60, 80, 60, 80, 60, 80, 60, 80],
    on: [300, 80, 300, 80, 300, 80, 300],
  };

  function start(memory) {
    const wishes = memory.get('signal', { sound: false, vibration: false });
    const Audio = window.AudioContext;
    let context = null;
    let lock = null;
    let awake = 'wakeLock' in navigator ? 'asked' : 'cannot';

    function play(kind) {
      if (wishes.sound && Audio) {
        context ??= new Audio();
        context.resume();
        let t = context.currentTime + 0.02;
        for (const [pitch, length] of TONES[kind]) {
          if (pitch > 0) {
            const tone = context.createOscillator();
            const level = context.createGain();
            tone.frequency.value = pitch;
            tone.type = 'square';
            level.gain.setValueAtTime(0.3, t);
            level.gain.setTargetAtTime(0, t + length - 0.03, 0.01);
            tone.connect(level).connect(context.destination);
            tone.start(t);
            tone.stop(t + length);
          }
          t += length;
        }
      }
      if (wishes.vibration) navigator.vibrate?.(SHAKES[kind]);
    }

    async function stayAwake() {
      if (!('wakeLock' in navigator) || lock) return;
      try {
        lock = await navigator.wakeLock.request('screen');
        awake = 'kept';
        lock.addEventListener('release', () => {
          lock = null;
          awake = 'lost';
        });
      } catch {
        awake = 'refused';
      }
    }

    return {
      wishes,
      can: { sound: Boolean(Audio), vibration: typeof navigator.vibrate === 'function' },
      wish(name, value) {
        wishes[name] = value;
        memory.set('signal', wishes);
      },
      play,
      stayAwake,
      letSleep() {
        lock?.release();
        lock = null;
      },
      awake: () => awake,
    };
  }
  return { start };
})();
