#!/bin/sh
# Fetches the vendored scripts again and checks them. Needs npm and sha256sum; run from anywhere.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work"
npm pack --silent @panzoom/panzoom@4.6.2 >/dev/null
tar xzf ./*.tgz
cp package/dist/panzoom.min.js "$here/panzoom/panzoom.min.js"
cp package/MIT-License.txt "$here/panzoom/LICENSE.txt"
cd "$here"
sha256sum --check --quiet SHA256SUMS
