"""`coldiron fit`: unknown values of a lamp from its bench readings."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from rich import box
from rich.console import Console
from rich.table import Table

from coldiron.cli.arguments import CAUTION
from coldiron.cli.console import Screen
from coldiron.engine.local_pool import shared_pool
from coldiron.errors import FileProblems, Problem, WorkerLost
from coldiron.fit import meter
from coldiron.fit.contradictions import contradictions
from coldiron.fit.free import default_keys, free_values
from coldiron.fit.solve import Fit, FitWork, run_fit
from coldiron.fit.write import new_path, write_fitted
from coldiron.lamp.load import load_lamp
from coldiron.lamp.toml_file import find_file
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp
from coldiron.sweep.worker import start_worker
from coldiron.tables.files import check_writable
from coldiron.wording import one_of, printable

PIPED_WIDTH = 160
FAR_TOLERANCES = 3.0
"""A reading that is further off is no matter of a meter: the model, or the reading, is wrong."""
NAMED_SHARE_PCT = 5.0
"""A held value that brings in less of every fitted one's uncertainty has no row."""


def main(args: argparse.Namespace) -> int:
    """Hold the readings against each other, fit, print, and write the new lamp file."""
    file = find_file(args.lamp, "lamps")
    lamp = load_lamp(file)
    if not isinstance(lamp, LinearSinksLamp):
        expected = "linear sinks: fit knows the laws of no other topology yet"
        raise FileProblems([Problem(str(file), "topology", lamp.topology, expected)])
    if not lamp.reading:
        raise FileProblems([Problem(str(file), "reading", "missing", "at least one [[reading]] to fit to")])
    free = free_values(lamp, args.free or default_keys(lamp))
    if not free:
        expected = "values to fit: all that these readings tell are measured; name some with --free"
        raise FileProblems([Problem(str(file), "", "", expected)])
    path = new_path(file, args.out)
    check_writable(path)
    console = Screen(
        markup=False, highlight=False, emoji=False, width=None if sys.stdout.isatty() else PIPED_WIDTH
    )
    against = contradictions(lamp)
    for one in against:
        console.print(f"{'suspected' if one.held else 'contradiction'}: {one}")
    if any(not one.held for one in against) and not args.anyway:
        expected = "readings that can all be true: correct or remove one, or fit all the same with --anyway"
        raise FileProblems([Problem(str(file), "reading", "", expected)])
    found = run_in_worker(FitWork(lamp, tuple(free)), args.deadline)
    if not found.fitted:
        keys, where = [free_key.key for free_key in free], "--free" if args.free else str(file)
        raise FileProblems([Problem(where, "", ", ".join(keys), _tellable(lamp, args.free))])
    print_fit(console, lamp, found)
    far = [n for n, miss in enumerate(found.residuals) if abs(miss) > FAR_TOLERANCES]
    for n in far:
        off = f"{meter.name_of(lamp.reading[n])} is {abs(found.residuals[n]):.0f} tolerances off"
        console.print(f"THE MODEL DOES NOT FOLLOW A READING: {off} at the best values", style="bold red")
    if far and not args.anyway:
        console.print("nothing written: look for the suspect above, or keep the values with --anyway")
    else:
        write_fitted(file, [*found.fitted, *found.moved], path)
        console.print(f"file: {printable(str(path))}")
    console.print(CAUTION, style="bold")
    return 1 if far else 0


def _tellable(lamp: LinearSinksLamp, free: Sequence[str] | None) -> str:
    """What to name in place of values that no reading tells."""
    others = [key for key in default_keys(lamp) if key not in (free or ())]
    if others:
        return f"at least one value that these readings tell, such as {one_of(others)}"
    return "at least one value that these readings tell: take more of them"


def run_in_worker(work: FitWork, deadline_s: float) -> Fit:
    """Run a fit in a worker process, killed at a deadline."""
    try:
        return shared_pool(1, start_worker).submit(run_fit, work, deadline_s).result()
    except WorkerLost as loss:
        raise WorkerLost("the fit gave no answer", loss.why) from None


def print_fit(console: Console, lamp: LinearSinksLamp, found: Fit) -> None:
    """Print values, what each reading brought, and what cannot be told."""
    if found.fitted:
        console.print(values_table(found))
    console.print(readings_table(lamp, found))
    moved = {value.free.key for value in found.moved}
    for one in found.not_identifiable:
        said = str(one)
        if one.held in moved:
            said = said.replace("left as it is", "moved no further than it may be off anyway")
        console.print(f"not identifiable from these readings: {said}")
    for value in found.fitted:
        if value.at_limit:
            ends = f"{value.free.text(value.free.least)} to {value.free.text(value.free.most)}"
            console.print(f"{value.free.key} ends at a bound of its search ({ends}): do not trust it")
    off = [n for n, miss in enumerate(found.residuals) if abs(miss) > 1.0]
    if off:
        names = ", ".join(meter.name_of(lamp.reading[n]) for n in off)
        console.print(f"outside its meter tolerance even so: {names}")
    for suspect in found.suspects:
        console.print(f"suspect: {suspect}")
    console.print(
        f"± holds for all values together in some 95 % of fits: tolerances are taken as limits, and what is "
        f"held as typical, given or of a data sheet as uncertain; {found.simulations} simulations, "
        f"{found.seconds:.1f} s"
    )


def values_table(found: Fit) -> Table:
    """One row a fitted value, then one for each held one that had to move for the readings to go together."""
    table = Table(title="fitted values", title_justify="left", box=box.HORIZONTALS, pad_edge=False)
    table.add_column("value")
    for heading in ("file", "fitted", "±", "± %"):
        table.add_column(heading, justify="right")
    table.add_column("was")
    for one in (*found.fitted, *found.moved):
        share = 100.0 * one.plus_minus / abs(one.value)
        texts = one.free.text(one.free.start), one.free.text(one.value), one.free.text(one.plus_minus, 2)
        was = f"{one.free.provenance}{', moved with the rest' if one in found.moved else ''}"
        table.add_row(one.free.key, *texts, f"{share:.2g}", was)
    return table


def readings_table(lamp: LinearSinksLamp, found: Fit) -> Table:
    """One row a reading: what the meter and the model say, and how much each fitted value leans on it."""
    table = Table(
        title="readings (right: what each brings into a value's uncertainty, %)",
        title_justify="left",
        box=box.HORIZONTALS,
        pad_edge=False,
    )
    table.add_column("reading")
    for heading in ("meter", "tolerance", "file's model", "fitted model", "off by\ntolerances"):
        table.add_column(heading, justify="right")
    for value in found.fitted:
        table.add_column(value.free.key.replace(".", ".\n"), justify="right")
    for n, reading in enumerate(lamp.reading):
        shown = (reading.value, meter.tolerance(reading), found.before[n], found.after[n])
        shares = [f"{value.shares[n]:.0f}" for value in found.fitted]
        texts = [meter.value_text(reading, v) for v in shown]
        table.add_row(meter.name_of(reading), *texts, f"{found.residuals[n]:+.2f}", *shares)
    every = [dict(value.held_shares) for value in found.fitted]
    for key in dict.fromkeys(key for shares in every for key in shares):
        if max(shares.get(key, 0.0) for shares in every) >= NAMED_SHARE_PCT:
            shares_of = [f"{shares.get(key, 0.0):.0f}" for shares in every]
            table.add_row(f"held: {key}", "", "", "", "", "", *shares_of, style="dim")
    return table
