"""The words of every command, described without importing what the commands need."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final, NoReturn

CAUTION = (
    "Mains can kill. Everything inside such a lamp is at mains potential, and a reservoir stays charged "
    "after unplugging. No reading is a safety certificate: local codes and licensed practice decide."
)


EXAMPLES: Final[Mapping[str, str]] = {
    "check": "coldiron check kerbside-flood --defaults",
    "study": 'coldiron study kerbside-rework --variant "22 µF" --bench steady --bench surge',
    "spread": 'coldiron spread kerbside-rework --variant "22 µF and 10 Ω" --runs 100',
    "advise": "coldiron advise kerbside-parts --stages",
    "faults": "coldiron faults kerbside-flood --fault 'varistor short' --mains '+10 %'",
    "fit": "coldiron fit corridor-panel --out fitted.toml",
    "diagnose": 'coldiron diagnose pantry-bulb --watts "4.8 W" --volts bus=127 --symptom dim',
    "deck": 'coldiron deck kerbside-rework --variant "no varistor" --bench surge > deck.cir',
    "waves": 'coldiron waves kerbside-rework --bench surge --against "no varistor" --to surge.svg',
    "explore": "coldiron explore kerbside-flood",
    "lesson": "coldiron lesson a-surge-arrives --to lesson.html",
    "regress": "coldiron regress kerbside-rework --accept",
    "store": "coldiron store",
    "completion": 'eval "$(coldiron completion bash)"',
}
"""One line to copy, under the help of each command."""


class _Version(argparse.Action):
    """Print the versions of this program and of what computes, and be done."""

    def __init__(self, option_strings: Sequence[str], dest: str, **words: Any) -> None:
        super().__init__(option_strings, dest, nargs=0, **words)

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> NoReturn:
        """Say it in one line."""
        import platform
        from importlib.metadata import version

        system = f"Python {platform.python_version()}, {platform.system()} {platform.machine()}"
        print(f"coldiron {version('coldiron')} ({system})")  # noqa: T201  parser.exit would use standard error
        parser.exit()


def parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    top = argparse.ArgumentParser(
        prog="coldiron",
        description="What would this change do to this lamp, before the soldering iron is hot?",
        epilog=CAUTION,
    )
    top.add_argument("--version", action=_Version, help="say which version this is")
    commands = top.add_subparsers(dest="command", metavar="command", required=True)

    def command(name: str, what: str) -> argparse.ArgumentParser:
        return commands.add_parser(
            name,
            help=what,
            description=f"{what[:1].upper()}{what[1:]}.",
            epilog=f"example:\n  {EXAMPLES[name]}",
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )

    _check(command("check", "print back what a lamp or study file says, and what is typical"))
    _study(command("study", "run every variant of a study and compare them; alone: list what is shipped"))
    _spread(command("spread", "say what tolerances do, which assumption decides, what it takes to pass"))
    _advise(command("advise", "choose parts of a catalogue for a lamp, and say why not the others"))
    _faults(command("faults", "follow single faults of a lamp to their ends: what opens, burns, stays live"))
    _fit(command("fit", "find a lamp's unknown values from its bench readings"))
    _diagnose(command("diagnose", "rank what may be broken in a lamp by what was read and seen on it"))
    _deck(command("deck", "print the deck of one variant on one bench"))
    _waves(command("waves", "draw one case, or two over each other, or write its vectors"))
    _explore(command("explore", "open a page on this machine: move a value, see ngspice answer"))
    _lesson(command("lesson", "list the lessons; run one and write it as a page or a notebook"))
    _regress(command("regress", "compare a study with its committed reference"))
    _store(command("store", "say where results and finished cases lie, and how large they are"))
    _completion(command("completion", "print what a shell evaluates to complete commands and options"))
    return top


def commands_of(top: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """Every command of a command line and its own parser, in the order of the help."""
    [group] = [action for action in top._actions if isinstance(action, argparse._SubParsersAction)]
    return dict(group.choices)


def alone_help(top: argparse.ArgumentParser, words: Sequence[str]) -> str:
    """Help of a command that was called alone and needs more words; empty for any other call."""
    if not words:
        return top.format_help()
    command = commands_of(top).get(words[0]) if len(words) == 1 else None
    needs = command is not None and any(
        not action.option_strings and action.nargs != "?" for action in command._actions
    )
    return command.format_help() if command is not None and needs else ""


def _check(command: argparse.ArgumentParser) -> None:
    command.add_argument("file", nargs="?", help="lamp or study file, or the name of a shipped one")
    command.add_argument(
        "--defaults", action="store_true", help="show typical values that the lamp file leaves out too"
    )
    command.add_argument("--keys", action="store_true", help="list every key of lamp and study files")


def _study_words(command: argparse.ArgumentParser) -> None:
    command.add_argument("study", help="study file, or the name of a shipped study")


def _study(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "study",
        nargs="?",
        help="study file, or the name of a shipped one; or a lamp: what a technician would weigh for it",
    )
    command.add_argument("--variant", action="append", metavar="NAME", help="only this variant (repeatable)")
    command.add_argument("--bench", action="append", metavar="NAME", help="only this bench (repeatable)")
    command.add_argument(
        "--about",
        action="append",
        metavar="NAME",
        help="say in a sentence what this variant does (repeatable)",
    )
    command.add_argument("--changes", action="store_true", help="compare each variant with the lamp as found")
    command.add_argument(
        "--limits", action="store_true", help="list the limits broken, and those that do not apply"
    )
    _running_words(command)
    command.add_argument("--no-pictures", action="store_true", help="leave the pictures and the report out")


def _advise(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "study",
        help="study file with an [advise] table, or the name of a shipped one; or a lamp: its usual parts",
    )
    command.add_argument(
        "--spread",
        type=_count,
        metavar="RUNS",
        help="of each candidate shown draw so many lamps of its tolerances (20 to 256)",
    )
    command.add_argument("--stages", action="store_true", help="say what each stage looked at and threw out")
    command.add_argument("--no-pictures", action="store_true", help="leave the pictures and the report out")
    _running_words(command)


def _faults(command: argparse.ArgumentParser) -> None:
    command.add_argument("lamp", help="lamp or study file, or the name of a shipped one")
    command.add_argument(
        "--fault",
        action="append",
        metavar="NAME",
        help="only this fault, all of this part, or some at once joined by ' + ' (repeatable)",
    )
    command.add_argument(
        "--mains", action="append", metavar="VOLTS", help="on this mains, such as '+10 %%' (repeatable)"
    )
    command.add_argument("--variant", action="append", metavar="NAME", help="only this variant (repeatable)")
    command.add_argument("--all", action="store_true", help="every fault, with what to mind about it")
    command.add_argument(
        "--bridged", action="store_true", help="how many LEDs may be bridged, with closed forms"
    )
    command.add_argument("--lines", action="store_true", help="list the public lines that ends are judged by")
    _running_words(command)
    command.add_argument("--no-pictures", action="store_true", help="leave the pictures out")


def _running_words(command: argparse.ArgumentParser) -> None:
    command.add_argument("--workers", type=_count, metavar="N", help="worker processes (default: all cores)")
    _folder_words(command)
    command.add_argument(
        "--deadline",
        type=_above_zero,
        default=60.0,
        metavar="S",
        help="longest time for one case (default: 60 s)",
    )
    command.add_argument(
        "--store-limit",
        type=_above_zero,
        default=2.0,
        metavar="GB",
        help="size of the store above which its oldest cases go (default: 2 GB)",
    )
    command.add_argument(
        "--cluster", metavar="ADDRESS", help="run on the workers of the Dask scheduler at this address"
    )
    command.add_argument("--fresh", action="store_true", help="compute all, whatever the store has")


def _folder_words(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--out",
        type=Path,
        default=Path("results"),
        metavar="DIR",
        help="folder for results (default: results)",
    )
    command.add_argument(
        "--store", type=Path, metavar="DIR", help="folder of finished cases (default: .store in --out)"
    )


def _store(command: argparse.ArgumentParser) -> None:
    _folder_words(command)
    command.add_argument("--clear", action="store_true", help="remove the finished cases; results stay")


def _completion(command: argparse.ArgumentParser) -> None:
    command.add_argument("shell", choices=("bash", "zsh", "fish"), help="which shell")


def _regress(command: argparse.ArgumentParser) -> None:
    _study_words(command)
    command.add_argument(
        "--accept", action="store_true", help="write what the study gives now as the new reference"
    )
    command.add_argument(
        "--strict", action="store_true", help="fail on any limit that is over, though it was over before"
    )
    command.add_argument(
        "--reference",
        type=Path,
        default=Path("results/reference"),
        metavar="DIR",
        help="folder of the references (default: results/reference)",
    )
    _running_words(command)


def _spread(command: argparse.ArgumentParser) -> None:
    _study_words(command)
    command.add_argument(
        "--variant",
        action="append",
        metavar="NAME",
        help="this variant (repeatable; default: as found, and whom the answer names)",
    )
    command.add_argument("--bench", action="append", metavar="NAME", help="only this bench (repeatable)")
    command.add_argument(
        "--sobol",
        action="store_true",
        help="add Sobol indices of the headline readings: some 4000 runs more a bench",
    )
    command.add_argument(
        "--runs", type=_lamps, metavar="N", help="lamps to draw (default: what the study says, else 300)"
    )
    _running_words(command)


def _explore(command: argparse.ArgumentParser) -> None:
    command.add_argument("file", help="lamp or study file, or the name of a shipped one")
    command.add_argument(
        "--port", type=_port, default=0, metavar="N", help="port on 127.0.0.1 (default: one that is free)"
    )
    command.add_argument("--workers", type=_count, metavar="N", help="worker processes (default: all cores)")
    command.add_argument(
        "--store",
        type=Path,
        default=Path("results/.store"),
        metavar="DIR",
        help="folder of finished cases (default: results/.store)",
    )


def _lesson(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "lesson", nargs="?", help="a shipped lesson, or a file of yours (default: list them)"
    )
    command.add_argument(
        "--to",
        type=Path,
        metavar="FILE",
        help="a file that ends in .html or .ipynb (default: results/lessons/NAME.html)",
    )
    command.add_argument("--workers", type=_count, metavar="N", help="worker processes (default: all cores)")


def _fit(command: argparse.ArgumentParser) -> None:
    command.add_argument("lamp", help="lamp file with bench readings, or the name of a shipped lamp")
    command.add_argument(
        "--free",
        nargs="+",
        metavar="KEY",
        help="values that may change, such as sinks.sense_resistor (default: what the readings can tell)",
    )
    command.add_argument(
        "--out", type=Path, metavar="FILE", help="new lamp file (default: LAMP.fitted.toml beside it)"
    )
    command.add_argument(
        "--anyway", action="store_true", help="fit, and keep the values, although readings cannot all be true"
    )
    command.add_argument(
        "--deadline", type=_above_zero, default=300.0, metavar="S", help="longest time (default: 300 s)"
    )


def _diagnose(command: argparse.ArgumentParser) -> None:
    command.add_argument("lamp", help="lamp file, or the name of a shipped lamp")
    command.add_argument("findings", nargs="?", help="TOML file of readings and symptoms")
    for flag, metavar, words in (
        ("watts", "W", "input power, by a meter in the plug"),
        ("amperes", "A", "input current, r.m.s., by the same"),
        ("mains", "V", "mains voltage as read"),
    ):
        command.add_argument(f"--{flag}", metavar=metavar, help=words)
    for flag, metavar, words in (
        ("volts", "POINT=V", "mean voltage of a point against minus, live (repeatable)"),
        ("ohms", "PART=OHM", "resistance of a part, or between two points as bus-minus=470k, unplugged"),
        ("farads", "PART=F", "capacitance of a part, one leg lifted"),
        ("led-volts", "PART=V", "voltage of a string on a tester of 1 mA"),
        ("diode-volts", "P-Q=V", "diode test from one point to another"),
        ("symptom", "WORD", "what it does: dark, dim, half dark, flickers, blinks slowly, hums ..."),
    ):
        command.add_argument(f"--{flag}", action="append", metavar=metavar, help=words)
    command.add_argument("--discoloured", metavar="PART", help="a part that is burnt, brown or swollen")
    _running_words(command)


def _deck(command: argparse.ArgumentParser) -> None:
    _study_words(command)
    command.add_argument("--variant", default="as found", metavar="NAME", help="default: as found")
    command.add_argument("--bench", default="steady", metavar="NAME", help="default: steady")
    command.add_argument("--label", metavar="NAME", help="one deck of a chain, such as 'before' of a surge")


def _waves(command: argparse.ArgumentParser) -> None:
    _study_words(command)
    command.add_argument("--variant", default="as found", metavar="NAME", help="default: as found")
    command.add_argument("--against", metavar="NAME", help="a second variant, laid over the first")
    command.add_argument("--bench", default="steady", metavar="NAME", help="default: steady")
    command.add_argument(
        "--all-angles", action="store_true", help="a surge at every angle and polarity, not only the worst"
    )
    command.add_argument("--label", metavar="NAME", help="one run of a chain, such as 'before' of a surge")
    command.add_argument(
        "--conditions", metavar="NAME", help='such as "253 V 50 Hz" (default: the first of the study)'
    )
    command.add_argument(
        "--to",
        type=Path,
        default=Path("window"),
        metavar="FILE",
        help="a file that ends in .svg, .pdf, .png, .csv or .parquet (default: a window)",
    )
    _running_words(command)


def _count(text: str) -> int:
    number = int(text)
    if not 1 <= number <= 256:
        raise argparse.ArgumentTypeError("expected a number from 1 to 256")
    return number


def _lamps(text: str) -> int:
    number = int(text)
    if not 20 <= number <= 100_000:
        raise argparse.ArgumentTypeError("expected a number from 20 to 100000")
    return number


def _port(text: str) -> int:
    number = int(text)
    if not (number == 0 or 1024 <= number <= 65535):
        raise argparse.ArgumentTypeError("expected a port from 1024 to 65535, or 0 for one that is free")
    return number


def _above_zero(text: str) -> float:
    number = float(text)
    if not 0 < number < 1e6:
        raise argparse.ArgumentTypeError("expected a number above zero")
    return number
