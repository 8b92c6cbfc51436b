"""Trade notation: what is understood, what is refused, and that what is printed can be read again."""

from __future__ import annotations

import math
from contextlib import suppress

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from coldiron.quantities import (
    AMPERE,
    AMPERE_SQUARED_SECOND,
    CELSIUS,
    DEGREE,
    FARAD,
    HENRY,
    HERTZ,
    HOUR,
    JOULE_PER_KELVIN,
    KELVIN_PER_WATT,
    METRE,
    OHM,
    PER_KELVIN,
    RATIO,
    SECOND,
    SQUARE_METRE,
    VOLT,
    VOLT_PER_KELVIN,
    WATT,
    NotUnderstood,
    Unit,
    format_quantity,
)

UNITS = (
    AMPERE, AMPERE_SQUARED_SECOND, CELSIUS, DEGREE, FARAD, HENRY, HERTZ, HOUR, JOULE_PER_KELVIN,
    KELVIN_PER_WATT, METRE, OHM, PER_KELVIN, RATIO, SECOND, SQUARE_METRE, VOLT, VOLT_PER_KELVIN, WATT,
)  # fmt: skip


@pytest.mark.parametrize(
    ("unit", "written", "value"),
    [
        # IEC 60062, resistance and capacitance codes: the letter stands for the decimal point.
        (OHM, "R47", 0.47),
        (OHM, "4R7", 4.7),
        (OHM, "47R", 47.0),
        (OHM, "4k7", 4700.0),
        (OHM, "4K7", 4700.0),
        (OHM, "47k", 47e3),
        (OHM, "4M7", 4.7e6),
        (OHM, "10M", 10e6),
        (FARAD, "p33", 0.33e-12),
        (FARAD, "3p3", 3.3e-12),
        (FARAD, "33n", 33e-9),
        (FARAD, "3µ3", 3.3e-6),
        (FARAD, "47u", 47e-6),
        (FARAD, "4m7", 4.7e-3),
        # SI prefixes and unit symbols (SI brochure, 9th edition).
        (FARAD, "47 µF", 47e-6),
        (FARAD, "0.1uF", 0.1e-6),
        (OHM, "10 mΩ", 0.01),
        (OHM, "2.2 kohm", 2200.0),
        (VOLT, "230 V", 230.0),
        (VOLT, "1 kV", 1000.0),
        (VOLT, "+12 V", 12.0),
        (AMPERE, "45 mA", 0.045),
        (HENRY, "1.5 mH", 1.5e-3),
        (WATT, "2 W", 2.0),
        (HERTZ, "100 kHz", 100e3),
        (SECOND, "2 µs", 2e-6),
        (SECOND, "70 min", 4200.0),
        (HOUR, "2000 h", 2000.0),
        (METRE, "120 mm", 0.12),
        (METRE, "1.5 m", 1.5),
        (SQUARE_METRE, "450 cm²", 0.045),
        (SQUARE_METRE, "0.5 m2", 0.5),
        (CELSIUS, "85 °C", 85.0),
        (CELSIUS, "-10 C", -10.0),
        (DEGREE, "90°", 90.0),
        (KELVIN_PER_WATT, "1.5 K/W", 1.5),
        (KELVIN_PER_WATT, "1.5K/W", 1.5),
        (KELVIN_PER_WATT, "20 °C/W", 20.0),
        (JOULE_PER_KELVIN, "60 J/K", 60.0),
        (VOLT_PER_KELVIN, "-2 mV/K", -0.002),
        (VOLT_PER_KELVIN, "−2 mV/°C", -0.002),
        (PER_KELVIN, "-0.15 %/K", -0.0015),
        (PER_KELVIN, "0.015/K", 0.015),
        (AMPERE_SQUARED_SECOND, "3.5 A²s", 3.5),
        (RATIO, "5 %", 0.05),
        (RATIO, "0.05", 0.05),
        # A bare number is in the base unit.
        (OHM, 47, 47.0),
        (FARAD, 4.7e-5, 4.7e-5),
        (OHM, "1e3", 1000.0),
    ],
)
def test_reads_what_the_trade_writes(unit: Unit, written: object, value: float) -> None:
    assert unit.parse(written) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize("micro", ["\u00b5", "\u03bc", "u"])
@pytest.mark.parametrize("space", ["", " ", "\u00a0", "\u202f"])
def test_either_micro_sign_and_any_space(micro: str, space: str) -> None:
    # Unicode: U+00B5 is the compatibility form of U+03BC; both are on keyboards.
    assert FARAD.parse(f"47{space}{micro}F") == pytest.approx(47e-6)


@pytest.mark.parametrize("ohm", ["\u2126", "\u03a9"])
def test_either_ohm_sign(ohm: str) -> None:
    # Unicode: U+2126 is the compatibility form of U+03A9.
    assert OHM.parse(f"4.7 k{ohm}") == pytest.approx(4700.0)


