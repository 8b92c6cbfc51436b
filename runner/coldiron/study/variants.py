"""From the tables of a study file to its variants: "as found", the [base], each [[variant]], grid and zip."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final, NamedTuple

from coldiron.errors import Problem
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.model import Closed, Name, Note
from coldiron.study.apply import Workshop
from coldiron.study.change import Change
from coldiron.study.combinations import combinations
from coldiron.study.model import AS_FOUND, Variant
from coldiron.study.naming import full_name, names_by_what_varies, own_name
from coldiron.wording import as_written, printable

MOST_VARIANTS: Final = 20_000
"""A study of more is refused by its count, before any variant is built."""


class VariantEntry(Closed):
    """One [[variant]] of a study file, or its [base]; without a name it is named by its changes."""

    name: Name | None = None
    note: Note = ""
    change: dict[str, Any]


class _Built(NamedTuple):
    """A variant but for its name; `inside` is where the file describes it."""

    entry: VariantEntry
    inside: str
    lamp: Lamp
    changes: tuple[Change, ...]


def build_variants(
    lamp: Lamp,
    file: str,
    problems: list[Problem],
    *,
    base: VariantEntry | None = None,
    entries: Sequence[VariantEntry] = (),
    grid: Mapping[str, Any] | None = None,
    steps: Mapping[str, Any] | None = None,
) -> tuple[Variant, ...]:
    """Build every variant of a study.

    Parameters
    ----------
    lamp : Lamp
        As found.
    file : str
        Name of the study file, for its problems.
    problems : list of Problem
        Extended with what is wrong, each thing once.
    base : VariantEntry, optional
        What every other variant changes too. It is a variant of its own, so that the others can be held
        against it; what a variant says of the same value, or of the whole part, goes before it.
    entries : sequence of VariantEntry
        Variants one by one.
    grid : mapping, optional
        Dotted key to a list of what it becomes; each combination is a variant.
    steps : mapping, optional
        The same for keys that step together: the first value of each, the second of each. With a grid each
        step meets every point of it.

    Returns
    -------
    tuple of Variant
        "As found", the base, the entries, then the grid with its last key running fastest.
    """
    file = printable(file)
    combined = combinations(grid or {}, steps or {}, file, problems)
    count = 1 + (base is not None) + len(entries) + combined.count
    if count > MOST_VARIANTS:
        where = combined.inside if combined.count else "variant"
        problems.append(Problem(file, where, f"{_count(count)} variants", f"at most {_count(MOST_VARIANTS)}"))
        return ()
    workshop = Workshop(lamp, file)
    wrong: list[Problem] = []
    common = base.change if base else {}

    def build(entry: VariantEntry, inside: str) -> Iterator[_Built]:
        """The variant, or nothing where something is wrong with it."""
        before = len(wrong)
        changed, changes = workshop.apply(
            entry.change if inside == "base" else _on(common, entry.change), inside, wrong
        )
        if not entry.change:
            wrong.append(Problem(file, f"{inside}.change", "empty", "at least one change"))
        if len(wrong) == before:
            yield _Built(entry, inside, changed, changes)

    bases = list(build(base, "base")) if base else []
    if base and not bases:
        problems.extend(dict.fromkeys(wrong))  # What builds on it would only repeat it.
        return ()
    base_changes = bases[0].changes if bases else ()
    listed = [one for n, entry in enumerate(entries, 1) for one in build(entry, f"variant[{n}]")]
    points = [
        one
        for change in combined
        for one in build(VariantEntry.model_construct(name=None, note="", change=change), combined.inside)
    ]
    varying = names_by_what_varies([one.changes for one in points], workshop.parts)
    named = [
        *((one, one.entry.name or full_name(one.changes)) for one in bases),
        *((one, one.entry.name or own_name(one.changes, base_changes, workshop.parts)) for one in listed),
        *(
            (one, name or own_name(one.changes, base_changes, workshop.parts))
            for one, name in zip(points, varying, strict=True)
            # A point that changes nothing is the lamp as found, or the base, which is there already.
            if one.changes != base_changes
        ),
    ]
    built = [Variant(name=AS_FOUND, changes=(), lamp=lamp)]
    taken = {AS_FOUND}
    for one, name in named:
        if name in taken or not name:
            where = one.inside if one.inside == combined.inside else f"{one.inside}.name"
            wrong.append(Problem(file, where, as_written(name), "a name that no other variant has"))
        taken.add(name)
        built.append(Variant(name=name, changes=one.changes, lamp=one.lamp, note=one.entry.note))
    problems.extend(dict.fromkeys(wrong))
    return tuple(built)


def _on(base: Mapping[str, Any], own: Mapping[str, Any]) -> dict[str, Any]:
    """Changes of the base and a variant's own; what the variant says of a value or a part goes first."""
    whole = {key for key in own if "." not in key}
    kept: dict[str, Any] = {}
    for key, value in base.items():
        part, dot, _ = key.partition(".")
        if part in whole or key in own:
            continue
        if not dot and isinstance(value, Mapping):
            said = {name.partition(".")[2] for name in own if name.startswith(f"{part}.")}
            value = {field: each for field, each in value.items() if field not in said}
        if value != {}:
            kept[key] = value
    return {**kept, **own}


def _count(number: int) -> str:
    return f"{number:,}".replace(",", " ") if number < 10**15 else f"about 10^{len(str(number)) - 1}"
