"""Pages that nobody writes: made from the parser, the catalogue, the limits, the models and the docstrings.

Sphinx calls `setup` when it starts; the pages go to `generated/`, which version control ignores. A new
command, reading, limit, part or bench is on its page without a line here; a new room of models is one row of
`ROOMS`.
"""

from __future__ import annotations

import argparse
import inspect
import math
import pkgutil
import re
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import coldiron
from coldiron.cli.arguments import commands_of, parser
from coldiron.limits.rules import shipped_limits
from coldiron.readings.catalogue import CATALOGUE

if TYPE_CHECKING:
    from sphinx.application import Sphinx

ROOT = Path(__file__).resolve().parents[2]

ROOMS: Final = {
    "parts": (
        "Parts",
        "What each kind of part is in the deck: its law, its source, where it is valid.",
        False,
    ),
    "benches": ("Benches", "What each experiment does, in which order of decks, and what it reads.", False),
    "heat": ("Heat", "Where the watts go: network, equilibrium, warm-up, convection, life.", True),
    "readings": (
        "Readings",
        "Pure functions of waveforms: what each reading is and by which standard.",
        True,
    ),
    "answer": ("The answer", "How variants are ranked and what is said of them.", False),
    "fit": ("Fitting", "How unknown values are found from readings, and with which doubt.", False),
    "faults": ("Faults", "What follows when one part breaks.", False),
    "diagnosis": ("Diagnosis", "From readings on a broken lamp to what may be broken.", False),
    "live": ("The live page", "What the page of explore asks of the engine, and who may ask.", False),
    "lessons": ("Lessons", "What they ask, and what the engine answers.", False),
    "spread": ("Spread", "Tolerances, and which assumption decides.", False),
    "advice": ("Advice", "Which change would do, and with which parts.", False),
}
"""Rooms whose models have a page: title, what it is about, and whether each public function is shown."""


EXIT_STATUS: Final = """\
Exit status: 0 done; 1 a reading moved or a limit broke (`regress`), or a reading is far off (`fit`); 2 a file
or the installation is wrong; 3 some cases gave no answer; 130 interrupted, 143 ended, 129 hung up.
"""
OF_READINGS: Final = """\
An id's last word is its unit. *Worse* says which way a reading is worse; *moves* is what counts as a move for
`coldiron regress`: the larger of the two. What bench steady reads cold, bench heat reads warm.
"""
OF_LIMITS: Final = """\
*Verified*: the value was read in a public text. *From memory*: it was not, and every verdict on it says so.
Ratings of parts come from the lamp file. A study replaces a limit by its id ([how](../how-to/study.md)).
"""


