#!/bin/sh
# Runs a browser test where its tools are there; says what is missing otherwise (TAP). usage: run.sh WITMARK [TEST [ARGUMENT...]]
folder=$(dirname "$0")
skip() { echo "1..0 # SKIP $1"; exit 0; }
command -v node >/dev/null 2>&1 || skip "no node: apt install nodejs"
[ "$(node -p 'process.versions.node.split(".")[0]')" -ge 18 ] || skip "node is older than 18"
[ -x "${CHROMIUM:=/usr/bin/chromium}" ] || skip "no chromium: apt install chromium, or name one in CHROMIUM"
[ -d "$folder/node_modules/playwright-core" ] || skip "no playwright-core: run npm ci in tests/page"
export CHROMIUM
program=$1
test=${2:-page_test}
shift
[ $# -eq 0 ] || shift
exec node "$folder/$test.mjs" "$program" "$@"
