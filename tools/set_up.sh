#!/bin/sh
# Make the environment $VENV from the lock file, with the package installed in place.
# uv is quick; where it cannot reach an index that pip can, pip does the same, slower.
set -eu

fail() {
    echo "$1" >&2
    exit 1
}

command -v "$PYTHON" >/dev/null 2>&1 ||
    fail "No $PYTHON was found: install Python 3.11 or later, or name it: make PYTHON=/path/to/python3"
"$PYTHON" -c 'import sys; sys.exit(sys.version_info < (3, 11))' ||
    fail "Python 3.11 or later is needed; $PYTHON is older: name another one: make PYTHON=python3.11"

echo "Setting up $VENV (once; about a minute)"
rm -f "$VENV/.ready" "$VENV/.bench"
if [ ! -x "$VENV/bin/python" ] || ! "$VENV/bin/python" -m pip --version >/dev/null 2>&1; then
    "$PYTHON" -m venv --clear "$VENV" >/dev/null 2>&1 ||
        fail "Python's venv module is missing: install it (on Debian: apt-get install python3-venv)"
fi
py="$VENV/bin/python"

by_uv() {
    "$py" -m pip install -q uv &&
        "$VENV/bin/uv" pip install -q --python "$py" -r requirements/dev.lock &&
        "$VENV/bin/uv" pip install -q --python "$py" --no-deps --reinstall-package levelbook -e .
}
by_pip() {
    echo "uv could not install the locked packages; trying pip" >&2
    "$py" -m pip install -q --require-hashes -r requirements/dev.lock &&
        "$py" -m pip install -q --no-deps -e .
}
# Without the npm registry the pages cannot be built; the commands work without them.
without_pages() {
    echo "Trying without the pages: all commands but 'levelbook serve' work" >&2
    LEVELBOOK_NO_PAGES=1 && export LEVELBOOK_NO_PAGES
    by_uv || by_pip
}
by_uv || by_pip || without_pages || fail "The locked packages could not be installed: is the package index reachable?"
