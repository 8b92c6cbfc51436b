"""A lamp file becomes a Lamp, or a list of everything that is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from coldiron.errors import FileProblems, Problem
from coldiron.lamp.further import further_parts
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.toml_file import find_file, read_toml
from coldiron.lamp.topologies import DEFAULT, TOPOLOGIES
from coldiron.lamp.understand import understand
from coldiron.parts.ladder import ladder
from coldiron.parts.placing import Misplaced
from coldiron.parts.soundness import unsound
from coldiron.wording import as_written, one_nearest, one_of, printable


def load_lamp(path_or_name: str | Path) -> Lamp:
    """Lamp described by a file, or a shipped lamp by its name.

    Parameters
    ----------
    path_or_name : str or Path
        A path, or the name of a shipped lamp such as "kerbside-flood".

    Raises
    ------
    FileProblems
        With every problem of the file.
    """
    path = find_file(path_or_name, "lamps")
    return lamp_from(read_toml(path), path)


def lamp_from(table: dict[str, Any], path: Path) -> Lamp:
    """Lamp described by the tables of a file at a path."""
    problems: list[Problem] = []
    file = printable(str(path))
    if isinstance(table.get("lamp"), str) and not table.keys() & {"mains", "string", "sinks"}:
        expected = f"a lamp; the study's own is {as_written(table['lamp'])}"
        raise FileProblems([Problem(file, "", "a study", expected)])
    topology = table.get("topology", DEFAULT)
    if not isinstance(topology, str) or topology not in TOPOLOGIES:
        nearest = one_nearest(str(topology), TOPOLOGIES)
        problems.append(Problem(file, "topology", as_written(topology), one_of(TOPOLOGIES), nearest))
        topology = DEFAULT
    own = {key: value for key, value in table.items() if key != "part"}
    lamp = understand(TOPOLOGIES[topology], own, str(path), problems)
    further = further_parts(table.get("part", {}), file, problems)
    if lamp is None or problems:
        raise FileProblems(problems)
    lamp = lamp.model_copy(update={"further": further})
    problems += circuit_problems(lamp, file, "part")
    if problems:
        raise FileProblems(problems)
    return lamp


def circuit_problems(
    lamp: Lamp, file: str, inside: str, places: Mapping[str, str] | None = None
) -> list[Problem]:
    """What is wrong with the circuit of a lamp, one problem each, with the circuit drawn as text.

    Parameters
    ----------
    lamp : Lamp
    file, inside : str
        File, and the dotted path of its further parts there.
    places : mapping, optional
        Dotted paths of parts that the file writes elsewhere.
    """
    paths = places or {}

    def path_of(name: str) -> str:
        known = any(name == further.name for further in lamp.further)
        return paths.get(name, f"{inside}.{name}" if known else name)

    try:
        circuit = lamp.circuit
    except Misplaced as wrong:
        nearest = one_nearest(wrong.value, wrong.known)
        where = f"{path_of(wrong.part)}.{wrong.key}"
        drawing = ladder(lamp.model_copy(update={"further": (), "states": ()}).circuit)
        return [Problem(file, where, as_written(wrong.value), wrong.expected, nearest, drawing)]
    if not lamp.further and not lamp.states:
        return []
    return [Problem(file, path_of(one.where), "", one.why) for one in unsound(circuit)]
