#!/usr/bin/env bash
# The programs outside Python that the tests check against: ngspice (circuits), poppler (what a PDF shows), PostgreSQL (the
# journal's other database), Chromium (every page, by hand and eye), nginx (in front of the app), npm (fetches the
# accessibility checker and the browser's Python), gcc (a disk that takes its time), the W3C's own definition of SVG 1.1.
set -euo pipefail
missing=()
command -v ngspice > /dev/null || missing+=(ngspice)
python3 -c 'import ctypes; ctypes.CDLL("libngspice.so.0")' 2> /dev/null || missing+=(libngspice0)
command -v pdftoppm > /dev/null || missing+=(poppler-utils)
echo '#include <dlfcn.h>' | gcc -E - > /dev/null 2>&1 || missing+=(gcc libc6-dev)
ls /usr/lib/postgresql/*/bin/initdb > /dev/null 2>&1 || missing+=(postgresql)
command -v chromium > /dev/null || missing+=(chromium)
command -v nginx > /dev/null || missing+=(nginx-light)
command -v npm > /dev/null || missing+=(npm)
[ -e /usr/share/xml/w3c-sgml-lib/schema/dtd/REC-SVG11-20110816/svg11.dtd ] || missing+=(w3c-sgml-lib)
[ ${#missing[@]} -gt 0 ] || exit 0
if [ "$(id -u)" = 0 ] && command -v apt-get > /dev/null; then
    echo "Installing for the tests: ${missing[*]}."
    apt-get update -qq
    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${missing[@]}" > /dev/null
else
    echo "The tests check against programs that are missing here. On Debian or Ubuntu this puts it right:" \
        "sudo apt-get install ${missing[*]}" >&2
    exit 1
fi
