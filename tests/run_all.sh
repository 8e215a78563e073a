#!/usr/bin/env bash
# Sets up and runs every check, on a fresh machine or an old one: style, types, tests.
set -euo pipefail
cd "$(dirname "$0")/.."

if [ ! -x .venv/bin/python ]; then
    python3 -m venv .venv
fi
.venv/bin/python -m pip install --quiet --disable-pip-version-check --editable ".[dev]"

# The page is tested in a real browser. Debian's package is taken where we may install it.
find_browser() { command -v chromium || command -v chromium-browser || true; }
if [ -z "$(find_browser)" ] && [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
    { apt-get update -qq && apt-get install -y -qq --no-install-recommends chromium; } >/dev/null 2>&1 || true
fi
browser_choice=()
if [ -z "$(find_browser)" ]; then
    echo "No Chromium on this machine: tests/browser is left out. Install chromium to run it."
    browser_choice=(--ignore=tests/browser)
fi

.venv/bin/ruff check .
.venv/bin/ruff format --check .
.venv/bin/mypy
exec .venv/bin/python -m pytest "${browser_choice[@]}" "$@"
