// The data that the page carries: gzip of JSON in base 64, the sites in columns (`report/packed.rs` writes it).
const Model = (() => {
  'use strict';

  async function unzip(base64) {
    const bytes = Base64.bytes(base64);
    if (typeof DecompressionStream === 'undefined') return Inflate.text(bytes);
    // Read piece by piece: a chain of streams through a blob takes four times as long.
    const gzip = new DecompressionStream('gzip');
    const writer = gzip.writable.getWriter();
    const written = writer.write(bytes).then(() => writer.close());
    const reader = gzip.readable.getReader();
    const decoder = new TextDecoder();
    let text = '';
    for (let piece = await reader.read(); !piece.done; piece = await reader.read())
      text += decoder.decode(piece.value, { stream: true });
    await written;
    return text + decoder.decode();
  }

  // How the values of a column are read: `(index) => value`, null where a site has none.
  function reader(column) {
    if (column.rows) {
      const known = new Map(column.rows);
      return (k) => known.get(k) ?? null;
    }
    const pick = 'all' in column ? () => column.all : (k) => column.v[k];
    const none = (v) => v === null || v === undefined;
    if (column.t) return (k) => (none(pick(k)) ? null : column.t[pick(k)]);
    if (!('d' in column)) return pick;
    const scale = 10 ** Math.abs(column.d);
    const shrink = column.d > 0;
    return (k) => {
      const v = pick(k);
      return none(v) ? null : shrink ? v / scale : v * scale;
    };
  }

  // The sites as objects that read the columns when they are asked.
  function sites(packed, criteria) {
    const read = Object.fromEntries(Object.entries(packed.columns).map(([name, column]) => [name, reader(column)]));
    const values = criteria.map((_, k) => read[`value.${k}`]);
    const utilities = criteria.map((_, k) => read[`utility.${k}`]);
    const instant = (name, k) => {
      const ms = read[`${name}.ms`](k);
      return ms === null ? null : { utc_ms: packed.base_ms + ms, offset_s: read[`${name}.offset_s`](k) };
    };
    class Site {
      constructor(index) {
        this.index = index;
      }
      get rank_interval() {
        const low = read.rank_low(this.index);
        return low === null ? null : [low, read.rank_high(this.index)];
      }
      get values() {
        return values.map((f) => f(this.index));
      }
      get utilities() {
        return utilities.map((f) => f(this.index));
      }
      utility(k) {
        return utilities[k](this.index);
      }
      get contacts() {
        return [0, 1, 2, 3, 4].map((c) => this.contact(c));
      }
      contact(c) {
        const name = `contact.${c}`;
        const at = instant(name, this.index);
        if (!at) return null;
        const [altitude, azimuth, up] = ['altitude_deg', 'azimuth_deg', 'up'].map((part) =>
          read[`${name}.${part}`](this.index),
        );
        return { at, altitude_deg: altitude, azimuth_deg: azimuth, up: up === 1 };
      }
      get window() {
        const off = instant('off', this.index);
        return off ? { off, on: instant('on', this.index), kept: read.kept(this.index) } : null;
      }
      get cloud() {
        const clear = read['cloud.clear'](this.index);
        if (clear === null) return null;
        const rest = ['cloud_fraction', 'low_95', 'high_95', 'years', 'source'];
        const beta = [0, 1].map((k) => read[`cloud.beta.${k}`](this.index));
        return {
          clear,
          ...Object.fromEntries(rest.map((name) => [name, read[`cloud.${name}`](this.index)])),
          beta: beta[0] === null ? null : beta,
        };
      }
    }
    const plain = [
      'name',
      'lat_deg',
      'lon_deg',
      'elevation_m',
      'zone',
      'zone_short',
      'rank',
      'first_chance',
      'score',
      'rejected',
      'warnings',
      'phase',
      'duration_s',
      'magnitude',
      'obscuration',
      'no_window',
      'fallback',
      'way',
      'detail',
    ];
    for (const name of plain) {
      Object.defineProperty(Site.prototype, name, {
        get() {
          return read[name](this.index);
        },
      });
    }
    return Array.from({ length: packed.count }, (_, k) => new Site(k));
  }

  async function open() {
    const model = JSON.parse(await unzip(document.getElementById('model').textContent.trim()));
    Say.learn(model.words);
    // Whether any site has cloud odds: told by the column, so that no site need be asked.
    const clear = model.sites.columns['cloud.clear'];
    model.has_cloud = 'all' in clear ? clear.all !== null : clear.v.some((v) => v !== null);
    model.sites = sites(model.sites, model.criteria);
    return model;
  }

  // Everything as plain data, for whoever wants to look into the page by a program.
  function plain(model) {
    const own = (site) => {
      const names = Object.entries(Object.getOwnPropertyDescriptors(Object.getPrototypeOf(site)));
      return Object.fromEntries(names.filter(([, d]) => d.get).map(([name]) => [name, site[name]]));
    };
    return { ...model, sites: model.sites.map(own) };
  }

  const ready = open();
  return { ready, plain };
})();
