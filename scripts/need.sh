#!/bin/sh
# Bring the programs the tests use beside Python. Each argument is COMMAND:PACKAGE; what is there already is left alone.
set -eu

commands=""
packages=""
for pair in "$@"; do
    if ! command -v "${pair%%:*}" >/dev/null 2>&1; then
        commands="$commands ${pair%%:*}"
        packages="$packages ${pair#*:}"
    fi
done
[ -n "$packages" ] || exit 0

if ! command -v apt-get >/dev/null 2>&1; then
    echo "The tests also need:$commands. Install them with your system's package manager, then try again." >&2
    exit 1
fi
if [ "$(id -u)" -eq 0 ]; then
    as=""
elif command -v sudo >/dev/null 2>&1 && sudo -n true 2>/dev/null; then
    as="sudo -n"
else
    echo "The tests also need:$commands. Run this once, then try again: sudo apt-get install$packages" >&2
    exit 1
fi

echo "installing$packages"
$as env DEBIAN_FRONTEND=noninteractive apt-get update -q >/dev/null
# shellcheck disable=SC2086
$as env DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends $packages >/dev/null
