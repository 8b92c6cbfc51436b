"""One change of a lamp, in its file's words and in a person's."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel, ConfigDict

from coldiron.lamp.describe import key_label, part_label, value_text
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.model import Part
from coldiron.lamp.shapes import shapes

_MAIN_FIELDS = {
    "line_fusing": "resistance",
    "neutral_fusing": "resistance",
    "varistor": "ac_rating",
    "film": "capacitance",
    "bleed": "resistance",
    "reservoir": "capacitance",
    "sinks": "count",
}
"""The field that a part is known by: "reservoir 22 µF" needs no word for it."""

_SPEAKING = ("sinks", "mains")
"""Parts whose fields speak for themselves: "sense resistor 10 Ω", not "sinks sense resistor 10 Ω"."""


class Change(BaseModel):
    """One modification of one part.

    `part` is its key; `values` maps written keys to what they are set to, in the base unit (empty when the
    part is removed). `text` says it as a technician would, `label` names what comes of it.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    part: str
    values: dict[str, float | int | str | bool | None]
    text: str
    label: str

    def __str__(self) -> str:
        """Say it plainly: "fit reservoir 22 µF", "remove varistor", "line fusing 10 Ω"."""
        return self.text


def changeable_parts(lamp: type[Lamp]) -> dict[str, type[Part]]:
    """Tables of a lamp that a change may touch, by their keys; what a label or a meter said is none."""
    return {
        key: of.model
        for key, of in shapes(lamp).items()
        if of.model is not None and issubclass(of.model, Part) and key not in ("ratings", "reading")
    }


def removal(part: str) -> Change:
    """Change that takes a part out.

    >>> removal("varistor").text, removal("varistor").label
    ('remove varistor', 'varistor none')
    """
    name = part_label(part)
    return Change(part=part, values={}, text=f"remove {name}", label=f"{name} none")


def state_change(part: str, state: str) -> Change:
    """Change that breaks a part, takes it out or wires it across.

    >>> state_change("varistor", "short").text, state_change("line_fusing", "wired across").text
    ('varistor short', 'line fusing wired across')
    """
    text = f"{part_label(part)} {state}"
    return Change(part=part, values={"state": state}, text=text, label=text)


def alteration(
    part: str, model: type[Part], values: Mapping[str, Any], *, fitted: bool, known_by: str = ""
) -> Change:
    """Change that sets values of a part, the one it is known by first.

    Parameters
    ----------
    part : str
        Key of the part.
    model : type
        Its schema.
    values : mapping
        Written key to value in the base unit; None unsets it.
    fitted : bool
        Whether the lamp was without the part.
    known_by : str
        Key that such a part is known by; that of the short keys when empty.

    Examples
    --------
    >>> from coldiron.lamp.parts import ReservoirCapacitor
    >>> str(alteration("reservoir", ReservoirCapacitor, {"esr": 1.5, "capacitance": 22e-6}, fitted=True))
    'fit reservoir 22 µF, ESR 1.5 Ω'
    """
    main = known_by or _MAIN_FIELDS.get(part)
    words: list[str] = []
    for key in sorted(values, key=lambda key: key != main):
        named = key == main or (part not in _SPEAKING and not words)
        name = [part_label(part)] if named else []
        own = [] if key == main else [key_label(key)]
        words.append(" ".join([*name, *own, value_text(model, key, values[key])]))
    label = ", ".join(words)
    if label == "drain capacitor none":
        text = "remove drain capacitor"
    else:
        text = f"fit {label}" if fitted else label
    return Change(part=part, values=dict(values), text=text, label=label)
