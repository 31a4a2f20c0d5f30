// Own points as files that other programs read: GPX 1.1 and GeoJSON (RFC 7946).
const Exchange = (() => {
  'use strict';
  const escape = (text) =>
    text.replace(/[<>&"']/g, (c) => ({ '<': '&lt;', '>': '&gt;', '&': '&amp;', '"': '&quot;', "'": '&apos;' })[c]);
  // eslint-disable-next-line no-control-regex -- XML 1.0 has no place for these
  const clean = (text) => text.replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f]/g, '');

  function gpx(points, creator) {
    const waypoints = points.map((p) =>
      [
        `  <wpt lat="${p.lat_deg.toFixed(6)}" lon="${p.lon_deg.toFixed(6)}">`,
        `    <ele>${p.elevation_m}</ele>`,
        `    <name>${escape(clean(p.name))}</name>`,
        '  </wpt>',
      ].join('\n'),
    );
    return [
      '<?xml version="1.0" encoding="UTF-8"?>',
      `<gpx version="1.1" creator="${escape(creator)}" xmlns="http://www.topografix.com/GPX/1/1">`,
      ...waypoints,
      '</gpx>',
      '',
    ].join('\n');
  }

  function geojson(points) {
    const features = points.map((p) => ({
      type: 'Feature',
      properties: { name: p.name, elevation_m: p.elevation_m },
      geometry: { type: 'Point', coordinates: [Number(p.lon_deg.toFixed(6)), Number(p.lat_deg.toFixed(6))] },
    }));
    return `${JSON.stringify({ type: 'FeatureCollection', features }, null, 1)}\n`;
  }

  // Hands a text to the device as a file.
  function save(name, type, text) {
    const url = URL.createObjectURL(new Blob([text], { type }));
    Draw.el('a', { href: url, download: name }).click();
    setTimeout(() => URL.revokeObjectURL(url), 10000);
  }

  return { gpx, geojson, save };
})();