def pages() -> Iterator[tuple[str, str]]:
    """Names and texts of all generated pages."""
    yield "commands", "\n".join(commands_page())
    yield "keys", (ROOT / "variants" / "KEYS.md").read_text(encoding="utf-8")
    yield "readings", "\n".join(readings_page())
    yield "limits", "\n".join(limits_page())
    yield "api", "\n".join(api_page())
    yield "changelog", (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    yield "measured", _without_title((ROOT / "results" / "validation.md").read_text(encoding="utf-8"))
    for title, text in sections((ROOT / "README.md").read_text(encoding="utf-8")):
        yield f"how-to-{re.sub(r'[^a-z]+', '-', title.lower()).strip('-')}", f"# {title}\n{text}"
    for room in _rooms():
        yield f"models-{room}", "\n".join(room_page(room))
    yield (
        "models",
        "\n".join(
            f"- [{ROOMS[room][0]}](../generated/models-{room}.md): {ROOMS[room][1]}" for room in _rooms()
        ),
    )


def sections(readme: str) -> Iterator[tuple[str, str]]:
    """Sections of the third level of README: each is the how-to of one command, and a page here too."""
    for piece in re.split(r"^### ", readme, flags=re.MULTILINE)[1:]:
        title, _, text = re.split(r"^## ", piece, flags=re.MULTILINE)[0].partition("\n")
        for link, page in (("variants/KEYS.md", "keys.md"), ("results/", "../"), ("runner/docs/", "../")):
            text = text.replace(f"]({link}", f"]({page}")
        yield title, text


def _rooms() -> list[str]:
    return [room for room in ROOMS if (ROOT / "runner" / "coldiron" / room).is_dir()]


def _without_title(text: str) -> str:
    return re.sub(r"\A# .*\n", "", text)


# --- the command line -----------------------------------------------------------------------------


def commands_page() -> Iterator[str]:
    """Every command with its options and an example, from the parser itself."""
    yield "# Commands\n"
    yield EXIT_STATUS
    for name, command in commands_of(parser()).items():
        yield f"## coldiron {name}\n"
        yield f"{command.description}\n"
        yield f"```text\n{(command.epilog or '').removeprefix('example:').strip()}\n```\n"
        yield from _table(("word", "what it does"), (_action_row(action) for action in command._actions))


def _action_row(action: argparse.Action) -> tuple[str, str]:
    words = ", ".join(action.option_strings) or action.dest
    value = (
        "" if action.nargs == 0 or not action.option_strings else f" {action.metavar or action.dest.upper()}"
    )
    return f"`{words}{value}`", action.help or ""


# --- readings and limits --------------------------------------------------------------------------


def readings_page() -> Iterator[str]:
    """Every reading of the catalogue, bench by bench."""
    yield "# Readings\n"
    yield OF_READINGS
    benches = list(dict.fromkeys(bench for kind in CATALOGUE.values() for bench in kind.benches))
    for bench in benches:
        yield f"## {bench}\n"
        # The harmonics are one row: they differ by their order alone.
        rows = {
            re.sub(r"harmonic_\d+_", "harmonic_N_", kind.reading): (
                re.sub(r"harmonic \d+ ", "harmonic N (2 to 40) ", kind.what), kind.unit, _worse(kind.worse),
                _moves(kind),
            )
            for kind in CATALOGUE.values()
            if kind.benches and kind.benches[0] == bench
        }  # fmt: skip
        yield from _table(
            ("id", "what it is", "unit", "worse", "moves"),
            ((f"`{reading}`", *cells) for reading, cells in rows.items()),
        )


def _worse(way: str) -> str:
    return {"up": "higher", "down": "lower"}.get(way, "")


def _moves(kind: Any) -> str:
    if kind.is_word:
        return "another word"
    if kind.held_by:
        return f"with `{kind.held_by}`"
    amount = f" or {kind.absolute:g} {kind.unit}".rstrip() if kind.absolute else ""
    return f"{100 * kind.relative_ratio:g} %{amount}"


def limits_page() -> Iterator[str]:
    """Every limit with its source, edition and how well it is known."""
    yield "# Limits and their sources\n"
    yield OF_LIMITS
    for source in dict.fromkeys(limit.source for limit in shipped_limits()):
        own = [limit for limit in shipped_limits() if limit.source == source]
        yield f"## {source}\n"
        yield f"A limit of {_GROUPS[own[0].group]}, held on bench {own[0].bench}.\n"
        rows = {}
        for limit in own:
            bound = f"{'at least' if limit.least else 'at most'} {limit.value:g}"
            per = f" ({limit.row.per})" if limit.row.per else ""
            reading = f"`{limit.row.reading}`" + (" for each order" if limit.row.orders else "")
            rows[limit.id] = (
                f"`{limit.id}`", limit.row.what, reading, bound + per, _scope(limit.row), limit.clause,
                limit.provenance,
            )  # fmt: skip
        yield from _table(
            ("id", "what", "reading", "limit", "where it applies", "clause", "known"), rows.values()
        )


_GROUPS: Final = {
    "law": "a regulation, or of a standard that one calls upon",
    "practice": "recommended practice",
    "shock": "what a person may touch",
}


def _scope(row: Any) -> str:
    said = []
    for key, words, unit in (
        ("power_above_w", "above", "W"),
        ("power_from_w", "from", "W"),
        ("power_up_to_w", "up to", "W"),
        ("mains_from_v", "mains from", "V"),
        ("mains_below_v", "mains below", "V"),
        ("light_from_hz", "light from", "Hz"),
        ("light_below_hz", "light below", "Hz"),
    ):
        value = getattr(row, key)
        if value and math.isfinite(value):
            said.append(f"{words} {value:g} {unit}")
    if row.capacitance_above_f:
        said.append(f"bus above {1e6 * row.capacitance_above_f:g} µF")
    said += [" or ".join(values) for values in (row.use, row.connection) if values]
    if row.portable is not None:
        said.append("moved while plugged in" if row.portable else "with a fixed place")
    if row.alternative:
        said.append(f"alternative {row.alternative}")
    return ", ".join(said)


# --- docstrings -----------------------------------------------------------------------------------


def api_page() -> Iterator[str]:
    """Every public name of the package, by its docstring."""
    yield "# Python API\n"
    yield "```{eval-rst}\n.. automodule:: coldiron\n   :no-members:\n```\n"
    for name in coldiron.__all__:
        one = getattr(coldiron, name)
        how = "autofunction" if inspect.isfunction(one) else "autoclass"
        members = "" if how == "autofunction" or issubclass(one, Exception) else "\n   :members:"
        yield f"## {name}\n"
        yield f"```{{eval-rst}}\n.. {how}:: {one.__module__}.{name}{members}\n```\n"


def room_page(room: str) -> Iterator[str]:
    """What the modules of a room say of themselves."""
    title, about, functions = ROOMS[room]
    yield f"# {title}\n"
    yield f"{about}\n"
    package = import_module(f"coldiron.{room}")
    for module in sorted(pkgutil.iter_modules(package.__path__), key=lambda module: module.name):
        doc = inspect.getdoc(import_module(f"coldiron.{room}.{module.name}")) or ""
        yield f"## {module.name.replace('_', ' ')}\n"
        members = "\n   :members:" if functions else "\n   :no-members:"
        if doc:
            yield f"```{{eval-rst}}\n.. automodule:: coldiron.{room}.{module.name}{members}\n```\n"


def _table(headings: tuple[str, ...], rows: Any) -> Iterator[str]:
    yield f"| {' | '.join(headings)} |"
    yield f"| {' | '.join('---' for _ in headings)} |"
    for row in rows:
        yield f"| {' | '.join(str(cell).replace('|', chr(92) + '|') for cell in row)} |"
    yield ""


def write_pages(folder: Path) -> list[Path]:
    """Write all generated pages into a folder; one whose text is the same is left as it is."""
    folder.mkdir(exist_ok=True)
    written = []
    for name, text in pages():
        path = folder / f"{name}.md"
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")
        written.append(path)
    for stray in set(folder.glob("*.md")) - set(written):
        stray.unlink()
    return written


def readable(app: Sphinx, what: str, name: str, obj: object, options: object, lines: list[str]) -> None:
    """Let a docstring be read as it was written: laws stand in blocks, and a bar is the bar of an amount."""
    del app, name, obj, options
    shown: list[str] = []
    item = ""
    for number, line in enumerate(lines):
        block = what == "module" and line.startswith(("    ", "|"))
        if block and not lines[number - 1].strip():
            shown += ["::", ""]
        if block:
            shown.append(f"    {line}" if line.startswith("|") else line)
            continue
        # A list goes on to its next item or an empty line, wherever its lines begin.
        begins = re.match(r"(?:\d+\.|-) ", line)
        item = " " * len(begins[0]) if begins else item if line.strip() else ""
        goes_on = bool(item) and not begins and not line.startswith(" ")
        shown.append((item if goes_on else "") + line.replace("|", "\\|"))
    lines[:] = shown


def setup(app: Sphinx) -> dict[str, Any]:
    """Make the pages before Sphinx looks for them."""
    write_pages(Path(app.srcdir) / "generated")
    app.connect("autodoc-process-docstring", readable, priority=900)
    return {"version": "1", "parallel_read_safe": True}
