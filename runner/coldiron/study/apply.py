"""Applying changes to a lamp: each touched part is rebuilt and judged as if a file had written it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, NamedTuple

from coldiron.errors import FileProblems, Problem
from coldiron.lamp.describe import value_text
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.load import circuit_problems
from coldiron.lamp.model import Part, written_key
from coldiron.lamp.shapes import shapes
from coldiron.lamp.understand import understand
from coldiron.study.beyond import STATES, Beyond
from coldiron.study.change import Change, alteration, changeable_parts, removal
from coldiron.study.model import AS_FOUND
from coldiron.wording import as_key, as_written, one_nearest, one_of

NONE = "none"

_Wanted = dict[str, Any] | str
"""What is wanted of a part: new values by their keys, or "none"."""


class _Built(NamedTuple):
    part: Part | None
    change: Change | None


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
        self.parts = changeable_parts(type(lamp))
        self.places = {part.name for part in lamp.circuit if not part.hidden}
        self._built: dict[str, _Built] = {}
        self._found: dict[str, dict[str, Any]] = {}

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
        new_parts: dict[str, Any] = {}
        made: list[Change] = []
        tables, states, further = self._parted(changes)
        for part, wanted in self._by_part(tables, inside, problems).items():
            built, change = self._build(part, wanted, inside, problems)
            if change is not None:
                new_parts[part] = built
                made.append(change)
        beyond = Beyond(self.lamp, self.file)
        new_parts["further"] = beyond.changed(further, inside, problems)
        new_parts["states"] = beyond.broken(states, inside, problems)
        made += beyond.made
        if len(problems) > before:
            return self.lamp, ()
        lamp = self.lamp.model_copy(update=new_parts)
        places = {name: f"{inside}.{as_key(f'part.{name}')}" for name in further}
        problems.extend(circuit_problems(lamp, self.file, inside, places))
        for one in lamp.inconsistencies():
            part, _, field = one.key.partition(".")
            values = written_values(getattr(lamp, part))
            value = value_text(self.parts[part], field, values.get(field))
            problems.append(Problem(self.file, f"{inside}.{one.key}", value, one.expected))
        return lamp, tuple(made)

    def _parted(self, changes: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, str], dict[str, Any]]:
        """Part changes into those of the lamp's tables, those that break a part, and further parts."""
        known = {part.name for part in self.lamp.further}
        tables: dict[str, Any] = {}
        states: dict[str, str] = {}
        further: dict[str, Any] = {}
        for key, value in changes.items():
            head, _, rest = key.partition(".")
            if head == "part" and "." in rest:
                # As the lamp file has it, `[part.NTC1] r25`: the same as `NTC1.r25`.
                head, _, rest = rest.partition(".")
                merged = further.setdefault(head, {})
                if isinstance(merged, dict):
                    merged[rest] = value
            elif head == "part":
                for name, table in {rest: value}.items() if rest else dict(value).items():
                    further[name] = table
            elif isinstance(value, str) and value in STATES and not rest and head in self.places:
                states[head] = value
            elif head in known:
                merged = further.setdefault(head, {})
                if rest and isinstance(merged, dict):
                    merged[rest] = value
                else:
                    further[head] = value
            else:
                tables[key] = value
        return tables, states, further

    def _by_part(
        self, changes: Mapping[str, Any], inside: str, problems: list[Problem]
    ) -> dict[str, _Wanted]:
        """Gather what is wanted of each part: a table of its fields, or "none"."""
        wanted: dict[str, _Wanted] = {}
        for key, value in changes.items():
            part, dot, field = key.partition(".")
            path, written = f"{inside}.{as_key(key)}", as_written(value)
            if part not in self.parts:
                names = [*self.parts, *(part.name for part in self.lamp.further)]
                expected = f"a part of the lamp ({one_of(names)})"
                guess = len(problems) < FileProblems.MOST_SAID
                nearest = self._nearest(part, field) if guess else ""
                problems.append(Problem(self.file, path, "an unknown part", expected, nearest))
                continue
            if value == AS_FOUND:
                continue
            if dot:
                value = NONE if value == NONE and self._makes(part, field) else {field: value}
            before = wanted.get(part)
            if not isinstance(value, dict) and value != NONE:
                expected = f'"{NONE}", "{AS_FOUND}" or a table of its values'
                problems.append(Problem(self.file, path, written, expected))
            elif before is None:
                wanted[part] = value
            elif isinstance(before, dict) and isinstance(value, dict):
                wanted[part] = {**before, **value}
            else:
                problems.append(Problem(self.file, path, written, f"one change of {part}, not two"))
        return wanted

    def _makes(self, part: str, field: str) -> bool:
        """Tell whether a field is one that its part, itself optional, cannot be without."""
        fields = shapes(self.parts[part])
        return field in fields and fields[field].required and shapes(type(self.lamp))[part].optional

    def _nearest(self, part: str, field: str) -> str:
        """Known key that a misspelt one may have meant."""
        near = one_nearest(part, self.parts)
        if not near or not field:
            return near
        near_field = one_nearest(field, shapes(self.parts[near]))
        return f"{near}.{near_field}" if near_field else ""

    def _build(self, part: str, wanted: _Wanted, inside: str, problems: list[Problem]) -> _Built:
        """Build a changed part, or remember it: a grid asks for each many times."""
        memory = f"{part}|{wanted!r}"
        if memory not in self._built:
            before = len(problems)
            built = self._build_anew(part, wanted, inside, problems)
            if len(problems) > before:
                return built
            self._built[memory] = built
        return self._built[memory]

    def _build_anew(self, part: str, wanted: _Wanted, inside: str, problems: list[Problem]) -> _Built:
        model, found = self.parts[part], getattr(self.lamp, part)
        path = f"{inside}.{part}"
        if isinstance(wanted, str):
            if not shapes(type(self.lamp))[part].optional:
                problems.append(Problem(self.file, path, f'"{NONE}"', "a part that a lamp can be without"))
            return _Built(None, None if found is None else removal(part))
        for key, value in wanted.items():
            if key == "provenance" or (isinstance(value, dict) and "provenance" in value):
                expected = "no provenance: what a study sets is marked as the study's"
                problems.append(Problem(self.file, f"{path}.{as_key(key)}", "", expected))
                return _Built(found, None)
        if part not in self._found:
            self._found[part] = written_values(found)
        before = self._found[part]
        for key, implied in model.implied_by.items():
            # A new marking brings its own values, and one that a value no longer goes with is none.
            if key in wanted:
                before = {old: value for old, value in before.items() if old not in implied}
            elif set(wanted) & set(implied):
                before = {old: value for old, value in before.items() if old != key}
        table = {**before, **{key: value for key, value in wanted.items() if value != AS_FOUND}}
        built = understand(model, table, self.file, problems, path)
        if built is None:
            return _Built(found, None)
        after = written_values(built)
        changed = {key: after.get(key) for key in wanted if _differ(after.get(key), before.get(key))}
        if not changed:
            return _Built(found, None)
        provenances = {**(found.provenances if found else {}), **dict.fromkeys(changed, "study")}
        change = alteration(part, model, changed, fitted=found is None)
        return _Built(built.model_copy(update={"provenances": provenances}), change)


def _differ(new: object, old: object) -> bool:
    """Tell whether a value has changed by more than a rounding of its notation."""
    if isinstance(new, float) and isinstance(old, float):
        return not math.isclose(new, old, rel_tol=1e-9)
    return new != old


def written_values(part: Part | None) -> dict[str, Any]:
    """Values of a part by their written keys, in base units, without those that are unset."""
    if part is None:
        return {}
    values = {written_key(name): value for name, value in part if name != "provenances"}
    return {key: value for key, value in values.items() if value is not None}
