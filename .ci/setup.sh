#!/bin/sh
# Install what is missing, and say nothing when nothing is: sh .ci/setup.sh [docs | develop | test | bench]
#
# Makes .venv with the package, and Debian's ngspice library: what the demo needs. `docs` adds what builds the pages,
# `develop` the developers' tools, `test` also the programs that only tests run, `bench` the one that the benchmark
# measures against. Asks no network when all is there. Exit status 2 and one line when it cannot.
set -u
cd "$(dirname "$0")/.." || exit 2

# One line each: a program that tests run, then the Debian package that brings it.
TEST_PROGRAMS="
ngspice ngspice
chromium chromium
chromedriver chromium-driver
"
PYTHON=${PYTHON:-python3}
VENV=.venv
STAMP=$VENV/set-up

fail() {
    echo "coldiron set-up: $*" >&2
    exit 2
}

# One set-up at a time: a second waits, and so does one that follows a pip left behind by a killed first.
if command -v flock >/dev/null 2>&1; then
    exec 9<pyproject.toml
    flock -n 9 || { echo "coldiron set-up: waiting for the one that is under way" && flock 9; }
fi

# --- Python ------------------------------------------------------------------------------------

command -v "$PYTHON" >/dev/null 2>&1 ||
    fail "no $PYTHON here: install Python 3.11 or newer (on Debian: apt-get install python3), then run again"
"$PYTHON" -c 'import sys; sys.exit(sys.version_info < (3, 11))' ||
    fail "$PYTHON is $("$PYTHON" -V 2>&1), but 3.11 or newer is needed: name one, such as: make PYTHON=python3.12"
# In an activated environment `python3` is that environment's own: go behind it to the one that made it.
PYTHON=$("$PYTHON" -c 'import os, sys; print(os.path.realpath(getattr(sys, "_base_executable", sys.executable)))')

# What a finished .venv was built from: which Python and at which place; for which dependencies; with which extra.
wanted=$("$PYTHON" -c '
import hashlib, os, sys
print(sys.version.split()[0], sys.executable, os.getcwd())
print(hashlib.sha256(open("pyproject.toml", "rb").read()).hexdigest())')
built=$(cat $STAMP 2>/dev/null)
case ${1:-} in
develop | test | bench) extra=dev ;;
docs) extra=docs ;;
*) extra=none ;;
esac
# What is there already stays: a demo after the tests takes nothing away, and dev has all that docs has.
case "${built##*
} $extra" in
"dev "* | "docs none") extra=${built##*
} ;;
esac
wanted="$wanted
$extra"
[ -x $VENV/bin/python ] || built=

# --- Debian's packages -------------------------------------------------------------------------

missing=
# The loader itself is asked, for the names that the engine tries: a library of one's own counts too.
opens() { "$PYTHON" -c 'import ctypes, sys; ctypes.CDLL(sys.argv[1])' "$1" 2>/dev/null; }
[ -n "${NGSPICE_LIBRARY_PATH:-}" ] || opens libngspice.so.0 || opens libngspice.so || opens libngspice.dylib ||
    missing="$missing libngspice0"
# Debian ships Python without the part that puts pip into a virtual environment.
[ -n "$built" ] || "$PYTHON" -c 'import ensurepip' 2>/dev/null ||
    missing="$missing $("$PYTHON" -c 'import sys; print("python%d.%d-venv" % sys.version_info[:2])')"
[ "${1:-}" != bench ] || command -v ngspice >/dev/null 2>&1 || missing="$missing ngspice"
if [ "${1:-}" = test ]; then
    while read -r program package; do
        [ -z "$program" ] || command -v "$program" >/dev/null 2>&1 || missing="$missing $package"
    done <<LIST
$TEST_PROGRAMS
LIST
fi

if [ -n "$missing" ]; then
    command -v apt-get >/dev/null 2>&1 ||
        fail "missing$missing (Debian's names), and no apt-get here: install them your system's way, then run again"
    if [ "$(id -u)" = 0 ]; then
        as_root=env
    elif sudo -n true 2>/dev/null; then
        as_root="sudo -n env"
    else
        fail "missing$missing, and no right to install: have 'apt-get install$missing' run as root, then run again"
    fi
    echo "coldiron set-up: installing$missing"
    # A new machine has no package lists, and may be busy for minutes with its own first upgrade. A list
    # that cannot be fetched does not matter when the packages are to be had all the same.
    $as_root apt-get -qq update
    # shellcheck disable=SC2086  # $missing and $as_root are lists of words
    $as_root DEBIAN_FRONTEND=noninteractive apt-get -qq -o DPkg::Lock::Timeout=300 \
        install --yes --no-install-recommends $missing </dev/null >/dev/null ||
        fail "apt-get did not install$missing (its words are above): put that right, then run again"
fi

# --- the virtual environment -------------------------------------------------------------------

[ "$built" = "$wanted" ] && exit 0
echo "coldiron set-up: building $VENV (minutes the first time)"
rm -f $STAMP
# With no stamp, or one of another Python or place, half a package could pass for a whole one: start from nothing.
[ "${built%%
*}" = "${wanted%%
*}" ] || "$PYTHON" -m venv --clear $VENV || fail "$PYTHON could not make $VENV (its words are above)"
[ $extra = none ] && package=. || package=".[$extra]"
$VENV/bin/python -m pip install -qq --disable-pip-version-check --editable "$package" ||
    fail "pip did not install the package (its words are above): put that right, then run again"
# Last, and in one step: a set-up that was stopped before this line is done anew by the next.
printf '%s\n' "$wanted" >$STAMP.new && mv $STAMP.new $STAMP
