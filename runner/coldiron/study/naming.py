"""Names of variants that a file gives no name: what varies among them, and nothing else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from coldiron.lamp.model import Part
from coldiron.study.change import Change, alteration, removal

Changes = Sequence[Change]


def full_name(changes: Changes) -> str:
    """All changes of a variant, as its name."""
    return ", ".join(change.label for change in changes)


def own_name(changes: Changes, base: Changes, parts: Mapping[str, type[Part]]) -> str:
    """What a variant changes beyond the common [base].

    Parameters
    ----------
    changes, base : sequence of Change
        Of the variant, the base among them, and of the base alone.
    parts : mapping
        Schema of each part by its key.
    """
    common = {change.part: change for change in base}
    labels = []
    for change in changes:
        before = common.pop(change.part, None)
        if before == change:
            continue
        held = before.values if before else {}
        keys = [key for key, value in change.values.items() if key not in held or held[key] != value]
        labels.append(_label(change, keys or list(change.values), parts))
    # What the base changes and this variant takes back.
    labels += [f"{removal(part).label.removesuffix(' none')} as found" for part in common]
    return ", ".join(labels)


def names_by_what_varies(variants: Sequence[Changes], parts: Mapping[str, type[Part]]) -> list[str]:
    """Name each of some variants by what differs between them.

    A part that all of them change alike is in no name. Of a part that some change, the values that differ are
    in it; where all who change it change it alike, the value it is known by. One that
    differs from none in its changes has an empty name.

    Examples
    --------
    >>> from coldiron.study.change import changeable_parts
    >>> from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp
    >>> parts = changeable_parts(LinearSinksLamp)
    >>> fit = [
    ...     alteration("reservoir", parts["reservoir"], {"capacitance": c, "voltage": 400.0}, fitted=True)
    ...     for c in (1e-5, 2.2e-5)
    ... ]
    >>> names_by_what_varies([(fit[0],), (fit[1],), (fit[1], removal("varistor"))], parts)
    ['reservoir 10 µF', 'reservoir 22 µF', 'reservoir 22 µF, varistor none']
    """
    seen: dict[str, list[Change]] = {}
    for changes in variants:
        for change in changes:
            seen.setdefault(change.part, []).append(change)
    shown = {part: _telling_keys(all_of) for part, all_of in seen.items()}
    everywhere = {
        part
        for part, all_of in seen.items()
        if len(all_of) == len(variants) and all(change.values == all_of[0].values for change in all_of)
    }
    names = []
    for changes in variants:
        told = [change for change in changes if change.part not in everywhere]
        labels = (_label(change, shown[change.part], parts) for change in told)
        names.append(", ".join(labels))
    return names


def _telling_keys(all_of: Sequence[Change]) -> list[str]:
    """Keys of a part whose values differ among those who set it; all keys where none does."""
    altered = [change.values for change in all_of if change.values]
    keys = list(dict.fromkeys(key for values in altered for key in values))
    differing = [key for key in keys if any(values.get(key) != altered[0].get(key) for values in altered)]
    return differing or keys[:1]


def _label(change: Change, keys: Sequence[str], parts: Mapping[str, type[Part]]) -> str:
    values = {key: change.values[key] for key in keys if key in change.values}
    if not values or change.part not in parts:
        # A further part is no short key of the lamp: its own label says the value it is known by.
        return change.label
    return alteration(change.part, parts[change.part], values, fitted=False).label
