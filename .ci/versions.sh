#!/usr/bin/env bash
# Does it run on every Python it says, with the lowest and the newest versions of what it needs?
#
#     .ci/versions.sh [PYTHON...]      python3.11 to python3.14, as many as this machine has, when none is named
#
# Each Python gets an environment of its own in a folder that goes at the end; the first also one with the lowest
# versions that pyproject.toml declares. TESTS says which tests are run there; those named below go once through
# everything a version can break: engine, workers, callers, files, pictures, report. Needs the network.
set -euo pipefail
cd "$(dirname "$0")/.."
TESTS=${TESTS:-tests/test_callers.py tests/test_engine_pool.py tests/test_engine_session.py tests/test_engine_cluster.py
    tests/test_cli.py tests/test_pictures.py tests/test_check.py tests/test_regress_command.py}
folder=$(mktemp -d "${TMPDIR:-/tmp}/coldiron-versions-XXXXXX")
trap 'rm -rf "$folder"' EXIT
status=0

try() { # name python resolution [pytest options]
    local name=$1 python=$2 resolution=$3 environment=$folder/$1
    shift 3
    printf '== %s: %s, %s versions\n' "$name" "$("$python" -V)" "$resolution"
    # shellcheck disable=SC2086  # TESTS is a list of words
    if "$folder/uv/bin/uv" venv -q --python "$python" "$environment" &&
        "$folder/uv/bin/uv" pip install -q --python "$environment" --resolution "$resolution" -e '.[dev]' &&
        "$environment/bin/python" -m pytest -q -n 2 -p no:cacheprovider -m "not slow and not packaging" "$@" $TESTS; then
        printf '== %s: passed\n' "$name"
    else
        printf '== %s: FAILED\n' "$name"
        status=1
    fi
}

pythons=()
for name in "${@:-python3.11}" $([ $# -gt 0 ] || echo python3.12 python3.13 python3.14); do
    if "$name" -c '' 2>/dev/null; then pythons+=("$name"); else printf '== %s: not on this machine\n' "$name"; fi
done
[ ${#pythons[@]} -gt 0 ] || { echo "no Python to try" >&2 && exit 2; }
"${pythons[0]}" -m venv "$folder/uv"
"$folder/uv/bin/pip" install -q --disable-pip-version-check uv
# What an old library warns of in a newer one is no matter of ours.
try "${pythons[0]}-lowest" "${pythons[0]}" lowest-direct \
    -W ignore::DeprecationWarning -W ignore::hypothesis.errors.HypothesisWarning \
    --deselect "tests/test_callers.py::test_a_study_runs_from[warnings are errors]"
for python in "${pythons[@]}"; do try "$python" "$python" highest; done
exit $status
