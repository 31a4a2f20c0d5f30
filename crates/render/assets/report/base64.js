// Bytes that the page carries as letters in base 64.
const Base64 = (() => {
  'use strict';

  function bytes(text) {
    // The browser's own way, where it has one, is several times faster.
    /** @type {any} */
    const array = Uint8Array;
    if (array.fromBase64) return array.fromBase64(text);
    const letters = atob(text),
      out = new Uint8Array(letters.length);
    for (let k = 0; k < letters.length; k++) out[k] = letters.charCodeAt(k);
    return out;
  }

  return { bytes };
})();
