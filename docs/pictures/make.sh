#!/bin/sh
# Makes the README's pictures: the first sheet of the report on robots/rook, and a walk of it.
# Needs chromium, and pdftoppm from poppler-utils. Run from the top of the repository.
set -eu
robot=${1:-robots/rook}
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
.venv/bin/legwright check "$robot" --report "$work" || true
chromium --headless --no-sandbox --disable-gpu --disable-quic --no-first-run \
  --disable-background-networking --disable-component-update --disable-sync \
  --user-data-dir="$work/browser" --no-pdf-header-footer \
  --print-to-pdf="$work/report.pdf" "file://$work/report.html" >/dev/null 2>&1
pdftoppm -r 130 -f 1 -l 1 -singlefile -png "$work/report.pdf" "$here/$(basename "$robot")-verdict"
echo "$here/$(basename "$robot")-verdict.png"
.venv/bin/legwright walk "$robot" --ground steps --gait ripple --speed 0.08 --distance 1.5 \
  --seed 0 --no-blind --out "$work/walk" || true
cp "$work/walk/strip.png" "$here/$(basename "$robot")-walk.png"
echo "$here/$(basename "$robot")-walk.png"
