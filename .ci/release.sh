#!/bin/sh
# Make this tree a release: sh .ci/release.sh VERSION [DATE]
#
# Gives what stands under "Unreleased" in the changelog its version and date, and sets the version in pyproject.toml and
# CITATION.cff. Nothing is committed or tagged: look at the diff, commit, then: git tag -a vVERSION -m "Coldiron VERSION"
set -eu
cd "$(dirname "$0")/.."
[ $# -ge 1 ] || { echo "usage: sh .ci/release.sh VERSION [YYYY-MM-DD]" >&2 && exit 2; }
exec "${PYTHON:-python3}" - "$1" "${2:-$(date +%Y-%m-%d)}" <<'PYTHON'
import re
import sys
from pathlib import Path

version, date = sys.argv[1:]


def refuse(why):
    sys.exit(f"coldiron release: {why}")


if not re.fullmatch(r"\d+\.\d+\.\d+", version):
    refuse(f"{version} is no version such as 0.2.0")
if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", date):
    refuse(f"{date} is no date such as 2026-11-25")
changes = Path("CHANGELOG.md")
text = changes.read_text(encoding="utf-8")
if f"\n## {version} " in text:
    refuse(f"the changelog has {version} already")
notes = text.partition("\n## Unreleased\n")[2].partition("\n## ")[0]
if not notes.strip():
    refuse('nothing stands under "## Unreleased" in the changelog')
written = {changes: text.replace("\n## Unreleased\n", f"\n## Unreleased\n\n## {version} - {date}\n", 1)}
for name, pattern, line in (
    ("pyproject.toml", r'^version = ".*"$', f'version = "{version}"'),
    ("runner/docs/CITATION.cff", r"^version: .*$", f"version: {version}"),
):
    was = Path(name).read_text(encoding="utf-8")
    now, count = re.subn(pattern, line, was, count=1, flags=re.MULTILINE)
    if count != 1:
        refuse(f"{name} has no version")
    written[Path(name)] = now
cited = Path("runner/docs/CITATION.cff")
kept = re.sub(r"^date-released: .*\n", "", written[cited], flags=re.MULTILINE)
written[cited] = kept.replace(f"version: {version}\n", f"version: {version}\ndate-released: {date}\n", 1)
for path, content in written.items():
    path.write_text(content, encoding="utf-8")
print(f"coldiron release: this tree is {version}; commit it, then: git tag -a v{version} -m 'Coldiron {version}'")
PYTHON
