"""Applying changes to a lamp: each touched part is rebuilt and judged as if a file had written it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from coldiron.errors import Problem
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.model import Part, written_key
from coldiron.lamp.shapes import shapes
from coldiron.lamp.understand import understand
from coldiron.study.change import Change, alteration, changeable_parts, removal
from coldiron.wording import as_written, one_nearest, one_of, printable

NONE = "none"
AS_FOUND = "as found"


class Workshop:
    """Applies changes to one lamp; parts it has built before are not built again.

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
        self.parts = changeable_parts()
        self._built: dict[str, tuple[Part | None, Change | None, tuple[Problem, ...]]] = {}

    def apply(
        self, changes: Mapping[str, Any], inside: str, problems: list[Problem]
    ) -> tuple[Lamp, tuple[Change, ...]]:
        """Lamp with the changes applied, and the changes that really change something.

        Parameters
        ----------
        changes : mapping
            Dotted key to what it becomes, as written in the file.
        inside : str
            Dotted path of the mapping in the file.
        problems : list of Problem
            Extended with what is wrong.

        Returns
        -------
        tuple of Lamp and tuple of Change
            The lamp is as found where there are problems.
        """
        before = len(problems)
        new_parts: dict[str, Part | None] = {}
        made = []
        for part, wanted in self._by_part(changes, inside, problems).items():
            built, change, wrong = self._build(part, wanted, inside)
            problems.extend(wrong)
            if change is not None:
                new_parts[part] = built
                made.append(change)
        if len(problems) > before:
            return self.lamp, ()
        lamp = self.lamp.model_copy(update=new_parts)
        for fault in lamp.faults():
            problems.append(Problem(self.file, f"{inside}.{fault.key}", "", fault.expected))
        return lamp, tuple(made)

    def _by_part(
        self, changes: Mapping[str, Any], inside: str, problems: list[Problem]
    ) -> dict[str, dict[str, Any] | str]:
        """Gather what is wanted of each part: a table of its fields, or "none"."""
        wanted: dict[str, dict[str, Any] | str] = {}
        for key, value in changes.items():
            path = f"{inside}.{printable(key)}"
            part, _, field = key.partition(".")
            if part not in self.parts:
                self._refuse_part(key, path, problems)
                continue
            if value == AS_FOUND:
                continue
            if field:
                value = NONE if value == NONE and self._makes(part, field) else {field: value}
            if isinstance(value, dict) and isinstance(wanted.get(part, {}), dict):
                wanted[part] = {**wanted.get(part, {}), **value}  # type: ignore[dict-item]
            elif value == NONE and part not in wanted:
                wanted[part] = NONE
            elif part in wanted:
                problems.append(Problem(self.file, path, as_written(value), f"one change of {part}, not two"))
            else:
                problems.append(
                    Problem(
                        self.file, path, as_written(value), f'"{NONE}", "{AS_FOUND}" or a table of its values'
                    )
                )
        return wanted

    def _makes(self, part: str, field: str) -> bool:
        """Tell whether a field is one that its part, itself optional, cannot be without."""
        fields = shapes(self.parts[part])
        return field in fields and fields[field].required and shapes(Lamp)[part].optional

    def _refuse_part(self, key: str, path: str, problems: list[Problem]) -> None:
        part, _, field = key.partition(".")
        nearest = one_nearest(part, self.parts)
        if nearest and field:
            keys = shapes(self.parts[nearest])
            nearest = f"{nearest}.{field if field in keys else one_nearest(field, keys) or field}"
        problems.append(
            Problem(self.file, path, "an unknown part", f"a part of the lamp ({one_of(self.parts)})", nearest)
        )

    def _build(
        self, part: str, wanted: dict[str, Any] | str, inside: str
    ) -> tuple[Part | None, Change | None, tuple[Problem, ...]]:
        memory = f"{inside}|{part}|{wanted!r}"
        if memory not in self._built:
            problems: list[Problem] = []
            built, change = self._build_anew(part, wanted, inside, problems)
            self._built[memory] = built, change, tuple(problems)
        return self._built[memory]

    def _build_anew(
        self, part: str, wanted: dict[str, Any] | str, inside: str, problems: list[Problem]
    ) -> tuple[Part | None, Change | None]:
        model, found = self.parts[part], getattr(self.lamp, part)
        path = f"{inside}.{part}"
        if isinstance(wanted, str):
            if not shapes(Lamp)[part].optional:
                problems.append(Problem(self.file, path, f'"{NONE}"', "a part that a lamp can be without"))
                return found, None
            if found is None:
                return None, None
            return None, removal(part)
        table = {**_written(found), **{k: v for k, v in wanted.items() if v != AS_FOUND}}
        built = understand(model, table, self.file, problems, path)
        if built is None:
            return found, None
        values = _written(built)
        changed = {k: values.get(k) for k in wanted if values.get(k) != _written(found).get(k)}
        if not changed:
            return found, None
        standings = {**(found.standings if found else {}), **dict.fromkeys(changed, "study")}
        change = alteration(part, model, changed, fitted=found is None)
        return built.model_copy(update={"standings": standings}), change


def _written(part: Part | None) -> dict[str, Any]:
    """Fields of a part by their written keys, in base units, without those that are unset."""
    if part is None:
        return {}
    return {written_key(name): value for name, value in part if name != "standings" and value is not None}
