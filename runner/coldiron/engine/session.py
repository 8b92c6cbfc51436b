"""One ngspice in one process: loads a deck, runs it, and believes nothing until it has seen the proof.

The shared library has traps, all of which have been measured: a deck that did not load leaves the deck before
it in place, and `run` then answers with that one; harmless notes look like errors, real errors do not; some
options leak into later decks; a start-up file in the working folder is executed. So a run counts only if the
load was silent, the plot carries this deck's title, every wanted vector is there, the stop time was reached
and every value is finite. Everything that cannot be cured from here marks the session as spent.
"""

from __future__ import annotations

import contextlib
import locale
import logging
import math
import re
import time
import warnings
from collections.abc import Iterator
from functools import lru_cache
from itertools import accumulate
from typing import Any

import numpy as np

from coldiron.deck.deck import Deck
from coldiron.deck.guard import check_deck
from coldiron.engine.ngspice_library import library_name
from coldiron.engine.waves import Array, Waveforms
from coldiron.errors import DeckRefused, NoConvergence

_FORGET_EVERY_RUNS = 50
_HARMLESS = re.compile(
    r"^(Note: |Trying gmin|Warning: singular matrix|Warning: .*gmin|Warning: Dynamic|Warning: source stepping"
    r"|Note: One successful|Using SPARSE|Using KLU|Doing analysis|Initial Transient|Reference value|$)",
    re.IGNORECASE,
)


def _open_library() -> Any:
    """Open libngspice through PySpice and return its NgSpiceShared instance."""
    with warnings.catch_warnings():
        # Python 3.12 and later find slips in its docstrings, once, as they are compiled.
        warnings.simplefilter("ignore", SyntaxWarning)
        from PySpice.Spice.NgSpice.Shared import NgSpiceShared

    logging.getLogger("PySpice").setLevel(logging.CRITICAL + 1)
    NgSpiceShared.LIBRARY_PATH = library_name()
    return NgSpiceShared.new_instance()


