#!/usr/bin/env bash
# Measures the speed of engine and program and writes reports/benchmarks.md.
#
#     bash reports/measure.sh
#
# Run it on an idle machine: the page says how busy it was. Needs Rust and GNU time (installed if missing).
set -euo pipefail
cd "$(dirname "$0")/.."
export CARGO_TERM_COLOR=never
page=reports/benchmarks.md
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

if [ ! -x /usr/bin/time ]; then
  sudo=$([ "$(id -u)" = 0 ] || echo sudo)
  $sudo apt-get update -qq
  DEBIAN_FRONTEND=noninteractive $sudo apt-get install -y -qq --no-install-recommends time >/dev/null
fi

echo "== build" >&2
cargo build --release --locked
target=${CARGO_TARGET_DIR:-target}
cp "$target/release/noonfall" "$work/noonfall"
noonfall=$work/noonfall
cargo bench -p noonfall-shadow --locked --no-run

load=$(cut -d' ' -f1-3 /proc/loadavg)

# One whole process: best and median wall-clock time of so many runs, peak memory of the last. Prints a table row.
whole() { # label, target, runs, command…
  local label=$1 goal=$2 runs=$3 k
  shift 3
  "$@" >"$work/answer" 2>"$work/words" || { cat "$work/words" >&2; return 1; }
  for ((k = 0; k < runs; k++)); do
    local before=${EPOCHREALTIME/[.,]/}
    "$@" >"$work/answer" 2>"$work/words"
    echo $(( ${EPOCHREALTIME/[.,]/} - before ))
  done | sort -n >"$work/times"
  /usr/bin/time -f %M -o "$work/peak" "$@" >"$work/answer" 2>"$work/words"
  awk -v label="$label" -v goal="$goal" -v peak="$(tail -1 "$work/peak")" -v runs="$runs" '
    { t[NR] = $1 }
    END { printf "| %s | %.3f s | %.3f s | %d | %.0f MB | %s |\n", label, t[1] / 1e6, t[int((NR + 1) / 2)] / 1e6, runs, peak / 1024, goal }
  ' "$work/times"
}

# The demo's plan with a search of the whole path added: clouds and land mask on.
plan() { # spacing in km; prints the plan's path
  local folder=$work/plan-$1
  cp -r data/demo "$folder"
  # The search can weigh a column of the sites only if the plan says what a place without one is worth.
  sed -i '/^\[wish.drive_hours\]/a missing = 0.5' "$folder/plan.toml"
  printf '\n[search]\nspacing_km = %s\nbest = 10\n' "$1" >>"$folder/plan.toml"
  echo "$folder/plan.toml"
}
one_km=$(plan 1)
one_km_smooth=$work/smooth/plan.toml
cp -r "$(dirname "$one_km")" "$work/smooth"
printf '\n[moon]\nedge = "smooth"\n' >>"$one_km_smooth"
quarter_km=$(plan 0.25)

echo "== whole processes" >&2
{
  whole 'one place at the true edge: `noonfall at 2028-07-22 --lat -15.49 --lon 128.12 --format json`' '0.080 s' 21 \
    "$noonfall" at 2028-07-22 --lat -15.49 --lon 128.12 --format json
  # An answer in time that is the wrong one shows here.
  grep -q '"phase": "total"' "$work/answer"
  whole 'a century: `noonfall list --from 2001 --to 2100 --format csv`' '2 s' 5 \
    "$noonfall" list --from 2001 --to 2100 --format csv
  [ "$(wc -l <"$work/answer")" = 225 ]
  whole 'a path: `noonfall trace 2028-07-22 --format geojson`' 'none' 5 \
    "$noonfall" trace 2028-07-22 --format geojson
  whole 'a path with all curves: `noonfall trace 2028-07-22 --outline --isolines duration --isolines altitude --isolines obscuration --isolines time --format geojson`' 'none' 3 \
    "$noonfall" trace 2028-07-22 --outline --isolines duration --isolines altitude --isolines obscuration --isolines time --format geojson
  whole 'both true limits: `noonfall trace 2028-07-22 --edge true --format geojson`' 'none' 3 \
    "$noonfall" trace 2028-07-22 --edge true --format geojson
  grep -q true_north_limit "$work/answer"
  whole 'the path on a 1 km grid at the true edge, ranking only: `noonfall rank PLAN --format json`' '4 s, 300 MB' 3 \
    "$noonfall" rank "$one_km" --format json --quiet
  grep -q '"rank": 1' "$work/answer"
  whole 'the same with `[moon] edge = "smooth"`' '2 s, 300 MB' 3 \
    "$noonfall" rank "$one_km_smooth" --format json --quiet
  grep -q '"rank": 1' "$work/answer"
  whole 'the same with the report: `noonfall rank PLAN --out DIR`' 'none' 3 \
    "$noonfall" rank "$one_km" --out "$work/report" --format json --quiet
  whole 'the path on a 250 m grid, ranking only: `noonfall rank PLAN --format json`' '25 s, 500 MB' 1 \
    "$noonfall" rank "$quarter_km" --format json --quiet
  grep -q '"rank": 1' "$work/answer"
} >"$work/whole.md"

