"""Every single fault of a lamp, from the kinds of its parts; a lamp with a fault; faults by their names.

What a part can do when it breaks its kind says (`Part.failures`). Beside these there are faults of no part: a
joint that is loose, an earth that is broken, a plug the other way round, a switch in the neutral.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

from coldiron.lamp.lamp import LOOSE_JOINT, Lamp
from coldiron.parts.roles import Rectifies
from coldiron.wording import one_nearest, one_of

EVERY: Final = "every single part"
"""What a study asks for that wants all single faults."""
AND: Final = " + "
"""Between the names of faults that a lamp has at once."""
SUPPLY: Final = "supply"
HOUSING: Final = "housing"


@dataclass(frozen=True)
class Fault:
    """One fault, or some at once: each a part's name and the word of how it is broken.

    Parameters
    ----------
    pairs : tuple of (str, str)
        Part and word; "joint", "supply" and "housing" stand for what is no part.
    says : str
        What that means, where the word does not tell.

    Examples
    --------
    >>> Fault((("varistor", "short"), ("line_fusing", "bridged"))).name
    'varistor short + line_fusing bridged'
    """

    pairs: tuple[tuple[str, str], ...]
    says: str = ""

    @property
    def name(self) -> str:
        """Its name, as a study writes it."""
        return AND.join(f"{part} {word}" for part, word in self.pairs)

    @property
    def words(self) -> str:
        """Its name as a person reads it."""
        return self.name.replace("_", " ")

    @property
    def parts(self) -> tuple[str, ...]:
        """Parts that are broken."""
        return tuple(part for part, _ in self.pairs)

    def applied(self, lamp: Lamp) -> Lamp:
        """Lamp with this fault in it."""
        return lamp.with_faults(*self.pairs)

    def __add__(self, other: Fault) -> Fault:
        """Both at once."""
        return Fault((*self.pairs, *other.pairs), "; ".join(filter(None, (self.says, other.says))))


class UnknownFault(ValueError):
    """A fault that a lamp cannot have; `expected` and `nearest` say what it can."""

    def __init__(self, name: str, expected: str, nearest: str = "") -> None:
        super().__init__(f"{name}: expected {expected}")
        self.name, self.expected, self.nearest = name, expected, nearest


def single_faults(lamp: Lamp) -> tuple[Fault, ...]:
    """Every single fault of a lamp, part by part from the mains on, then those of no part.

    Examples
    --------
    >>> from coldiron.lamp.load import load_lamp
    >>> [fault.name for fault in single_faults(load_lamp("kerbside-flood"))][:4]
    ['line_fusing open', 'line_fusing drifted +50 %', 'line_fusing bridged', 'neutral_fusing open']
    """
    return tuple(_of_parts(lamp)) + tuple(_of_no_part(lamp))


def _of_parts(lamp: Lamp) -> Iterator[Fault]:
    for part in lamp.circuit:
        if part.works:
            yield from (Fault(((part.name, mode.word),), mode.says) for mode in part.failures())


def _of_no_part(lamp: Lamp) -> Iterator[Fault]:
    if any(part.is_on_the_mains for part in lamp.circuit.having(Rectifies)):
        yield Fault(((LOOSE_JOINT, "loose"),), "an arc in a joint before the rectifier")
    if lamp.housing.earthed:
        yield Fault(((HOUSING, "earth broken"),), "its protective conductor is open")
    yield Fault(((SUPPLY, "line and neutral swapped"),), "its plug or its terminals the other way round")
    yield Fault(((SUPPLY, "neutral lost"),), "the network puts far too many volts on it")
    yield Fault(((SUPPLY, "neutral switched"),), "its switch opens the neutral and leaves the line on")


def fault_named(lamp: Lamp, name: str) -> Fault:
    """Fault of a lamp by its name, or by the names of some at once with " + " between them.

    Raises
    ------
    UnknownFault
        If the lamp has no such part, or the part no such fault, or two of them meet in one part.
    """
    known = {fault.name.casefold(): fault for fault in single_faults(lamp)}
    found: list[Fault] = []
    for one in name.split(AND):
        fault = known.get(" ".join(one.split()).casefold())
        if fault is None:
            raise _unknown(lamp, one.strip(), [fault.name for fault in known.values()])
        found.append(fault)
    for first, second in combinations(found, 2):
        if set(first.parts) & set(second.parts):
            raise UnknownFault(name, f"one fault of {first.parts[0]}, not two")
    whole = found[0]
    for fault in found[1:]:
        whole = whole + fault
    return whole


def faults_named(lamp: Lamp, names: Sequence[str]) -> tuple[Fault, ...]:
    """Faults by their names, each once; `EVERY` stands for all single ones, a part's name for all of its own.

    Raises
    ------
    UnknownFault
        For the first that the lamp cannot have.
    """
    found: dict[str, Fault] = {}
    every = single_faults(lamp)
    for name in names:
        if name == EVERY:
            chosen = every
        elif own := tuple(fault for fault in every if name.casefold() == fault.parts[0].casefold()):
            chosen = own
        else:
            chosen = (fault_named(lamp, name),)
        found |= {fault.name: fault for fault in chosen}
    return tuple(found.values())


def _unknown(lamp: Lamp, name: str, known: Sequence[str]) -> UnknownFault:
    """Say what is wrong with a name: the part is not there, or it does not break that way."""
    own = [fault for fault in known if name.casefold().startswith(f"{fault.split()[0].casefold()} ")]
    if own:
        words = [fault.split(" ", 1)[1] for fault in own]
        part = own[0].split()[0]
        expected = f"a fault that {part} can have ({one_of(words)})"
        return UnknownFault(name, expected, one_nearest(name, own))
    parts = list(dict.fromkeys(fault.split()[0] for fault in known))
    expected = f"a part of this lamp and how it breaks ({one_of(parts)}), or {EVERY}"
    return UnknownFault(name, expected, one_nearest(name, known))