@pytest.mark.parametrize(
    ("unit", "written", "expected", "nearest"),
    [
        (FARAD, "4k7", "a capacitance, such as 47 µF", ""),
        (FARAD, "4R7", "a capacitance, such as 47 µF", ""),
        (FARAD, "10M", "a capacitance, such as 47 µF", ""),
        (FARAD, "47 uf", "a capacitance, such as 47 µF", "47 µF"),
        (FARAD, "47f", "a capacitance, such as 47 µF", "47 F"),
        (OHM, "4.7 V", "a resistance, such as 4k7 or 10 Ω", ""),
        (OHM, "1,5", "a resistance, such as 4k7 or 10 Ω", "1.5"),
        (OHM, "1,000", "a resistance, such as 4k7 or 10 Ω", ""),
        (OHM, "1_000", "a resistance, such as 4k7 or 10 Ω", ""),
        (OHM, "4k7k", "a resistance, such as 4k7 or 10 Ω", ""),
        (OHM, "4k7J", "a resistance, such as 4k7 or 10 Ω", ""),
        (OHM, "$10", "a resistance, such as 4k7 or 10 Ω", ""),
        (OHM, "0x10", "a resistance, such as 4k7 or 10 Ω", ""),
        (OHM, "10 Ω 5 %", "a resistance, such as 4k7 or 10 Ω", "10 Ω"),
        (OHM, "1 Meg", "a resistance, such as 4k7 or 10 Ω", "1 MΩ"),
        (OHM, "10 kOhms", "a resistance, such as 4k7 or 10 Ω", "10 kΩ"),
        (VOLT, "275VAC", "a voltage, such as 230 V", "275 V"),
        (VOLT, "230 V AC", "a voltage, such as 230 V", "230 V"),
        (VOLT, "230 V~", "a voltage, such as 230 V", "230 V"),
        (VOLT, "325 volts d.c.", "a voltage, such as 230 V", "325 V"),
        (AMPERE, "60 mA ±5%", "a current, such as 45 mA", "60 mA"),
        (AMPERE, "60 MA", "a current, such as 45 mA", "60 mA"),
        (FARAD, "0.1 mfd", "a capacitance, such as 47 µF", "0.1 µF"),
        (FARAD, "100 MMFD", "a capacitance, such as 47 µF", "100 pF"),
        # IEC 60062, 3 and 4: two digits and a power of ten in picofarads, a letter for the tolerance.
        (FARAD, "104", "a capacitance, such as 47 µF", "100 nF"),
        (FARAD, "104K", "a capacitance, such as 47 µF", "100 nF"),
        (FARAD, 473, "a capacitance, such as 47 µF", "47 nF"),
        (RATIO, "±5 %", "a share, such as 5 % or 0.05", "5 %"),
        (OHM, "١٠", "a resistance, such as 4k7 or 10 Ω", ""),
        (OHM, "nan", "a resistance, such as 4k7 or 10 Ω", ""),
        (OHM, "", "a resistance, such as 4k7 or 10 Ω", ""),
        (OHM, "9" * 5000, "a resistance, such as 4k7 or 10 Ω", ""),
        (OHM, True, "a resistance, such as 4k7 or 10 Ω", ""),
        (OHM, None, "a resistance, such as 4k7 or 10 Ω", ""),
        (OHM, math.nan, "a finite number, such as 4k7 or 10 Ω", ""),
        (OHM, math.inf, "a finite number, such as 4k7 or 10 Ω", ""),
        (OHM, "1e400", "a finite number, such as 4k7 or 10 Ω", ""),
        (OHM, 10**400, "a finite number, such as 4k7 or 10 Ω", ""),
        (VOLT, "230 v", "a voltage, such as 230 V", "230 V"),
        (VOLT, "10 MV", "a voltage, such as 230 V", ""),
        (AMPERE, "45 mV", "a current, such as 45 mA", ""),
        (CELSIUS, "85 F", "a temperature, such as 85 °C", ""),
        (HERTZ, "50 hz", "a frequency, such as 50 Hz", "50 Hz"),
        (RATIO, "5 m", "a share, such as 5 % or 0.05", ""),
    ],
)
def test_refuses_and_says_what_it_wanted(unit: Unit, written: object, expected: str, nearest: str) -> None:
    with pytest.raises(NotUnderstood) as refusal:
        unit.parse(written)
    assert (refusal.value.expected, refusal.value.nearest) == (expected, nearest)


@pytest.mark.parametrize(
    ("value", "symbol", "text"),
    [
        (47e-6, "F", "47 µF"),
        (4700.0, "Ω", "4.7 kΩ"),
        (0.4, "Ω", "400 mΩ"),
        (795.8e-6, "H", "795.8 µH"),
        (0.05, "%", "5 %"),
        (-0.002, "V/K", "-2 mV/K"),
        (-0.0015, "%/K", "-0.15 %/K"),
        (1.5, "K/W", "1.5 K/W"),
        (85.0, "°C", "85 °C"),
        (90.0, "°", "90°"),
        (0.0, "V", "0 V"),
    ],
)
def test_writes_for_people(value: float, symbol: str, text: str) -> None:
    assert format_quantity(value, symbol) == text


@given(
    unit=st.sampled_from(UNITS),
    value=st.one_of(st.floats(1e-12, 1e9), st.floats(-1e9, -1e-12), st.just(0.0)),
)
@example(unit=VOLT, value=999.9999999)
@example(unit=SECOND, value=60.0)
def test_what_is_printed_is_read_back(unit: Unit, value: float) -> None:
    assert unit.parse(unit.format(value)) == pytest.approx(value, rel=1e-6, abs=1e-30)


@given(
    unit=st.sampled_from(UNITS),
    junk=st.one_of(st.text(max_size=60), st.from_regex(r"[0-9.,eEkKmMµuRΩFV %-]{1,12}")),
)
@example(unit=OHM, junk="1e999")
@example(unit=FARAD, junk="\ud800")
def test_junk_is_a_finite_number_or_refused(unit: Unit, junk: str) -> None:
    with suppress(NotUnderstood):
        assert math.isfinite(unit.parse(junk))


@given(text=st.from_regex(r"[0-9]{1,4}(\.[0-9]{1,4})?", fullmatch=True))
def test_code_and_plain_form_agree(text: str) -> None:
    # IEC 60062: "4k7" is 4.7 kΩ.
    whole, _, part = text.partition(".")
    assert OHM.parse(f"{whole}k{part}") == pytest.approx(OHM.parse(f"{text} kΩ"), rel=1e-12)