echo "== benches" >&2
cargo bench -p noonfall-shadow --locked --bench local_circumstances >"$work/local" 2>/dev/null
cargo bench -p noonfall-shadow --locked --bench path >"$work/path" 2>/dev/null
cargo bench -p noonfall-shadow --locked --bench catalogue >"$work/catalogue" 2>/dev/null
cargo bench -p noonfall-shadow --locked --bench moon_edge >"$work/edge" 2>/dev/null

{
  echo '# Speed'
  echo
  echo 'Made by `bash reports/measure.sh`. Release build; each run checks its answer beside the time.'
  echo
  echo "- machine: $(lscpu | sed -n 's/^Model name: *//p' | head -1), $(nproc) cores, $(awk '/MemTotal/ { printf "%.0f", $2 / 1048576 }' /proc/meminfo) GiB, vector instructions $(grep -o -w -m1 -E 'avx512f|avx2|sse2' /proc/cpuinfo | sort | head -1)"
  echo "- system: $(uname -sr), $(rustc --version)"
  echo "- revision: $(git describe --always --dirty)"
  echo "- load before the measurement (1, 5, 15 minutes; the build is in it): $load"
  echo
  echo '## Whole processes'
  echo
  echo 'From the start of the process to its end. PLAN is the demo plan with a `[search]` table added: clouds and land mask on.'
  echo
  echo '| what | best | median | runs | peak memory | target |'
  echo '| --- | ---: | ---: | ---: | ---: | --- |'
  cat "$work/whole.md"
  echo
  echo '## Places: `cargo bench -p noonfall-shadow --bench local_circumstances`'
  echo
  echo 'Full circumstances (C1 to C4 and maximum with the altitude and azimuth of the Sun at each, duration, magnitude) of a'
  echo 'million places in memory, on one and on two threads. Target: 5 million places a second on two cores.'
  echo
  echo '```text'
  grep -vE '^$|Timer|running|^test ' "$work/local"
  echo '```'
  echo
  echo "## Places at the Moon's true edge: \`cargo bench -p noonfall-shadow --bench moon_edge\`"
  echo
  echo 'One place with nothing known and again, its beads, and a hundred thousand places of the path on two threads once the'
  echo 'profiles of the lattice are there (`lattice_warm`). Target of that: 200 000 places a second on two cores.'
  echo
  echo '```text'
  grep -vE '^$|Timer|running|^test ' "$work/edge"
  echo '```'
  echo
  echo '## Paths: `cargo bench -p noonfall-shadow --bench path`'
  echo
  echo '```text'
  grep -vE '^$|Timer|running|^test ' "$work/path"
  echo '```'
  echo
  echo '## A century of eclipses: `cargo bench -p noonfall-shadow --bench catalogue`'
  echo
  echo 'On one and on two threads. Target: 2 s.'
  echo
  echo '```text'
  grep -vE '^$|Timer|running|^test ' "$work/catalogue"
  echo '```'
} >"$page"
echo "written: $page" >&2
