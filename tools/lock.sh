#!/usr/bin/env bash
# Write requirements/*.txt from requirements/*.in: every package with the hashes of all its public files, no addresses.
set -euo pipefail
cd "$(dirname "$0")/../requirements"
if ! command -v uv > /dev/null; then
    echo "Locking needs uv on the PATH: pip install uv." >&2
    exit 1
fi
# The machine's own package folders and settings must not leak into a lock that serves every machine.
unset "${!UV_@}" "${!PIP_@}"
for name in run dev fuzz; do
    constraint=()
    [ "$name" = dev ] && constraint=(--constraint run.txt)
    uv pip compile "$name.in" --output-file "$name.txt" --universal --python-version 3.11 --generate-hashes \
        --no-config --no-header --no-emit-index-url --no-emit-find-links --no-annotate --quiet "${constraint[@]}" "$@"
done
if grep -nE 'https?:|--index-url|--extra-index-url|--find-links|file:' run.txt dev.txt fuzz.txt; then
    echo "A lock names an address (above); it must hold only names, versions and hashes." >&2
    exit 1
fi
