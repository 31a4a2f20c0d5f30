// Bytes that the page carries as letters in base 64.
const Base64 = (() => {
  'use strict';

  function bytes(text) {
    const letters = atob(text),
      out = new Uint8Array(letters.length);
    for (let k = 0; k < letters.length; k++) out[k] = letters.charCodeAt(k);
    return out;
  }

  return { bytes };
})();
