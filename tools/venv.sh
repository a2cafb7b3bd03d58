#!/usr/bin/env bash
# Make .venv hold what one lock names, and this package itself, editable. Usage: tools/venv.sh run|dev
set -euo pipefail
cd "$(dirname "$0")/.."
lock="requirements/$1.txt"
stop() {
    echo "$1" >&2
    exit 1
}
new_enough() { "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2> /dev/null; }
try_venv() { "$python" -m venv --clear .venv > /dev/null 2>&1; }

# A .venv that was moved, or whose Python is gone, does not answer: it is made anew.
if ! { new_enough .venv/bin/python && .venv/bin/python -m pip --version > /dev/null 2>&1; }; then
    python=""
    for candidate in ${PYTHON:-python3.11 python3}; do
        if new_enough "$candidate"; then
            python="$candidate"
            break
        fi
    done
    [ -n "$python" ] || stop "subbase needs Python 3.11 or newer, and neither python3.11 nor python3 here is: \
install one, or name yours with 'make PYTHON=/path/to/python3 ...'."
    if ! try_venv; then
        # Debian keeps what 'python3 -m venv' needs in a package of its own.
        package=$("$python" -c 'import sys; print("python3.%d-venv" % sys.version_info[1])')
        if [ "$(id -u)" = 0 ] && command -v apt-get > /dev/null; then
            echo "Installing $package, which $python needs to make a virtual environment."
            apt-get update -qq
            DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$package" > /dev/null
        fi
        if ! try_venv; then
            rm -rf .venv
            stop "$python cannot make a virtual environment. On Debian or Ubuntu this puts it right: \
sudo apt-get install $package"
        fi
    fi
fi
echo "Installing what $lock names into .venv."
.venv/bin/python -m pip install -qq --disable-pip-version-check --require-hashes --only-binary :all: -r "$lock"
.venv/bin/python -m pip install -qq --disable-pip-version-check --no-deps --no-index --no-build-isolation -e .
