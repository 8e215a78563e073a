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

# Two more judges of the page: axe-core (accessibility) and the Nu HTML checker (needs Java). They
# are kept in a hidden folder that git ignores, in versions that change only by a commit.
axe=axe-core@4.14.1 nu=vnu-jar@26.9.27
if ! command -v java >/dev/null && [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
    { apt-get update -qq && apt-get install -y -qq --no-install-recommends default-jre-headless; } >/dev/null 2>&1 || true
fi
if [ "$(cat .page-checkers/versions 2>/dev/null)" != "$axe $nu" ] && command -v npm >/dev/null; then
    mkdir -p .page-checkers
    if npm install --prefix .page-checkers --no-save --no-audit --no-fund --silent "$axe" "$nu"; then
        echo "$axe $nu" >.page-checkers/versions
    fi
fi
if [ "$(cat .page-checkers/versions 2>/dev/null)" != "$axe $nu" ] || ! command -v java >/dev/null; then
    echo "No npm or no Java on this machine: tests/browser/test_page_checkers.py is left out."
    browser_choice+=(--ignore=tests/browser/test_page_checkers.py)
fi

.venv/bin/ruff check .
.venv/bin/ruff format --check .
.venv/bin/mypy
exec .venv/bin/python -m pytest "${browser_choice[@]}" "$@"
