"""Touch: one hand on the housing, and what flows to earth through it or through the protective conductor.

Every state that a person can be in with the lamp is run: earth whole or open, on, off in the line, off in
the neutral, the plug either way round; and apart from them the board pierced, which no computation of whole
insulation shows. Volts on a meter are read beside, because they say nothing: they hardly change with the
capacitance that decides.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from coldiron.benches.base import BenchResult, Case, Simulator
from coldiron.benches.earthed import SOURCES as SOURCES
from coldiron.benches.earthed import Arrangement, Touched, touched
from coldiron.errors import NotApplicable
from coldiron.lamp.lamp import Lamp
from coldiron.parts.against_housing import HOUSING
from coldiron.parts.part import MINUS
from coldiron.readings.touch import LIVE_PEAK_A

GLOW_A: Final = 1e-6
"""Current of one LED that shows in the dark (informal)."""
BRIGHTER: Final = 3.0
"""A glow that a hand makes this much stronger is seen to grow."""
_OPEN: Final = Arrangement(earth=False, hand=HOUSING)
STATES: Final[Mapping[str, Arrangement]] = {
    "whole_on": replace(_OPEN, earth=True),
    "whole_off_n": replace(_OPEN, earth=True, neutral_closed=False),
    "open_on": _OPEN,
    "open_turned": replace(_OPEN, turned=True),
    "open_off_l": replace(_OPEN, line_closed=False),
    "open_off_n": replace(_OPEN, neutral_closed=False),
}
"""By the words of their readings; those with a whole earth are for a lamp that has one."""
STATE_WORDS: Final[Mapping[str, str]] = {
    "whole_on": "earth whole, on",
    "whole_off_n": "earth whole, off in the neutral",
    "open_on": "earth open, on",
    "open_turned": "earth open, on, plug turned",
    "open_off_l": "earth open, off in the line",
    "open_off_n": "earth open, off in the neutral",
}


def take(case: Case, simulator: Simulator) -> BenchResult:
    """Touch current of every state, its worst as the lamp is and after one fault; meter, earth and glow.

    Raises
    ------
    NotApplicable
        If there is no housing, or the lamp does not say of what it is.
    """
    lamp = case.lamp
    _applies(lamp)
    earthed = lamp.housing.earthed
    runs = {
        name: touched(case, simulator, lamp, state)
        for name, state in STATES.items()
        if earthed or not state.earth
    }
    hands = {name: run.hand for name, run in runs.items() if run.hand is not None}
    readings: dict[str, float | str] = {}
    for name, hand in hands.items():
        readings[f"touch_{name}_peak_mA"] = 1e3 * hand.peak_a
        readings[f"touch_{name}_rms_mA"] = 1e3 * hand.rms_a
    now = [name for name in hands if not earthed or STATES[name].earth]
    after = [name for name in hands if name not in now]
    worst = max(now, key=lambda name: hands[name].peak_a)
    readings |= {"touch_peak_mA": 1e3 * hands[worst].peak_a, "touch_worst": STATE_WORDS[worst]}
    if after:
        worst = max(after, key=lambda name: hands[name].peak_a)
        readings |= {"touch_fault_peak_mA": 1e3 * hands[worst].peak_a, "touch_fault": "the earth broken"}
    readings |= {"touch_unweighted_peak_mA": 1e3 * hands["open_on"].unweighted_peak_a}
    if earthed:
        whole = [1e3 * run.earth_rms_a for name, run in runs.items() if STATES[name].earth]
        readings |= {"earth_on_mA": whole[0], "earth_conductor_mA": max(whole)}
    if lamp.housing.needs_earth:
        runs |= _pierced(case, simulator, lamp)
        pierced = max(
            (run.hand for name, run in runs.items() if name.startswith("pierced") and run.hand is not None),
            key=lambda hand: hand.peak_a,
        )
        readings |= {
            "touch_pierced_peak_mA": 1e3 * pierced.peak_a,
            "touch_pierced_dc_mA": 1e3 * abs(pierced.dc_a),
        }
        if not earthed:
            readings |= {"touch_fault_peak_mA": 1e3 * pierced.peak_a, "touch_fault": "the board pierced"}
    metered = {name: replace(_OPEN, hand="", meter=HOUSING, neutral_closed=closed)
               for name, closed in (("meter_on", True), ("meter_off_n", False))}  # fmt: skip
    runs |= {name: touched(case, simulator, lamp, state) for name, state in metered.items()}
    readings |= {f"touch_{name}_V": runs[name].volts_rms(HOUSING) for name in metered}
    readings |= _glow(lamp, runs["open_off_n"], runs["meter_off_n"], runs.get("whole_off_n"))
    string_f = lamp.housing.to_hand_f(lamp.expected_power_w)
    highest_a = max(hand.peak_a for name, hand in hands.items() if not STATES[name].earth)
    readings["touch_board_nF"] = 1e9 * string_f
    if highest_a > 0.0:
        readings["touch_limit_nF"] = 1e9 * string_f * LIVE_PEAK_A / highest_a
    return BenchResult(
        readings,
        {label(name): run.deck for name, run in runs.items()},
        {label(name): run.waves for name, run in runs.items()},
        {label(name): run.how for name, run in runs.items()},
    )


def label(name: str) -> str:
    """Name of a run among the decks of a case."""
    return STATE_WORDS.get(name, name.replace("_", " "))


def _applies(lamp: Lamp) -> None:
    housing = lamp.housing
    if housing.material == "bare board":
        raise NotApplicable('no housing: [housing] material is "bare board", and a hand meets all of it')
    if housing.material is None and not housing.earthed:
        raise NotApplicable(
            'the lamp does not say what a hand meets: [housing] material = "metal", "plastic" or "bare board"'
        )


def _pierced(case: Case, simulator: Simulator, lamp: Lamp) -> dict[str, Touched]:
    """The insulation of the board broken through at either end of the circuit, the plug either way round."""
    return {
        f"pierced_{point}{'_turned' if turned else ''}": touched(
            case, simulator, lamp, replace(_OPEN, turned=turned, pierced=point)
        )
        for point in ("bus", MINUS)
        for turned in (False, True)
    }


def _glow(lamp: Lamp, hand: Touched, meter: Touched, whole: Touched | None) -> dict[str, float | str]:
    """Whether the string glows while the neutral alone is switched, touched and not.

    With a whole earth nobody has to touch it; else a voltmeter stands for what a room lets through.
    """
    rows = min((light.parallel for light in lamp.circuit.lights), default=1)
    touched_a = (whole or hand).string_a
    alone_a = meter.string_a if whole is None else touched_a
    if touched_a < GLOW_A * rows:
        word = "no"
    elif alone_a < GLOW_A * rows:
        word = "when touched"
    else:
        word = "brighter when touched" if touched_a > BRIGHTER * alone_a else "yes"
    return {
        "touch_glow_uA": 1e6 * hand.string_a,
        "touch_glow_untouched_uA": 1e6 * meter.string_a,
        "touch_glows": word,
    }
