"""`coldiron check`: print back what a lamp or study file says, draw it, and tell what is typical."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator

from rich.console import Console
from rich.table import Table
from rich.text import Text

from coldiron.cli.arguments import commands_of, parser
from coldiron.cli.console import Screen
from coldiron.errors import FileProblems
from coldiron.lamp.body import READING_SCALES
from coldiron.lamp.describe import absent, facts, key_label, lines, part_label
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.load import lamp_from
from coldiron.lamp.toml_file import find_file, read_toml
from coldiron.parts.ladder import ladder
from coldiron.quantities import CELSIUS, DEGREE, HERTZ, RATIO, VOLT
from coldiron.study.load import study_from
from coldiron.study.model import Study, Variant

TYPICAL_MARK = "?"
PIPED_WIDTH = 160
_STUDY_KEYS = frozenset({"lamp", "aim", "benches", "conditions", "limits", "variant", "grid"})


def main(args: argparse.Namespace) -> int:
    """Check the file that the command line names, or list what a file may hold."""
    if args.keys:
        from coldiron.cli.keys import print_keys

        return print_keys()
    if args.file is None:
        commands_of(parser())["check"].print_help()
        return FileProblems.exit_status
    return check(args.file, defaults=args.defaults)


def check(path: str, *, defaults: bool = False) -> int:
    """Print what a file says, in a person's units; return 0.

    Parameters
    ----------
    path : str
        Lamp or study file, or the name of a shipped one.
    defaults : bool
        Whether typical values that the file leaves out are shown too.

    Raises
    ------
    FileProblems
        With everything that is wrong in the file, before anything is printed.
    """
    # Names and notes come from files: nothing in them is markup.
    console = Screen(
        markup=False, highlight=False, emoji=False, width=None if sys.stdout.isatty() else PIPED_WIDTH
    )
    file = find_file(path, "lamps", "studies")
    table = read_toml(file)
    if _STUDY_KEYS & table.keys():
        study = study_from(table, file)
        if study.limits.replace:
            # What judges a study knows the limits; it takes longer to load than the whole of a plain check.
            from coldiron.limits import check_replacements

            check_replacements(study)
        _print_study(console, study)
    else:
        _print_lamp(console, lamp_from(table, file), defaults=defaults)
    return 0


def _print_lamp(console: Console, lamp: Lamp, *, defaults: bool) -> None:
    _print_title(console, lamp.name, lamp.note)
    console.print(ladder(lamp.circuit, console.width), soft_wrap=True)
    console.print()
    every = list(lines(lamp))
    grid, shown = _columns("", "part", "what", "value", "provenance"), ""
    for line in every:
        if line.by_default and not defaults:
            continue
        if shown and line.part != shown:
            grid.add_row()
        is_typical = line.provenance == "typical"
        grid.add_row(
            TYPICAL_MARK if is_typical else "",
            Text(part_label(line.part) if line.part != shown else "", style="bold"),
            key_label(line.key),
            line.value,
            line.provenance_text,
            style="yellow" if is_typical else None,
        )
        shown = line.part
    console.print(grid)
    if missing := absent(lamp):
        console.print(f"\nnot fitted: {', '.join(missing)}")
    if lamp.reading:
        console.print("\nread on the real lamp", style="bold")
        console.print(_readings(lamp))
    console.print("\nwhat follows", style="bold")
    console.print(_pairs((fact.name, fact.value) for fact in facts(lamp)))
    left_out = sum(line.by_default for line in every)
    written = sum(line.provenance == "typical" for line in every) - left_out
    unsaid = sum(line.provenance == "given" for line in every)
    told = len(every) - left_out
    console.print(f"\n{told} values, {unsaid} of them given without saying from where")
    if written:
        console.print(f"{TYPICAL_MARK} {written} of them are typical ones of the trade, not of this lamp")
    how = "above, as typical" if defaults else "--defaults shows them"
    console.print(f"{TYPICAL_MARK} {left_out} more are typical, not given ({how})")


def _readings(lamp: Lamp) -> Table:
    table = _columns("what", "state", "value", "tolerance", "under")
    for reading in lamp.reading:
        tolerance = f"± {RATIO.format(reading.tolerance_ratio)}"
        if reading.tolerance_digits:
            tolerance += f" ± {reading.tolerance_digits:g} digits"
        under = [
            "" if reading.mains_voltage_v is None else f"mains {VOLT.format(reading.mains_voltage_v)}",
            "" if reading.ambient_c is None else f"ambient {CELSIUS.format(reading.ambient_c)}",
            reading.note,
        ]
        value = READING_SCALES[reading.what].unit.format(reading.value)
        table.add_row(
            reading.what, reading.state, value, tolerance, "; ".join(word for word in under if word)
        )
    return table


def _print_study(console: Console, study: Study) -> None:
    _print_title(console, study.name, study.note)
    console.print(_pairs(_study_facts(study)))
    console.print()
    table = _columns("", "variant", "changes of the lamp as found")
    for number, variant in enumerate(study.variants):
        changes = "; ".join(str(change) for change in variant.changes) or "nothing"
        table.add_row(str(number), variant.name, changes)
    console.print(table)
    for variant in study.variants:
        if _keeps_old_esr(study, variant):
            hint = 'keeps the ESR of the reservoir as found; write esr = "none" for a new capacitor'
            console.print(f"\n{variant.name}: {hint}")
    variants, supplies, benches = len(study.variants), len(study.conditions.mains), len(study.benches)
    product = f"{variants} variants × {supplies} supplies × {benches} benches"
    console.print(f"\n{variants * supplies * benches} cases: {product}", style="bold")


def _study_facts(study: Study) -> Iterator[tuple[str, str]]:
    lamp, conditions = study.lamp, study.conditions
    typical = sum(line.provenance == "typical" for line in lines(lamp))
    yield "lamp", f"{lamp.name} ({typical} of its values are typical ones)"
    yield "benches", ", ".join(study.benches)
    if study.aim.want:
        yield "aims", ", ".join(study.aim.want)
    for bound in study.aim.keep:
        yield "bound", str(bound)
    for supply in study.supplies(lamp):
        voltage, frequency = VOLT.format(supply.voltage_v), HERTZ.format(supply.frequency_hz)
        yield "mains", f"{supply.label}: {voltage}, {frequency}"
    yield "ambient", CELSIUS.format(conditions.ambient_c)
    if conditions.rooms_c:
        yield "rooms", ", ".join(CELSIUS.format(c) for c in sorted(conditions.rooms_c))
    if "surge" in study.benches:
        source = "by the lamp's power and kind" if conditions.surge_level_v is None else "by the study"
        angles = ", ".join(DEGREE.format(angle) for angle in conditions.surge_angle_deg)
        signs = " and ".join("+" if sign > 0 else "−" for sign in conditions.surge_polarity)
        level_v = study.surge_level_v(lamp)
        if level_v is None:
            yield "surge", "left out: no surge_level in the study, no [ratings] power in the lamp"
        else:
            yield "surge", f"{VOLT.format(level_v)} ({source}) at {angles}; {signs}"


def _keeps_old_esr(study: Study, variant: Variant) -> bool:
    """Tell whether a variant has another capacitance with a series resistance that belongs to the old one."""
    found = getattr(study.lamp, "reservoir", None)
    if found is None or (found.esr_ohm, found.esr_100khz_ohm) == (None, None):
        return False
    values = [change.values for change in variant.changes if change.part == "reservoir"]
    return any("capacitance" in value and "esr" not in value for value in values)


def _print_title(console: Console, name: str, note: str) -> None:
    console.print(name, style="bold underline")
    if note:
        console.print(note)
    console.print()


def _columns(*headings: str) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim")
    for heading in headings:
        table.add_column(heading)
    return table


def _pairs(pairs: Iterator[tuple[str, str]]) -> Table:
    table = Table(box=None, pad_edge=False, show_header=False)
    table.add_column(style="dim", no_wrap=True)
    table.add_column()
    for name, value in pairs:
        table.add_row(name, value)
    return table
