// What the page says: the words come with its data, from the program's one room of words, by key.
const Say = (() => {
  'use strict';
  let words = {};

  // A text; `{name}` in it is a place for a value.
  function say(key, values = {}) {
    return words[key].replace(/\{(\w+)\}/g, (_, name) => values[name]);
  }

  return {
    say,
    // A list of words.
    list: (key) => words[key],
    learn(all) {
      words = all;
    },
  };
})();
