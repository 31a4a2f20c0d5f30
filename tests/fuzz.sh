#!/usr/bin/env bash
# Damaged files for one reader, or for all of them in turn, under a limit of memory; no case may take longer than 10 s.
#
#   bash tests/fuzz.sh TARGET SECONDS [SEED]     one target; without arguments the targets are listed
#   bash tests/fuzz.sh all SECONDS [SEED]        each for so long
#
# What ends a case badly is kept under fuzz/corpus/TARGET, and every later run and the tests read it again. Status 0: nothing found.
set -euo pipefail
cd "$(dirname "$0")/.."
# Not the release build: this one checks every sum for overflow.
cargo build --quiet --locked --workspace --example fuzz
fuzz=${CARGO_TARGET_DIR:-target}/debug/examples/fuzz
[ $# -ge 2 ] || exec "$fuzz" list
targets=$1
[ "$targets" != all ] || targets=$("$fuzz" list | tail -n +2)
status=0
for target in $targets; do
    # 1 GiB of address space: the embedded tables, threads and a case's file take about a third of it.
    (ulimit -v $((1 << 20)); exec "$fuzz" "$target" "$2" "${3:-1}") || {
        echo "$target: ended with status $? (77: a case took longer than 10 s; 134 or 139: memory or stack)" >&2
        for left in "${TMPDIR:-/tmp}/noonfall-fuzz-$target-"*/; do
            if [ -d "$left" ]; then echo "  the file: $left" >&2; fi
        done
        status=1
    }
done
exit $status
