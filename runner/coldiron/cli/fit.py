"""`coldiron fit`: unknown values of a lamp from its bench readings."""

from __future__ import annotations

import argparse
import sys

from rich import box
from rich.console import Console
from rich.table import Table

from coldiron.cli.arguments import CAUTION
from coldiron.engine.local_pool import shared_pool
from coldiron.errors import FileProblems, Problem, WorkerLost
from coldiron.fit import meter
from coldiron.fit.contradictions import contradictions
from coldiron.fit.free import default_keys, free_values
from coldiron.fit.solve import Fit, FitWork, run_fit
from coldiron.fit.write import new_path, write_fitted
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.load import load_lamp
from coldiron.lamp.toml_file import find_file
from coldiron.sweep.worker import start_worker
from coldiron.wording import printable

PIPED_WIDTH = 160


def main(args: argparse.Namespace) -> int:
    """Hold the readings against each other, fit, print, and write the new lamp file."""
    file = find_file(args.lamp, "lamps")
    lamp = load_lamp(file)
    if not lamp.reading:
        raise FileProblems([Problem(str(file), "reading", "missing", "at least one [[reading]] to fit to")])
    free = free_values(lamp, args.free or default_keys(lamp))
    if not free:
        expected = "values to fit: all that these readings tell are measured; name some with --free"
        raise FileProblems([Problem(str(file), "", "", expected)])
    path = new_path(file, args.out)
    console = Console(
        markup=False, highlight=False, emoji=False, width=None if sys.stdout.isatty() else PIPED_WIDTH
    )
    against = contradictions(lamp)
    for one in against:
        console.print(f"contradiction: {one}")
    if against and not args.anyway:
        expected = "readings that can all be true: correct or remove one, or fit all the same with --anyway"
        raise FileProblems([Problem(str(file), "reading", "", expected)])
    found = run_in_worker(FitWork(lamp, tuple(free)), args.deadline)
    print_fit(console, lamp, found)
    if found.fitted:
        write_fitted(file, found.fitted, path)
        console.print(f"file: {printable(str(path))}")
    else:
        console.print("nothing fitted, nothing written")
    console.print(CAUTION, style="bold")
    return 0


def run_in_worker(work: FitWork, deadline_s: float) -> Fit:
    """Run a fit in a worker process, killed at a deadline."""
    try:
        return shared_pool(1, start_worker).submit(run_fit, work, deadline_s).result()
    except WorkerLost as loss:
        raise WorkerLost("the fit gave no answer", loss.why) from None


def print_fit(console: Console, lamp: Lamp, found: Fit) -> None:
    """Print values, what each reading brought, and what cannot be told."""
    if found.fitted:
        console.print(values_table(found))
    console.print(readings_table(lamp, found))
    for one in found.untold:
        console.print(f"cannot be told: {one}")
    for value in found.fitted:
        if value.at_limit:
            ends = f"{value.free.text(value.free.least)} to {value.free.text(value.free.most)}"
            console.print(f"{value.free.key} ends at a bound of its search ({ends}): do not trust it")
    far = [n for n, miss in enumerate(found.residuals) if abs(miss) > 1.0]
    if far:
        names = ", ".join(meter.name_of(lamp.reading[n]) for n in far)
        console.print(f"outside its meter tolerance even so: {names}")
    console.print(
        f"± holds for all values together in some 95 % of fits, tolerances taken as limits; "
        f"{found.simulations} simulations, {found.seconds:.1f} s"
    )


def values_table(found: Fit) -> Table:
    """One row a fitted value."""
    table = Table(title="fitted values", title_justify="left", box=box.HORIZONTALS, pad_edge=False)
    table.add_column("value")
    for heading in ("file", "fitted", "±", "± %"):
        table.add_column(heading, justify="right")
    for one in found.fitted:
        share = 100.0 * one.plus_minus / abs(one.value)
        texts = one.free.text(one.free.start), one.free.text(one.value), one.free.text(one.plus_minus, 2)
        table.add_row(one.free.key, *texts, f"{share:.2g}")
    return table


def readings_table(lamp: Lamp, found: Fit) -> Table:
    """One row a reading: what the meter and the model say, and how much each fitted value leans on it."""
    table = Table(
        title="readings (right: share of each value's uncertainty that the reading brings in, %)",
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
    return table
