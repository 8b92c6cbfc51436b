"""Changes beyond the values of tables: further parts, and parts broken, removed or wired across."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, get_args

from coldiron.errors import Problem
from coldiron.lamp.further import FurtherPart, further_part
from coldiron.lamp.lamp import Brokenness, Lamp
from coldiron.lamp.model import written_key
from coldiron.parts.part import KINDS
from coldiron.parts.placing import WAYS
from coldiron.study.change import Change, alteration, removal, state_change
from coldiron.study.model import AS_FOUND
from coldiron.wording import as_key, as_written

STATES: Final = get_args(Brokenness)
"""What a change can do to any part of the circuit: "removed" leaves a gap, "wired across" a wire."""
NONE: Final = "none"


class Beyond:
    """Applies such changes to one lamp; `made` collects what really changes.

    Parameters
    ----------
    lamp : Lamp
        As found.
    file : str
        Name of the study file, for its problems.
    """

    def __init__(self, lamp: Lamp, file: str) -> None:
        self.lamp = lamp
        self.file = file
        self.made: list[Change] = []

    def changed(
        self, wanted: Mapping[str, Any], inside: str, problems: list[Problem]
    ) -> tuple[FurtherPart, ...]:
        """Further parts of the lamp, with those fitted, changed or removed that are wanted."""
        found = {part.name: part for part in self.lamp.further}
        for name, value in wanted.items():
            path = f"{inside}.{as_key(f'part.{name}' if name not in found else name)}"
            if value == AS_FOUND:
                continue
            if value == NONE:
                if found.pop(name, None) is not None:
                    self.made.append(removal(name))
                continue
            if not isinstance(value, Mapping):
                expected = f'a table with a kind, a place and its values, "{NONE}" or "{AS_FOUND}"'
                problems.append(Problem(self.file, path, as_written(value), expected))
                continue
            fitted = self._built(name, value, found.get(name), path, problems)
            if fitted is not None:
                found[name] = fitted
        return tuple(found.values())

    def _built(
        self,
        name: str,
        table: Mapping[str, Any],
        before: FurtherPart | None,
        path: str,
        problems: list[Problem],
    ) -> FurtherPart | None:
        """Build a part that is fitted, or one whose values change."""
        old: dict[str, Any] = {}
        if before is not None and "kind" not in table:
            where = before.where if isinstance(before.where, str) else list(before.where)
            old = {"kind": before.kind, before.way: where, **_written(before)}
            if any(way in table for way in WAYS):
                old.pop(before.way)
        kept = {key: value for key, value in table.items() if value != AS_FOUND}
        built = further_part(name, {**old, **kept}, self.file, problems, path)
        if built is None:
            return None
        kind, after = KINDS[built.kind], _written(built)
        values = {key: after.get(key) for key in table if key not in ("kind", *WAYS)}
        if before is not None:
            values = {key: value for key, value in values.items() if value != _written(before).get(key)}
            if not values and built.where == before.where:
                return before
        marked = {**(before.values.provenances if before else {}), **dict.fromkeys(values, "study")}
        own = built.values.model_copy(update={"provenances": marked})
        self.made.append(alteration(name, kind.model, values, fitted=before is None, known_by=kind.known_by))
        return built.model_copy(update={"values": own})

    def broken(
        self, wanted: Mapping[str, str], inside: str, problems: list[Problem]
    ) -> tuple[tuple[str, Brokenness], ...]:
        """States of the lamp's parts, with those that are wanted."""
        self.made += [state_change(name, state) for name, state in wanted.items()]
        return (*self.lamp.states, *wanted.items())  # type: ignore[arg-type]


def _written(part: FurtherPart) -> dict[str, Any]:
    """Values of a further part by their written keys, without those that are unset."""
    values = {written_key(name): value for name, value in part.values if name != "provenances"}
    return {key: value for key, value in values.items() if value is not None}
