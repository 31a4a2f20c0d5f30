// Gunzip for browsers without DecompressionStream: deflate (RFC 1951) inside gzip (RFC 1952), written plainly.
const Inflate = (() => {
  'use strict';
  const LENGTH_BASE = [
    3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 19, 23, 27, 31, 35, 43, 51, 59, 67, 83, 99, 115, 131, 163, 195, 227, 258,
  ];
  const LENGTH_BITS = [0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 4, 5, 5, 5, 5, 0];
  const FAR_BASE = [
    1, 2, 3, 4, 5, 7, 9, 13, 17, 25, 33, 49, 65, 97, 129, 193, 257, 385, 513, 769, 1025, 1537, 2049, 3073, 4097, 6145,
    8193, 12289, 16385, 24577,
  ];
  const FAR_BITS = [0, 0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7, 8, 8, 9, 9, 10, 10, 11, 11, 12, 12, 13, 13];
  const ORDER = [16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15];
  const MOST_BITS = 15;

  // Canonical code: how many of each length, and the symbols in order of their codes.
  function code(lengths) {
    const count = new Uint16Array(MOST_BITS + 1);
    for (const length of lengths) count[length]++;
    count[0] = 0;
    const next = new Uint16Array(MOST_BITS + 2);
    for (let bits = 1; bits <= MOST_BITS; bits++) next[bits + 1] = next[bits] + count[bits];
    const symbols = new Uint16Array(lengths.length);
    lengths.forEach((length, symbol) => {
      if (length) symbols[next[length]++] = symbol;
    });
    return { count, symbols };
  }

  const FIXED = [
    code(Array.from({ length: 288 }, (_, k) => (k < 144 ? 8 : k < 256 ? 9 : k < 280 ? 7 : 8))),
    code(Array.from({ length: 30 }, () => 5)),
  ];

  // The deflated blocks from a byte on, into `size` bytes.
  function blocks(bytes, start, size) {
    const out = new Uint8Array(size);
    let at = start;
    let held = 0;
    let bits = 0;
    let filled = 0;
    function take(n) {
      while (bits < n) {
        held |= bytes[at++] << bits;
        bits += 8;
      }
      const value = held & ((1 << n) - 1);
      held >>>= n;
      bits -= n;
      return value;
    }
    function symbol({ count, symbols }) {
      let value = 0;
      let first = 0;
      let index = 0;
      for (let length = 1; length <= MOST_BITS; length++) {
        value |= take(1);
        if (value - count[length] < first) return symbols[index + value - first];
        index += count[length];
        first = (first + count[length]) << 1;
        value <<= 1;
      }
      throw new Error('the data of this page are damaged');
    }
    function tables() {
      const [literals, fars, kinds] = [take(5) + 257, take(5) + 1, take(4) + 4];
      const lengths = new Array(19).fill(0);
      for (let k = 0; k < kinds; k++) lengths[ORDER[k]] = take(3);
      const how = code(lengths);
      const all = [];
      while (all.length < literals + fars) {
        const s = symbol(how);
        if (s < 16) all.push(s);
        else {
          const [value, times] = s === 16 ? [all.at(-1), 3 + take(2)] : [0, s === 17 ? 3 + take(3) : 11 + take(7)];
          for (let k = 0; k < times; k++) all.push(value);
        }
      }
      return [code(all.slice(0, literals)), code(all.slice(literals))];
    }
    for (let last = 0; !last;) {
      last = take(1);
      const kind = take(2);
      if (kind === 0) {
        held = 0;
        bits = 0;
        const length = bytes[at] | (bytes[at + 1] << 8);
        out.set(bytes.subarray(at + 4, at + 4 + length), filled);
        at += 4 + length;
        filled += length;
        continue;
      }
      const [literals, fars] = kind === 1 ? FIXED : tables();
      for (;;) {
        const s = symbol(literals);
        if (s < 256) out[filled++] = s;
        else if (s === 256) break;
        else {
          const length = LENGTH_BASE[s - 257] + take(LENGTH_BITS[s - 257]);
          const f = symbol(fars);
          const far = FAR_BASE[f] + take(FAR_BITS[f]);
          for (let k = 0; k < length; k++, filled++) out[filled] = out[filled - far];
        }
      }
    }
    return out;
  }

  // The text of a gzip stream as our own writer makes it: one member, no extra fields.
  function text(bytes) {
    const end = bytes.length;
    const size = bytes[end - 4] | (bytes[end - 3] << 8) | (bytes[end - 2] << 16) | (bytes[end - 1] << 24);
    return new TextDecoder().decode(blocks(bytes, 10, size >>> 0));
  }

  return { text };
})();
