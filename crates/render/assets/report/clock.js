// Numbers into words: times, directions, heights, odds.
const Words = (() => {
  'use strict';
  const two = (n) => String(n).padStart(2, '0');
  const DASH = '–';

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
    const months = [
      'January',
      'February',
      'March',
      'April',
      'May',
      'June',
      'July',
      'August',
      'September',
      'October',
      'November',
      'December',
    ];
    const d = new Date(Math.round(utcMs / 1000 + offsetS) * 1000);
    return `${d.getUTCDate()} ${months[d.getUTCMonth()]}`;
  }

  function offset(offsetS) {
    const minutes = Math.round(Math.abs(offsetS) / 60);
    const tail = minutes % 60 ? `:${two(minutes % 60)}` : '';
    return `UTC${offsetS < 0 ? '−' : '+'}${Math.floor(minutes / 60)}${tail}`;
  }

  function length(seconds) {
    const whole = Math.max(Math.round(seconds), 0);
    return whole < 60 ? `${whole} s` : `${Math.floor(whole / 60)} min ${two(whole % 60)} s`;
  }

  // A countdown: `212 d 04 h 13 min`, `1 h 02 min 09 s`, `4 min 09 s`, `9 s`.
  function remaining(ms) {
    const s = Math.max(Math.ceil(ms / 1000), 0);
    const [d, h, m] = [Math.floor(s / 86400), Math.floor(s / 3600) % 24, Math.floor(s / 60) % 60];
    if (d > 0) return `${d} d ${two(h)} h ${two(m)} min`;
    if (h > 0) return `${h} h ${two(m)} min ${two(s % 60)} s`;
    return m > 0 ? `${m} min ${two(s % 60)} s` : `${s} s`;
  }

  const WINDS = [
    'north',
    'north-north-east',
    'north-east',
    'east-north-east',
    'east',
    'east-south-east',
    'south-east',
    'south-south-east',
    'south',
    'south-south-west',
    'south-west',
    'west-south-west',
    'west',
    'west-north-west',
    'north-west',
    'north-north-west',
  ];
  const SHORT_WINDS = [
    'N',
    'NNE',
    'NE',
    'ENE',
    'E',
    'ESE',
    'SE',
    'SSE',
    'S',
    'SSW',
    'SW',
    'WSW',
    'W',
    'WNW',
    'NW',
    'NNW',
  ];
  const sector = (azimuthDeg) => ((Math.round(azimuthDeg / 22.5) % 16) + 16) % 16;
  const wind = (azimuthDeg) => WINDS[sector(azimuthDeg)];
  const shortWind = (azimuthDeg) => SHORT_WINDS[sector(azimuthDeg)];

  // In whole degrees, from 0° to 359°.
  const azimuth = (azimuthDeg) => `${((Math.round(azimuthDeg) % 360) + 360) % 360}°`;

  // Height in fists at arm's length, ten degrees to the fist (common practice, no source).
  function fists(altitudeDeg) {
    const halves = Math.round(altitudeDeg / 5);
    if (halves <= 0) return 'on the horizon';
    if (halves === 1) return 'half a fist';
    if (halves === 2) return '1 fist';
    return `${Math.floor(halves / 2)}${halves % 2 ? '½' : ''} fists`;
  }

  // A chance in whole per cent, but never certainty that is none.
  function percent(fraction) {
    if (fraction === null || fraction === undefined) return DASH;
    const value = Math.round(fraction * 100);
    if (value >= 100 && fraction < 1) return 'over 99 %';
    if (value <= 0 && fraction > 0) return 'under 1 %';
    return `${value} %`;
  }

  const fixed = (value, decimals) =>
    value === null || value === undefined ? DASH : value.toFixed(decimals).replace('-', '−');

  // A criterion's value with its unit.
  function value(number, unit) {
    if (number === null || number === undefined) return DASH;
    if (unit === 'fraction') return percent(number);
    const size = Math.abs(number);
    const text = unit === 's' || size >= 100 ? fixed(number, 0) : size >= 10 ? fixed(number, 1) : fixed(number, 2);
    return unit ? `${text} ${unit}` : text;
  }

  function coordinates(latDeg, lonDeg) {
    const lat = `${Math.abs(latDeg).toFixed(4)}° ${latDeg < 0 ? 'S' : 'N'}`;
    return `${lat}, ${Math.abs(lonDeg).toFixed(4)}° ${lonDeg < 0 ? 'W' : 'E'}`;
  }

  // `1 h 25 min`; departures are what it is for, so it rounds up.
  function drive(hours) {
    const minutes = Math.ceil(hours * 60 - 1e-9);
    return minutes < 60
      ? `${minutes} min`
      : `${Math.floor(minutes / 60)} h${minutes % 60 ? ` ${two(minutes % 60)} min` : ''}`;
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
    DASH,
  };
})();
