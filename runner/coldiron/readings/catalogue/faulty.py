"""Rows of the catalogue for a lamp with a fault, followed to its end."""

from __future__ import annotations

from collections.abc import Iterator

from coldiron.readings.catalogue.kind import Kind

FAULT = ("fault",)


def faulty() -> Iterator[Kind]:
    """What a fault does at first, what opens and when, and what is left."""

    def word(reading: str, what: str, heading: str) -> Kind:
        return Kind(reading, what, FAULT, heading, is_word=True)

    def number(reading: str, what: str, heading: str, ratio: float = 0.03) -> Kind:
        return Kind(reading, what, FAULT, heading, "up", ratio)

    yield number("fault_peak_A", "peak input current just after the fault", "peak")
    yield number("fault_input_A", "input current just after the fault", "input")
    yield number("fault_input_W", "input power just after the fault", "input")
    yield word("fault_worst_part", "part with the most watts just after the fault", "most watts")
    yield number("fault_worst_W", "watts of that part just after the fault", "most watts")
    yield word("end_opened", "what opens or fails, in its order", "opens")
    yield word("end_left", "faults that the lamp is left with besides the one it began with", "left")
    yield number("end_opens_fast_s", "time after which the first part opens, on its fast curve", "fast", 0.1)
    yield number("end_opens_slow_s", "time after which the first part opens, on its slow curve", "slow", 0.1)
    yield number("end_last_slow_s", "time after which the last part has opened, on slow curves", "all", 0.1)
    yield number("end_fast_i2t_A2s", "I²t to the opening, on the fast curve", "I²t, fast", 0.1)
    yield number("end_slow_i2t_A2s", "I²t to the opening, on the slow curve", "I²t, slow", 0.1)
    yield word("end_glows_part", "part that glows and does not open", "glows")
    yield number("end_glows_K", "what it stands at above 25 °C", "glows at")
    yield number("moment_opens_s", "time to the opening in the run that is drawn", "drawn", 0.1)
    yield Kind("moment_deg", "angle of the mains at which the fault comes in that run", FAULT, "drawn")
    yield word("end_over_parts", "parts over their ratings in the end", "over")
    yield number("end_over_ratio", "most that a part is over its rating in the end", "over")
    yield Kind(
        "end_light_A", "current of each LED in the end, summed over those in series", FAULT, "light", "down"
    )
    yield number("end_row_peak_A", "peak current of one LED in the end", "one LED")
    yield number("end_row_pulse_ratio", "peak current of one LED over its pulse rating", "one LED")
    yield number("arc_W", "watts of an arc", "arc")
    yield number("arc_open_V", "peak voltage of the gap while no arc burns", "gap, open")
    yield Kind("arc_VA", "that voltage times the current of the arc", FAULT, "arc, V·A", "up", 0.03)
    yield number("arc_left_V", "most volts that an arc finds", "arc, at most")
    yield Kind(
        "breaker_fast_s", "time after which the breaker of the house may open", FAULT, "breaker", "none", 0.1
    )
    yield Kind(
        "breaker_slow_s",
        "time after which the breaker of the house has opened",
        FAULT,
        "breaker",
        "none",
        0.1,
    )
    for plug, said in (("this", "as it is"), ("swapped", "the other way round")):
        yield word(f"live_{plug}", f"points that are live with the plug {said}", "live")
        yield number(f"live_{plug}_A", f"most current of a body on a point with the plug {said}", "body")
