#!/usr/bin/env bash
# What the browser tests take from the package registry: the accessibility checker. It is fetched once, by name and version, and
# held against its checksum, into .venv, which git does not look at.
set -euo pipefail
cd "$(dirname "$0")/.."
name=axe-core
version=4.11.0
sum=8a561a9c453cbf1c417b1a4977c716338125490ab841cb422ca8a1d1349f8c87c24137b21ffeb356b98825f2cfaca4ca2516e21be71f9d96d02230252661758d
place=.venv/browser/$name-$version
[ -f "$place/axe.min.js" ] && exit 0
command -v npm > /dev/null || {
    echo "The accessibility checks need npm, which is not here." >&2
    exit 1
}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
(cd "$work" && npm pack --silent "$name@$version" > /dev/null)
if ! echo "$sum  $work/$name-$version.tgz" | sha512sum --check --status; then
    echo "What the registry gave for $name $version does not have the checksum that it must have; it was not unpacked." >&2
    exit 1
fi
mkdir -p "$place"
tar -xzf "$work/$name-$version.tgz" -C "$work" package/axe.min.js package/LICENSE
mv "$work/package/LICENSE" "$place/"
mv "$work/package/axe.min.js" "$place/"
