"""`coldiron diagnose`: what broke, from what a person read and saw on a lamp."""

from __future__ import annotations

import argparse
import shutil
import sys
from pathlib import Path

from coldiron.cli.arguments import CAUTION
from coldiron.cli.running import CaseRunner
from coldiron.diagnosis.findings import FLAGS, entries_of, findings, mains_of, read_file
from coldiron.diagnosis.rank import rank
from coldiron.diagnosis.signatures import signatures
from coldiron.diagnosis.words import lines
from coldiron.lamp.load import load_lamp
from coldiron.tables.columns import wrapped

PIPED_WIDTH = 100


def main(args: argparse.Namespace) -> int:
    """Rank the end states of a lamp by what was found, and print them."""
    lamp = load_lamp(args.lamp)
    entered, symptoms, discoloured = read_file(Path(args.findings)) if args.findings else ([], [], "")
    entered += entries_of({flag: getattr(args, flag.replace("-", "_")) for flag in FLAGS})
    symptoms += args.symptom or []
    file = args.findings or "diagnose"
    found = findings(lamp, entered, symptoms, args.discoloured or discoloured, file=file)
    with CaseRunner(args) as runner:
        runner.say("running end states")
        of = signatures(lamp, mains_of(lamp, found), lambda cases: [one.result for one in runner(cases)])
    width = shutil.get_terminal_size((PIPED_WIDTH, 24)).columns
    for line in [*lines(rank(of, found), width), *wrapped(CAUTION, width)]:
        sys.stdout.write(f"{line}\n")
    return 0
