"""Rows of readings against earth: a hand on the housing, the protective conductor."""

from __future__ import annotations

from collections.abc import Iterator

from coldiron.readings.catalogue.kind import Kind, Spoken, weakest

BOARD = "housing.board_capacitance"
"""Key that touch current is in proportion to."""


def touch() -> Iterator[Kind]:
    """One hand on the housing."""
    bench = ("touch",)
    yield Kind(
        "touch_peak_mA", "peak touch current as the lamp is, the worst state", bench, "hand", "up",
        spoken=Spoken("a hand on the housing", 0.05, 20, "carries"), hangs_on=BOARD,
    )  # fmt: skip
    yield Kind(
        "touch_worst",
        "state of the worst touch current",
        bench,
        "state",
        held_by="touch_peak_mA",
        is_word=True,
    )
    yield Kind(
        "touch_fault_peak_mA", "peak touch current after one fault", bench, "hand, one fault", "up",
        spoken=Spoken("a hand on the housing after one fault", 0.05, 21, "carries"), hangs_on=BOARD,
    )  # fmt: skip
    yield Kind(
        "touch_fault",
        "fault of that touch current",
        bench,
        "fault",
        held_by="touch_fault_peak_mA",
        is_word=True,
    )
    states = (
        ("whole_on", "earth whole, on"),
        ("whole_off_n", "earth whole, off in the neutral"),
        ("open_on", "earth open, on"),
        ("open_turned", "earth open, on, plug turned"),
        ("open_off_l", "earth open, off in the line"),
        ("open_off_n", "earth open, off in the neutral"),
    )
    for name, said in states:
        yield Kind(f"touch_{name}_peak_mA", f"peak touch current, {said}", bench, said, "up", hangs_on=BOARD)
        yield Kind(
            f"touch_{name}_rms_mA", f"touch current, rms, {said}", bench, f"{said}, rms", "up", hangs_on=BOARD
        )
    yield Kind(
        "touch_unweighted_peak_mA", "unweighted peak of the touch current, on (it hangs on the sinks' model)",
        bench, "unweighted", relative_ratio=0.2,
    )  # fmt: skip
    yield Kind(
        "earth_on_mA",
        "current of the protective conductor, rms, on",
        bench,
        "earth, on",
        "up",
        hangs_on=BOARD,
    )
    yield Kind(
        "earth_conductor_mA", "current of the protective conductor, rms, the worst state", bench, "earth",
        "up", hangs_on=BOARD,
    )  # fmt: skip
    yield Kind(
        "touch_pierced_peak_mA",
        "peak touch current, board pierced and no earth",
        bench,
        "board pierced",
        "up",
    )
    yield Kind("touch_pierced_dc_mA", "d.c. of that touch current", bench, "board pierced, d.c.", "up")
    yield Kind(
        "touch_meter_on_V", "what a meter of 10 MΩ shows on the housing, earth open, on", bench, "meter, on"
    )
    yield Kind(
        "touch_meter_off_n_V", "what a meter of 10 MΩ shows on the housing, earth open, off in the neutral",
        bench, "meter, off",
    )  # fmt: skip
    yield Kind(
        "touch_glow_uA",
        "current of the string, off in the neutral, touched, earth open",
        bench,
        "glow, touched",
        "up",
    )
    yield Kind(
        "touch_glow_untouched_uA", "current of the string, off in the neutral, a meter on the housing", bench,
        "glow, untouched", "up", 0.05,
    )  # fmt: skip
    yield Kind("touch_glows", "whether it glows off in the neutral", bench, "glows", is_word=True)
    yield Kind("touch_board_nF", "capacitance of the board to what a hand meets", bench, "board")
    yield Kind(
        "touch_limit_nF",
        "capacitance at which a hand would carry 0.7 mA without earth",
        bench,
        "0.7 mA at",
        "down",
    )


def live() -> Iterator[Kind]:
    """Which points are live."""
    bench = ("live",)
    for name, said in (
        ("on", "on"),
        ("off_l", "off in the line"),
        ("off_n", "off in the neutral"),
        ("unplugged", "off in both poles"),
        ("part_open", "on, the string open"),
    ):
        peak = f"live_{name}_peak_mA"
        yield Kind(f"live_{name}", f"live points, {said}", bench, said, held_by=peak, is_word=True)
        yield Kind(peak, f"peak current of a hand on the worst point, {said}", bench, f"hand, {said}", "up")