class Session:
    """The one ngspice of this process.

    Raises
    ------
    MissingEngine
        If the ngspice library cannot be opened.

    Attributes
    ----------
    inside_s : float
        Processor time spent so far inside the library: its parser, its solver, its tidying up [s].
    """

    def __init__(self) -> None:
        self._ngspice = _open_library()
        self._library = self._ngspice._ngspice_shared
        self._runs = 0
        self.inside_s = 0.0
        self.spent = False

    @property
    def version(self) -> str:
        """Engine version as the library reports it, such as "ngspice-39"."""
        return f"ngspice-{self._ngspice.ngspice_version}"

    def run(self, deck: Deck) -> Waveforms:
        """Run a deck and return what it saved.

        Raises
        ------
        DeckRefused
            If the guard or the engine did not accept the deck.
        NoConvergence
            If the run ended early or gave values that are not finite.
        """
        check_deck(deck.text)
        if self.spent:
            raise DeckRefused("this engine process is spent")
        locale.setlocale(locale.LC_NUMERIC, "C")
        try:
            self._load(deck)
            self._command("run")
            return self._proven_waves(deck)
        except NoConvergence:
            raise
        except BaseException:
            # What is left of a deck that was not understood, or of a run cut short, cannot be seen from here.
            self.spent = True
            raise
        finally:
            self._forget()

    def _load(self, deck: Deck) -> None:
        memory, lines = _lines_in_c(deck.text)
        self._ngspice.clear_output()
        with self._inside():
            status = self._library.ngSpice_Circ(lines)
        del memory
        complaints = [line for line in self._ngspice._stderr if not _HARMLESS.match(line.strip())]
        if complaints or status:
            words = "; ".join(complaints) or f"ngSpice_Circ returned {status}"
            raise DeckRefused("the engine did not accept the deck", words)

    def _command(self, command: str) -> list[str]:
        """Run one engine command; judge nothing, because the library's own judgement is wrong both ways."""
        with self._inside(), contextlib.suppress(NameError):
            self._ngspice.exec_command(command)
        return list(self._ngspice._stdout)

    @contextlib.contextmanager
    def _inside(self) -> Iterator[None]:
        began_s = time.process_time()
        try:
            yield
        finally:
            self.inside_s += time.process_time() - began_s

    def _words(self) -> str:
        said = [line.strip() for line in self._ngspice._stderr if line.strip()]
        return "; ".join(said[-4:])

    def _proven_waves(self, deck: Deck) -> Waveforms:
        words = self._words()
        plot_name = self._ngspice.last_plot
        title = "".join(self._command("echo $curplottitle")).strip()
        if plot_name == "const" or deck.title not in title:
            raise DeckRefused("the engine did not run this deck", words or f"it answered with {title!r}")
        vectors = self._vectors(plot_name)
        time_s = vectors.pop("time", np.empty(0))
        if time_s.size < 2 or time_s[-1] < deck.stop_s * (1 - 1e-9):
            reached = f"{time_s[-1]:.4g}" if time_s.size else "0"
            raise NoConvergence(f"stopped at {reached} s of {deck.stop_s:.4g} s", words)
        kept = {_saved_name(name): values for name, values in vectors.items()}
        wanted = tuple(kept if deck.keep == ("all",) else deck.keep)
        for name in wanted:
            if name not in kept or kept[name].size != time_s.size:
                raise DeckRefused(f"the engine returned no vector {name}", words)
        for name in kept.keys() - set(wanted):
            del kept[name]
        # From given conditions, the engine keeps no point before its first step: the run begins there at 0.
        before = int(time_s[0] > 0.0)
        rows = np.empty((1 + len(kept), before + time_s.size))
        for row, values in zip(rows, (time_s, *kept.values()), strict=True):
            row[before:] = values
        if before:
            rows[:, 0], rows[0, 0] = rows[:, 1], 0.0
        waves = Waveforms(rows[0], dict(zip(kept, rows[1:], strict=True)))
        # A sum is finite if all of it is, and else asks for a second look.
        if not math.isfinite(rows.sum()) and not np.isfinite(rows).all():
            wrong = (name for name in wanted if not np.isfinite(waves[name]).all())
            raise NoConvergence(f"{next(wrong, 'time')} is not finite", words)
        return waves

    def _vectors(self, plot_name: str) -> dict[str, Array]:
        """Vectors of a plot as they lie in the engine, by their names; gone with the next command."""
        from PySpice.Spice.NgSpice.Shared import ffi

        found: dict[str, Array] = {}
        names = self._library.ngSpice_AllVecs(plot_name.encode())
        number = 0
        while names[number] != ffi.NULL:
            name = ffi.string(names[number])
            vector = self._library.ngGet_Vec_Info(plot_name.encode() + b"." + name)
            number += 1
            if vector.v_realdata != ffi.NULL:
                memory = ffi.buffer(vector.v_realdata, 8 * vector.v_length)
                found[name.decode().lower()] = np.frombuffer(memory, dtype=np.float64)
        return found

    def _forget(self) -> None:
        self._command("destroy all")
        self._command("remcirc")
        self._runs += 1
        if self._runs % _FORGET_EVERY_RUNS == 0:
            from PySpice.Spice.NgSpice.Shared import ffi

            self._library.ngSpice_Command(ffi.NULL)


@lru_cache(maxsize=4096)
def _saved_name(spelled: str) -> str:
    """Name under which a deck saves what the engine returns: "bus" is v(bus), "vinput#branch" i(vinput)."""
    if spelled.startswith(("@", "v(", "i(")):
        return spelled
    if spelled.endswith("#branch"):
        return f"i({spelled.removesuffix('#branch')})"
    return f"v({spelled})"


def _lines_in_c(text: str) -> tuple[Any, Any]:
    """Lines of a deck as the engine takes them, and the memory they lie in: one piece, which must be kept."""
    from PySpice.Spice.NgSpice.Shared import ffi

    # From its version 33 on the engine wants an empty line at the end.
    lines = [*filter(None, text.encode("ascii").split(b"\n")), b""]
    memory = ffi.new("char[]", b"\0".join(lines))
    begins = accumulate((len(line) + 1 for line in lines[:-1]), initial=0)
    return memory, ffi.new("char *[]", [*(memory + begin for begin in begins), ffi.NULL])
