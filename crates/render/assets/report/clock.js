// Numbers into words: times, directions, heights, odds.
const Words = (() => {
  'use strict';
  const { say } = Say;
  const two = (n) => String(n).padStart(2, '0');

  // `12:43:10` by a clock so many seconds ahead of UTC. `round` is 'nearest', 'later' (never too early) or 'earlier'.
  function clock(utcMs, offsetS, round = 'nearest') {
    const seconds = { nearest: Math.round, later: Math.ceil, earlier: Math.floor }[round](utcMs / 1000);
    const d = new Date((seconds + offsetS) * 1000);
    return `${two(d.getUTCHours())}:${two(d.getUTCMinutes())}:${two(d.getUTCSeconds())}`;
  }

  // `12:43`, by which to be off: the minute that has begun, never the one to come.
  function minute(at) {
    const d = new Date(Math.floor(at.utc_ms / 60000) * 60000 + at.offset_s * 1000);
    return `${two(d.getUTCHours())}:${two(d.getUTCMinutes())}`;
  }

  // `22 July`, by the same clock.
  function day(utcMs, offsetS) {
    const d = new Date(Math.round(utcMs / 1000 + offsetS) * 1000);
    return say('day_month', { day: d.getUTCDate(), month: Say.list('months')[d.getUTCMonth()] });
  }

  function offset(offsetS) {
    const minutes = Math.round(Math.abs(offsetS) / 60);
    const tail = minutes % 60 ? `:${two(minutes % 60)}` : '';
    return say('utc_offset', { offset: `${offsetS < 0 ? '−' : '+'}${Math.floor(minutes / 60)}${tail}` });
  }

  function length(seconds) {
    const whole = Math.max(Math.round(seconds), 0);
    return whole < 60
      ? say('seconds', { seconds: whole })
      : say('minutes_seconds', { minutes: Math.floor(whole / 60), seconds: two(whole % 60) });
  }

  // A countdown: `212 d 04 h 13 min`, `1 h 02 min 09 s`, `4 min 09 s`, `9 s`.
  function remaining(ms) {
    const s = Math.max(Math.ceil(ms / 1000), 0);
    const [d, h, m] = [Math.floor(s / 86400), Math.floor(s / 3600) % 24, Math.floor(s / 60) % 60];
    if (d > 0) return say('days_hours_minutes', { days: d, hours: two(h), minutes: two(m) });
    if (h > 0) return say('hours_minutes_seconds', { hours: h, minutes: two(m), seconds: two(s % 60) });
    return length(s);
  }

  const sector = (azimuthDeg) => ((Math.round(azimuthDeg / 22.5) % 16) + 16) % 16;
  const wind = (azimuthDeg) => Say.list('winds')[sector(azimuthDeg)];
  const shortWind = (azimuthDeg) => Say.list('short_winds')[sector(azimuthDeg)];

  // In whole degrees, from 0° to 359°.
  const azimuth = (azimuthDeg) => `${((Math.round(azimuthDeg) % 360) + 360) % 360}°`;

  // Height in fists at arm's length, ten degrees to the fist (common practice, no source).
  function fists(altitudeDeg) {
    const halves = Math.round(altitudeDeg / 5);
    if (halves <= 0) return say('on_horizon');
    if (halves === 1) return say('half_fist');
    if (halves === 2) return say('one_fist');
    return say('fists', { number: `${Math.floor(halves / 2)}${halves % 2 ? '½' : ''}` });
  }

  // A chance in whole per cent, but never certainty that is none.
  function percent(fraction) {
    if (fraction === null || fraction === undefined) return say('dash');
    const value = Math.round(fraction * 100);
    if (value >= 100 && fraction < 1) return say('over_99');
    if (value <= 0 && fraction > 0) return say('under_1');
    return say('percent', { number: value });
  }
  const interval = (low, high) => say('interval', { low: Math.round(low * 100), high: Math.round(high * 100) });
  const oddsInterval = (cloud) => say('odds_interval', { interval: interval(cloud.low_95, cloud.high_95) });

  const fixed = (value, decimals) =>
    value === null || value === undefined ? say('dash') : value.toFixed(decimals).replace('-', '−');

  // A criterion's value with its unit.
  function value(number, unit) {
    if (number === null || number === undefined) return say('dash');
    if (unit === 'fraction') return percent(number);
    const size = Math.abs(number);
    const text = unit === 's' || size >= 100 ? fixed(number, 0) : size >= 10 ? fixed(number, 1) : fixed(number, 2);
    return unit ? `${text} ${unit}` : text;
  }

  function coordinates(latDeg, lonDeg) {
    return say('coordinates', {
      lat: Math.abs(latDeg).toFixed(4),
      north: shortWind(latDeg < 0 ? 180 : 0),
      lon: Math.abs(lonDeg).toFixed(4),
      east: shortWind(lonDeg < 0 ? 270 : 90),
    });
  }

  // `1 h 25 min`; departures are what it is for, so it rounds up.
  function drive(hours) {
    const minutes = Math.ceil(hours * 60 - 1e-9);
    const whole = Math.floor(minutes / 60);
    if (whole === 0) return say('minutes', { minutes });
    return minutes % 60
      ? say('hours_minutes', { hours: whole, minutes: two(minutes % 60) })
      : say('hours', { hours: whole });
  }

  return {
    clock,
    minute,
    day,
    offset,
    length,
    remaining,
    wind,
    shortWind,
    azimuth,
    fists,
    percent,
    fixed,
    value,
    coordinates,
    drive,
    interval,
    oddsInterval,
    get DASH() {
      return say('dash');
    },
  };
})();
