#!/usr/bin/env bash
# The test command: format, lints, all tests, documentation, exchange files against independent readers, and the report
# page in a real browser. Needs Rust; installs the rest it needs (Debian packages, a Python environment, npm packages).
set -euo pipefail
cd "$(dirname "$0")/.."
export CARGO_TERM_COLOR=${CARGO_TERM_COLOR:-never}

step() { printf '\n== %s\n' "$*"; }

step "tools"
wanted=()
command -v pdftotext >/dev/null || wanted+=(poppler-utils)
command -v chromium >/dev/null || wanted+=(chromium)
command -v node >/dev/null && command -v npm >/dev/null || wanted+=(nodejs npm)
python3 -c 'import venv, ensurepip' 2>/dev/null || wanted+=(python3 python3-venv)
if [ ${#wanted[@]} -gt 0 ]; then
  sudo=$([ "$(id -u)" = 0 ] || echo sudo)
  $sudo apt-get update -qq
  DEBIAN_FRONTEND=noninteractive $sudo apt-get install -y -qq --no-install-recommends "${wanted[@]}" >/dev/null
fi
# A second browser, where the system has it (Debian's package; others name it otherwise): without it that walk is left out.
if ! command -v firefox-esr >/dev/null && ! command -v firefox >/dev/null; then
  sudo=$([ "$(id -u)" = 0 ] || echo sudo)
  DEBIAN_FRONTEND=noninteractive $sudo apt-get install -y -qq --no-install-recommends firefox-esr >/dev/null 2>&1 || true
fi
target=${CARGO_TARGET_DIR:-target}
mkdir -p "$target"
target=$(cd "$target" && pwd)
venv=$target/test-venv
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/pip" install --quiet --disable-pip-version-check -r tests/exchange/requirements.txt
"$venv/bin/pip" install --quiet --disable-pip-version-check --no-deps -r tests/exchange/requirements-schemas.txt
(cd tests/browser && npm ci --silent --no-audit --no-fund)

step "format"
cargo fmt --all --check
(cd tests/browser && npm run -s check-format)

step "dependencies"
python3 tests/dependencies.py

step "lints"
cargo clippy --workspace --all-targets --locked -- -D warnings
(cd tests/browser && npm run -s lint && npm run -s types)

step "tests"
cargo test --workspace --locked

step "documentation"
RUSTDOCFLAGS="-D warnings" cargo doc --workspace --no-deps --locked --quiet

# The tests above have built the program and the examples; running them from where they lie avoids a second build
# with another set of features.
step "exchange files against independent readers"
noonfall=$target/debug/noonfall
demo=$target/demo-report
outputs=$target/command-outputs
rm -rf "$demo" "$outputs"
mkdir -p "$outputs"
"$noonfall" rank data/demo/plan.toml --out "$demo" --quiet --format csv >/dev/null
# One file for each command and format; eclipses that are awkward: across a pole, across the date line, hybrid, annular, one limit, partial.
for date in 2028-07-22 2021-12-04 2023-04-20 2026-02-17 2043-04-09; do
  for format in json csv geojson kml; do
    "$noonfall" trace "$date" --every 120 --quiet --format "$format" >"$outputs/trace-$date.$format"
  done
done
"$noonfall" list --from 2020 --to 2050 --quiet --format json >"$outputs/list.json"
"$noonfall" list --from 2020 --to 2050 --quiet --format csv >"$outputs/list.csv"
for place in "-44.67 167.93" "-15.4869 128.1243" "51.5 0.0"; do
  read -r lat lon <<<"$place"
  for format in json ics; do
    "$noonfall" at 2028-07-22 --lat "$lat" --lon "$lon" --quiet --format "$format" >"$outputs/at-$lat.$format"
  done
done
"$noonfall" at 2028-07-22 --sites data/demo/sites.csv --clouds data/demo/clouds.csv --quiet --format csv >"$outputs/at-sites.csv"
archives=tests/reference/clouds/archives
"$noonfall" clouds "$archives/store.zip" --quiet --format json >"$outputs/clouds-held.json"
"$noonfall" clouds "$archives/layers.nc" --near=-25.3,141.1 --date 2028-07-13 --quiet --format json \
  --out "$outputs/clouds-near.csv" --out "$outputs/clouds-odds.svg" --out "$outputs/clouds-odds.png" >"$outputs/clouds-layers.json"
"$noonfall" clouds "$archives/monthly.nc" --near=-27,144 --quiet --format csv >"$outputs/clouds-months.csv"
"$venv/bin/python" tests/exchange/made_ground.py "$target/made-ground"
"$noonfall" sunlit 2026-08-12 --terrain "$target/made-ground" --area=-3.6,41.2,-3.1,41.55 --around 10 --out "$outputs/sunlit.tif" --quiet \
  --format json >"$outputs/sunlit.json"
"$noonfall" plan new 2027-08-02 >"$outputs/plan-new.toml"
cp data/demo/plan.toml "$outputs/plan-demo.toml"
"$venv/bin/python" tests/exchange/validate.py "$demo" "$outputs" "$target/tmp/exchange-samples" "$target/tmp/brief-samples"

step "candidates written by other programs"
"$venv/bin/python" tests/exchange/candidates.py "$noonfall" "$target/candidates"

step "cloud archives of random layouts against plain tables"
"$venv/bin/python" tests/exchange/archives.py "$noonfall" "$target/random-archives"

step "every OFF and ON in every output against the one decision"
awkward=$target/awkward-places
"$venv/bin/python" tests/exchange/windows.py "$noonfall" "$awkward" "$demo"

step "report page in a browser"
pages=$target/report-pages
rm -rf "$pages"
"$target/debug/examples/report_pages" "$pages"
REPORT_PAGES=$pages WINDOW_REPORTS=$awkward node tests/browser/run.mjs "$demo/report.html"
node tests/browser/firefox.mjs "$demo/report.html"
