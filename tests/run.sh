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
command -v node >/dev/null || wanted+=(nodejs npm)
command -v python3 >/dev/null || wanted+=(python3 python3-venv)
if [ ${#wanted[@]} -gt 0 ]; then
  sudo=$([ "$(id -u)" = 0 ] || echo sudo)
  $sudo apt-get update -qq
  DEBIAN_FRONTEND=noninteractive $sudo apt-get install -y -qq --no-install-recommends "${wanted[@]}" >/dev/null
fi
target=${CARGO_TARGET_DIR:-target}
mkdir -p "$target"
venv=$target/test-venv
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/pip" install --quiet --disable-pip-version-check -r tests/exchange/requirements.txt
"$venv/bin/pip" install --quiet --disable-pip-version-check --no-deps -r tests/exchange/requirements-schemas.txt
(cd tests/browser && npm ci --silent --no-audit --no-fund)

step "format"
cargo fmt --all --check

step "lints"
cargo clippy --workspace --all-targets --locked -- -D warnings

step "tests"
cargo test --workspace --locked

step "documentation"
RUSTDOCFLAGS="-D warnings" cargo doc --workspace --no-deps --locked --quiet

step "exchange files against independent readers"
demo=$target/demo-report
rm -rf "$demo"
cargo run --locked --quiet -- rank data/demo/plan.toml --out "$demo" --quiet --format csv >/dev/null
"$venv/bin/python" tests/exchange/validate.py "$demo" "$target/tmp/exchange-samples" "$target/tmp/brief-samples"

step "report page in a browser"
node tests/browser/run.mjs "$demo/report.html"
