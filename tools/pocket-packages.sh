#!/usr/bin/env bash
# What the pocket's tests take from the package registries: the browser's Python. It is fetched once, by name and version, and
# held against its checksum, into .venv, which git does not look at.
set -euo pipefail
cd "$(dirname "$0")/.."
.venv/bin/python -c '
import sys
from pathlib import Path
from subbase.errors import InputError
from subbase.web.pocket.fetch import fetch
try:
    fetch(Path(".venv/browser/pocket"))
except InputError as error:
    sys.exit(str(error))
'
