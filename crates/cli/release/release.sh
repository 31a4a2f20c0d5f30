#!/usr/bin/env bash
# Makes what is handed out: the program, manual pages, completions, licences of all that is in it, a bill of materials (CycloneDX)
# and SHA-256 sums. The same commit, compiler and target give the same bytes.
#
#     bash crates/cli/release/release.sh [TARGET [OUT]]
#
# TARGET is one of those below (default: this machine's); OUT is a folder (default: target/release-files).
# Needs Rust with the target's standard library (`rustup target add TARGET`), Python 3.11 and GNU tar.
#
#     x86_64-unknown-linux-musl    static; needs no linker but the compiler's own (rust-lld)
#     aarch64-unknown-linux-musl   static; the same
#     x86_64-unknown-linux-gnu     static against glibc, where the musl target cannot be had
#     x86_64-pc-windows-msvc       on Windows with the Visual Studio build tools, from Git Bash; C runtime linked in
#     aarch64-apple-darwin         on macOS with the Xcode command-line tools (`brew install gnu-tar`)
#     x86_64-apple-darwin          the same
set -euo pipefail
cd "$(dirname "$0")/../../.."
top=$(pwd)
host=$(rustc --version --verbose | sed -n 's/^host: //p')
target=${1:-$host}
out=${2:-${CARGO_TARGET_DIR:-target}/release-files}
here=crates/cli/release
version=$(sed -n '/^\[workspace.package\]/,/^\[/s/^version = "\(.*\)"/\1/p' Cargo.toml)
name=noonfall-$version-$target
suffix=
flags=()
case $target in
  *-linux-musl) flags=(-Ctarget-feature=+crt-static -Clink-self-contained=yes -Clinker=rust-lld) ;;
  *-linux-gnu) flags=(-Ctarget-feature=+crt-static) ;;
  *-windows-msvc) flags=(-Ctarget-feature=+crt-static) suffix=.exe ;;
  *-apple-darwin) ;;
  *) echo "release.sh knows no recipe for $target; see its head" >&2; exit 2 ;;
esac
# The instant of the commit stands in for the clock; no path of this machine stays in the program.
SOURCE_DATE_EPOCH=${SOURCE_DATE_EPOCH:-$(git log -1 --format=%ct)}
export SOURCE_DATE_EPOCH LC_ALL=C CARGO_INCREMENTAL=0
flags+=("--remap-path-prefix=$top=noonfall" "--remap-path-prefix=${CARGO_HOME:-$HOME/.cargo}=cargo")
CARGO_ENCODED_RUSTFLAGS=$(IFS=$'\x1f' && printf '%s' "${flags[*]}") \
  cargo build --release --locked --package noonfall --target "$target"
program=${CARGO_TARGET_DIR:-target}/$target/release/noonfall$suffix

# Pages and completions are the same for every target; where the program cannot run here, the one for this machine prints them.
runs=$program
if ! "$program" --version >/dev/null 2>&1; then
  cargo build --release --locked --package noonfall
  runs=${CARGO_TARGET_DIR:-target}/release/noonfall
fi

folder=$out/$name
rm -rf "$folder"
mkdir -p "$folder/completions"
cp "$program" "$folder/noonfall$suffix"
cp crates/cli/README.md LICENSE-MIT LICENSE-APACHE "$folder/"
"$runs" manual "$folder/man"
for shell in bash elvish fish powershell zsh; do
  "$runs" completions "$shell" >"$folder/completions/noonfall.$shell"
done
python3 "$here/papers.py" "$target" "$version" "$folder/noonfall$suffix" "$folder/LICENCES.txt" "$folder/noonfall.cdx.json"

tar=tar
command -v gtar >/dev/null && tar=gtar
"$tar" --sort=name --mtime="@$SOURCE_DATE_EPOCH" --owner=0 --group=0 --numeric-owner --mode=u=rwX,go=rX \
  --format=ustar -C "$out" -cf - "$name" | gzip -9 -n >"$out/$name.tar.gz"
sums() { if command -v sha256sum >/dev/null; then sha256sum "$@"; else shasum -a 256 "$@"; fi; }
(cd "$out" && sums "$name.tar.gz" "$name/noonfall$suffix" "$name/noonfall.cdx.json" >"$name.sha256")
cat "$out/$name.sha256"