def surge_to_earth() -> Iterator[Kind]:
    """What only a surge to earth has."""
    bench = ("surge-earth",)
    board = "surge_earth_board_peak_V"
    yield Kind(board, "peak voltage over the insulation of the board", bench, "board", "up", 0.03)
    yield Kind("surge_earth_feed_peak_V", "the same at the feed", bench, "board, feed", "up", 0.03)
    yield Kind("surge_earth_minus_peak_V", "the same at minus", bench, "board, minus", "up", 0.03)
    yield Kind(
        "surge_earth_conductor_peak_A", "peak current of the protective conductor in a surge", bench, "earth",
        "up", 0.03, hangs_on=BOARD,
    )  # fmt: skip
    yield Kind(
        "surge_earth_worst",
        "worst surge to earth for the board",
        bench,
        "worst",
        held_by=board,
        is_word=True,
    )
    for name, unit, what in (
        ("led_peak", "A", "peak current of the LEDs that carry most in a surge to earth"),
        ("led_reverse", "V", "reverse voltage of the LED that sees most in a surge to earth"),
    ):
        reading = f"surge_earth_{name}_{unit}"
        yield Kind(reading, what, bench, what.partition(" of ")[0], "up", 0.05)
        yield Kind(f"surge_earth_{name}_at", f"place of the {what.partition(' of ')[2]}", bench, "LED",
                   held_by=reading, is_word=True)  # fmt: skip
    yield Kind(
        "surge_earth_arrestor_peak_A", "peak current of what clamps to earth", bench, "arrestor", "up", 0.03
    )
    yield Kind(
        "surge_earth_follow_A", "current the mains feed through it afterwards (limited only by the network)",
        bench, "follow", "up", 0.1,
    )  # fmt: skip
    yield Kind(
        "surge_earth_follow_ms", "time until that follow current is zero", bench, "follow, until", "up", 0.1
    )
    yield from weakest("surge_earth_", "in the surge to earth", bench)


def insulation() -> Iterator[Kind]:
    """What tests of the insulation show."""
    bench = ("insulation",)
    yield Kind("insulation_dc_uA", "current of the insulation test at 500 V d.c.", bench, "500 V d.c.", "up")
    yield Kind("insulation_Mohm", "resistance of the insulation", bench, "insulation", "down")
    yield Kind("insulation_test_V", "voltage of the a.c. test, basic insulation", bench, "a.c. test")
    yield Kind(
        "insulation_ac_mA",
        "current of the a.c. test, line and neutral tied, rms",
        bench,
        "a.c.",
        hangs_on=BOARD,
    )
    yield Kind(
        "insulation_trip_mA", "trip that the a.c. test needs at least", bench, "trip from", hangs_on=BOARD
    )
    yield Kind("insulation_alone_mA", "current of the a.c. test on the line alone, rms", bench, "line alone")
    yield Kind(
        "insulation_between_V",
        "peak voltage between line and neutral in that test",
        bench,
        "line alone, L-N",
        "up",
    )
    yield Kind(
        "insulation_stressed", "what the a.c. test drives most current through", bench, "stressed",
        held_by="insulation_ac_mA", is_word=True,
    )  # fmt: skip


def shared_circuit() -> Iterator[Kind]:
    """How many lamps."""
    bench = ("shared-circuit",)
    yield Kind(
        "shared_rcd_lamps", "lamps at which a 30 mA residual-current device may trip", bench, "30 mA device",
        "down", hangs_on=BOARD,
    )  # fmt: skip
    yield Kind("shared_steady_lamps", "lamps whose current is that of a 16 A breaker", bench, "16 A", "down")
    for curve in ("b16", "c16"):
        name = curve.upper()
        yield Kind(
            f"shared_{curve}_hold_lamps", f"lamps that a {name} breaker surely holds at switch-on", bench,
            f"{name} holds", "down", 0.1,
        )  # fmt: skip
        yield Kind(
            f"shared_{curve}_trip_lamps", f"lamps that surely trip a {name} breaker at switch-on", bench,
            f"{name} trips", "down", 0.1,
        )  # fmt: skip
        yield Kind(
            f"shared_{curve}_bound", f"what bounds the lamps on a {name} breaker", bench, "bound",
            held_by=f"shared_{curve}_hold_lamps", is_word=True,
        )  # fmt: skip
    yield Kind("shared_one_peak_A", "peak inrush of one lamp alone", bench, "one lamp", "up", 0.02)
    yield Kind("shared_all_peak_A", "peak inrush of as many as a B16 breaker holds", bench, "all", "up", 0.1)
