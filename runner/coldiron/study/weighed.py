"""The study of a lamp alone: as found and what a technician would weigh, as a file that a person can edit."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from typing import Any

from coldiron.lamp.lamp import Lamp
from coldiron.study.modifications import Modification, modifications
from coldiron.wording import printable

_MARK = "# As written: "
_BARE = re.compile(r"[A-Za-z0-9_-]+")


def weighed_text(lamp: Lamp, name: str, lamp_file: str) -> str:
    """Text of the study file of a lamp.

    Parameters
    ----------
    lamp : Lamp
    name : str
        Of the study.
    lamp_file : str
        As the study names its lamp.
    """
    lines = [
        f"# What a technician would weigh for this lamp: {printable(lamp.name)}.",
        "# Edit it and run it; as long as nobody has, it is written anew from the lamp.",
        f"name = {toml_text(name)}",
        f"lamp = {toml_text(lamp_file)}",
        "",
        "# [aim] # what is wanted, the most wanted first, and bounds of your own",
        '# want = ["steady light", "cool sinks"]',
        '# keep = ["inrush_peak_A at most 15"]',
        "",
        "[conditions]",
        'mains = ["nominal", "+10 %", "-10 %"]',
    ]
    for one in modifications(lamp):
        lines += ["", *_variant(one)]
    body = "\n".join(lines) + "\n"
    return f"{_MARK}{_digest(body)}\n{body}"


def is_untouched(text: str) -> bool:
    """Whether a study file is as it was written: nobody loses an edit.

    Examples
    --------
    >>> from coldiron.lamp.load import load_lamp
    >>> text = weighed_text(load_lamp("pantry-bulb"), "bulb", "pantry-bulb")
    >>> is_untouched(text), is_untouched(text.replace("+10 %", "+5 %")), is_untouched("lamp = 'x'")
    (True, False, False)
    """
    first, _, body = text.partition("\n")
    return first == f"{_MARK}{_digest(body)}"


def _digest(body: str) -> str:
    return hashlib.sha256(body.encode()).hexdigest()[:16]


def _variant(one: Modification) -> list[str]:
    return [
        "[[variant]]",
        f"name = {toml_text(one.name)}",
        f"note = {toml_text(one.why)}",
        f"change = {as_toml(one.change)}",
    ]


def as_toml(value: Any) -> str:
    """A value on one line, as a study file has it.

    Examples
    --------
    >>> as_toml({"film.capacitance": "220 nF", "bleed": "none"}), as_toml([1, 2.5, True])
    ('{ "film.capacitance" = "220 nF", bleed = "none" }', '[1, 2.5, true]')
    """
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_key(key)} = {as_toml(each)}" for key, each in value.items()) + " }"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(as_toml, value))}]"
    if isinstance(value, bool):
        return str(value).lower()
    return repr(value) if isinstance(value, int | float) else toml_text(value)


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else toml_text(key)


def toml_text(text: str) -> str:
    """A basic string of TOML: its escapes are those of JSON, where every character may stand as it is."""
    return json.dumps(text, ensure_ascii=False)
