// Rules for the page's scripts (classic scripts, each a named room of its own) and for the tests that drive them.
const rules = {
  'no-undef': 'error',
  'no-unused-vars': ['error', { argsIgnorePattern: '^_', varsIgnorePattern: '^[A-Z]' }],
  'prefer-const': 'error',
  'no-var': 'error',
  eqeqeq: 'error',
  'no-implicit-globals': 'off',
  'no-shadow-restricted-names': 'error',
  'no-constant-binary-expression': 'error',
  'no-unsafe-finally': 'error',
  'no-unreachable': 'error',
  'no-eval': 'error',
  'no-implied-eval': 'error',
  'no-control-regex': 'error',
  'max-lines': ['error', 500],
};
const browser =
  'window document navigator localStorage performance console atob Blob URL Response DecompressionStream TextDecoder ' +
  'requestAnimationFrame IntersectionObserver ResizeObserver DOMParser DOMPoint DOMMatrix DOMException Node Intl ' +
  'getComputedStyle setTimeout clearTimeout setInterval clearInterval Panzoom';
const rooms =
  'Base64 Inflate Say Model Memory Shadow Edge Scoring Words Draw Filters Site GroundEntry Assess Exchange MapMarks ' +
  'HiddenGround Ground Point Countdown Weights LongTable Order Beside DayClock DaySignal DayMode Sheet';
const globals = (words) => Object.fromEntries(words.split(' ').map((name) => [name, 'readonly']));

export default [
  {
    files: ['crates/render/assets/report/*.js'],
    languageOptions: { sourceType: 'script', globals: globals(`${browser} ${rooms}`) },
    rules,
  },
  {
    files: ['tests/browser/*.mjs'],
    languageOptions: {
      sourceType: 'module',
      // What runs inside the page is written here as well.
      globals: globals(`${browser} ${rooms} process Buffer axe`),
    },
    rules: { ...rules, 'max-lines': 'off' },
  },
];
