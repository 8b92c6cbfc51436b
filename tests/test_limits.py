"""Verdicts against the rows of the standards, written down here a second time, and laws of any limit."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldiron.errors import FileProblems
from coldiron.lamp.body import Housing, Ratings
from coldiron.lamp.parts import FilmCapacitor, LedString, Mains
from coldiron.limits import Verdict, check_replacements, verdict_frame
from coldiron.limits.rules import shipped_limits
from coldiron.limits.verdict import NO_LIMIT, classify
from coldiron.resources import resource_dir
from coldiron.study.load import study_from
from judging import current, done_of, judged, study_of
from lamps import plain_lamp, reservoir

CLASS_C = "IEC 61000-3-2"
BULB = plain_lamp(
    mains=Mains(voltage_v=120.0, frequency_hz=60.0),
    housing=Housing(earthed=False, connection="screw cap"),
    ratings=Ratings(power_w=9.0, kind="self-ballasted lamp"),
    string=LedString(series=40, parallel=4, forward_voltage_v=3.0, forward_current_a=0.06, slope_ohm=3.2),
)


def of(verdicts: list[Verdict], standard: str) -> list[Verdict]:
    return [verdict for verdict in verdicts if verdict.standard == standard]


def one(verdicts: list[Verdict], standard: str, reading: str) -> Verdict:
    [found] = [v for v in of(verdicts, standard) if v.reading == reading]
    return found


# IEC 61000-3-2, class C, above 25 W: percent of the fundamental; 30 times the power factor for the third.
ABOVE_25_W = {2: 2.0, 3: 30.0 * 0.9, 5: 10.0, 7: 7.0, 9: 5.0} | dict.fromkeys(range(11, 40, 2), 3.0)


@pytest.mark.parametrize(("order", "limit_pct"), ABOVE_25_W.items())
def test_class_c_above_25_w(order: int, limit_pct: float) -> None:
    for value_pct, word in (
        (0.85 * limit_pct, "ok"),
        (0.95 * limit_pct, "close"),
        (1.01 * limit_pct, "over"),
    ):
        verdict = one(judged(current(200.0, 0.9, {order: value_pct})), CLASS_C, f"harmonic_{order}_pct")
        assert verdict.verdict == word
        assert verdict.limit == pytest.approx(limit_pct)


def test_class_c_judges_every_order_of_its_table_and_no_other() -> None:
    held = of(judged(current(200.0, 0.9, {})), CLASS_C)
    assert {v.reading for v in held} == {f"harmonic_{order}_pct" for order in ABOVE_25_W}
    assert {v.verdict for v in held} == {"ok"}


def test_class_c_does_not_judge_what_is_below_5_ma_or_0_6_percent() -> None:
    # IEC 61000-3-2: a harmonic below 0.6 % of the input current or 5 mA, the greater of both, is disregarded.
    small = judged(current(30.0, 0.9, {39: 3.8}))  # 3.8 % of 130 mA is 4.96 mA
    assert one(small, CLASS_C, "harmonic_39_pct").verdict == "ok"
    large = judged(current(30.0, 0.9, {39: 3.9}))  # 5.09 mA
    assert one(large, CLASS_C, "harmonic_39_pct").verdict == "over"
    # 0.6 % of a current of 4 A is 24 mA, of a fundamental of 0.58 A 4.1 %.
    distorted = judged(current(133.4, 0.9, {39: 4.0}, input_current_A=4.0))
    assert one(distorted, CLASS_C, "harmonic_39_pct").verdict == "ok"


# IEC 61000-3-2, 5 W to 25 W, first alternative (class D column): mA for each watt. At 230 V and a
# displacement factor of 1 the fundamental is 1/230 A a watt, so 3.4 mA/W is 78.2 % (closed form).
FIRST = {3: 3.4, 5: 1.9, 7: 1.0, 9: 0.5, 11: 0.35, 13: 3.85 / 13}
OTHERS_BROKEN = {"conduction_start_deg": 70.0, "current_thd_pct": 90.0}


@pytest.mark.parametrize(("order", "ma_per_w"), FIRST.items())
def test_class_c_first_alternative(order: int, ma_per_w: float) -> None:
    limit_pct = 0.1 * ma_per_w * 230.0
    [kept] = of(judged(current(24.0, 0.6, {order: 0.99 * limit_pct}, **OTHERS_BROKEN)), CLASS_C)
    assert kept.verdict == "close"
    assert "alternative 1" in kept.note
    [lost] = of(judged(current(24.0, 0.6, {order: 1.01 * limit_pct}, **OTHERS_BROKEN)), CLASS_C)
    assert (lost.verdict, lost.reading) == ("over", f"harmonic_{order}_pct")
    assert lost.provenance == "from memory"


def test_third_harmonic_of_the_first_alternative_is_78_2_percent_at_230_v() -> None:
    [verdict] = of(judged(current(20.0, 0.6, {3: 77.0}, conduction_start_deg=70.0)), CLASS_C)
    assert (verdict.reading, verdict.verdict) == ("harmonic_3_pct", "close")
    assert verdict.limit == pytest.approx(78.2)


@pytest.mark.parametrize(
    ("broken", "reading"),
    [
        # IEC 61000-3-2, second alternative: h3 86 %, h5 61 % (from memory); start 60°, peak 65°, end 90°.
        ({"harmonic_3_pct": 87.0}, "harmonic_3_pct"),
        ({"harmonic_5_pct": 62.0}, "harmonic_5_pct"),
        ({"conduction_start_deg": 60.5}, "conduction_start_deg"),
        ({"conduction_peak_deg": 65.5}, "conduction_peak_deg"),
        ({"conduction_stop_deg": 89.0}, "conduction_stop_deg"),
    ],
)
def test_class_c_second_alternative(broken: dict[str, float], reading: str) -> None:
    pulses = current(20.0, 0.6, {3: 84.0, 5: 58.0, 7: 40.0, 9: 30.0})
    [kept] = of(judged(pulses), CLASS_C)
    assert kept.verdict == "close"
    assert "alternative 2" in kept.note
    [lost] = of(judged(pulses | broken), CLASS_C)
    assert (lost.verdict, lost.reading) == ("over", reading)


def test_class_c_third_alternative() -> None:
    # IEC 61000-3-2 Ed. 5, third alternative, from memory: THD 70 %, h3 35 %, h5 25 %, h7 30 %, h9 20 %.
    flat = current(20.0, 0.9, {3: 34.0, 5: 24.0, 9: 19.0, 11: 19.0}, conduction_start_deg=70.0)
    [kept] = of(judged(flat), CLASS_C)
    assert kept.verdict == "close"
    assert "alternative 3" in kept.note
    [lost] = of(judged(flat | {"harmonic_3_pct": 36.0}), CLASS_C)
    assert lost.verdict == "over"


@pytest.mark.parametrize(("power_w", "judges"), [(4.9, False), (5.0, True), (25.0, True), (25.1, True)])
def test_class_c_by_power(power_w: float, judges: bool) -> None:
    # IEC 61000-3-2 Ed. 5: no limits below 5 W.
    held = of(judged(current(power_w, 0.9, {})), CLASS_C)
    assert (held[0].verdict != NO_LIMIT) == judges
    assert (len(held) > 1) == (power_w > 25)


def test_no_limit_at_120_v_is_printed_as_such() -> None:
    # IEC 61000-3-2 applies from 220 V nominal up.
    [verdict] = of(judged(current(30.0, 0.9, {3: 80.0}), lamp=BULB), CLASS_C)
    assert verdict.verdict == NO_LIMIT
    assert verdict.note.startswith("no limit at 120 V")
    assert math.isnan(verdict.limit)


def test_a_120_v_lamp_on_240_v_is_on_the_other_system() -> None:
    held = of(judged(current(30.0, 0.9, {3: 80.0}), lamp=BULB, voltage_v=240.0, frequency_hz=50.0), CLASS_C)
    assert any(verdict.verdict == "over" for verdict in held)


@pytest.mark.parametrize("voltage_v", [207.0, 253.0])
def test_class_c_is_held_at_the_rated_supply_only(voltage_v: float) -> None:
    [verdict] = of(judged(current(30.0, 0.9, {3: 80.0}), voltage_v=voltage_v), CLASS_C)
    assert verdict.verdict == NO_LIMIT
    assert "rated 230 V only" in verdict.note


@pytest.mark.parametrize(
    # IEEE 1789-2015, 8.1.1: 0.08 f low risk, 0.0333 f no effect from 90 Hz; below it 0.025 f and 0.01 f.
    ("mains_hz", "low_risk", "no_effect"),
    [(50.0, 8.0, 3.33), (60.0, 9.6, 4.0), (44.0, 0.025 * 88, 0.88)],
)
def test_ieee_1789(mains_hz: float, low_risk: float, no_effect: float) -> None:
    held = of(judged({"flicker_pct": 5.0}, frequency_hz=mains_hz), "IEEE 1789")
    assert [v.limit for v in held] == pytest.approx([low_risk, no_effect], rel=2e-3)
    assert [v.verdict for v in held] == ["ok" if low_risk > 5.0 / 0.9 else "over", "over"]


def test_eu_2019_2020() -> None:
    # Regulation (EU) 2019/2020: SVM at most 0.4, PstLM at most 1.0 at full load.
    kept = judged({"svm": 0.35, "pst_lm": 0.5})
    assert [v.verdict for v in kept] == ["ok", "ok"]
    broken = judged({"svm": 0.41, "pst_lm": 1.01})
    assert [v.verdict for v in broken] == ["over", "over"]
    assert "0.9" in broken[0].note  # texts do not agree on the transition


@pytest.mark.parametrize(("use", "judges"), [("indoor", True), ("outdoor", False), ("industrial", False)])
def test_svm_has_no_limit_outdoors(use: str, judges: bool) -> None:
    # Regulation (EU) 2019/2020, Annex II, table 4: SVM, but for light sources intended for outdoor or
    # industrial use; PstLM has no such exemption (from memory).
    lamp = plain_lamp(housing=Housing.model_validate({"earthed": True, "use": use}))
    svm, pst = judged({"svm": 3.0, "pst_lm": 1.2}, lamp=lamp)
    assert svm.verdict == ("over" if judges else NO_LIMIT)
    assert judges or svm.note == f"light sources for {use} use are exempt"
    assert pst.verdict == "over"


@pytest.mark.parametrize(
    ("voltage_v", "frequency_hz", "why"),
    [
        (230.0, 50.0, ""), (220.0, 50.0, ""), (240.0, 50.0, ""),
        (240.0, 60.0, "for a mains of 50 Hz"), (277.0, 50.0, "ends at 253 V"),
        (120.0, 60.0, "starts at 207 V"),
    ],
)  # fmt: skip
def test_eu_mains_are_230_v_within_10_percent_at_50_hz(
    voltage_v: float, frequency_hz: float, why: str
) -> None:
    # Regulation (EU) 2019/2020, Annex I: mains voltage is 230 V (± 10 %) alternating at 50 Hz (from memory).
    mains = Mains(voltage_v=voltage_v, frequency_hz=frequency_hz)
    [verdict] = judged({"svm": 0.5}, lamp=plain_lamp(mains=mains, string=BULB.string, varistor=None))
    assert (verdict.verdict == "over") == (not why)
    assert why in verdict.note


@pytest.mark.parametrize(
    # Displacement factor, from memory: none up to 5 W, 0.5 up to 10 W, 0.7 up to 25 W, 0.9 above.
    ("power_w", "least"), [(5.0, None), (10.0, 0.5), (25.0, 0.7), (26.0, 0.9)]
)  # fmt: skip
def test_eu_displacement_factor_by_power(power_w: float, least: float | None) -> None:
    [verdict] = judged({"displacement_factor": 0.6, "input_power_W": power_w})
    if least is None:
        assert verdict.verdict == NO_LIMIT
    else:
        assert verdict.limit == least
        assert verdict.verdict == ("over" if least > 0.6 else "ok")
        assert verdict.provenance == "from memory"


UNPLUGGED = {
    "discharge_34V_s": 20.0, "discharge_50V_s": 15.0, "discharge_60V_s": 12.0,
    "discharge_pins_34V_s": 0.03, "discharge_pins_60V_s": 0.02,
}  # fmt: skip


def test_discharge_of_a_plugged_luminaire_is_judged_on_its_pins_not_on_its_bus() -> None:
    # IEC 60598-1, 8.2.7: 34 V after 1 s on the pins of a portable one; 60 V after 5 s of another; 50 V after
    # 1 min for more than 0.5 µF. Never both rules for the pins of one lamp.
    for portable, reading, limit_s in (
        (True, "discharge_pins_34V_s", 1.0),
        (False, "discharge_pins_60V_s", 5.0),
    ):
        housing = Housing(earthed=True, connection="plug", portable=portable)
        lamp = plain_lamp(housing=housing, reservoir=reservoir(22e-6))
        held = judged(UNPLUGGED, lamp=lamp, bench="unplug")
        assert {(v.reading, v.limit) for v in held} == {("discharge_50V_s", 60.0), (reading, limit_s)}
        assert {v.verdict for v in held} == {"ok"}
        assert "bridge keeps the bus off" in one(held, "IEC 60598-1", reading).note
        slow = judged(UNPLUGGED | {reading: 1.2 * limit_s}, lamp=lamp, bench="unplug")
        assert [v.reading for v in slow if v.verdict == "over"] == [reading]


def test_a_standard_for_luminaires_says_nothing_of_a_bulb() -> None:
    # IEC 60598-1 is titled "Luminaires"; self-ballasted LED lamps have IEC 62560 (scopes from memory).
    lamp = plain_lamp(ratings=Ratings(power_w=9.0, kind="self-ballasted lamp"), reservoir=reservoir(22e-6))
    held = judged(UNPLUGGED | {"discharge_50V_s": math.inf}, lamp=lamp, bench="unplug")
    assert {v.verdict for v in held} == {NO_LIMIT}
    assert all("this is a self-ballasted lamp" in v.note for v in held)


def test_discharge_is_held_at_the_rated_voltage() -> None:
    # IEC 60598-1, 8.2.7: "at rated voltage" (from memory).
    lamp = plain_lamp(reservoir=reservoir(22e-6))
    held = judged(UNPLUGGED | {"discharge_50V_s": 70.0}, lamp=lamp, bench="unplug", voltage_v=253.0)
    assert one(held, "IEC 60598-1", "discharge_50V_s").verdict == NO_LIMIT


def test_discharge_of_fixed_wiring_and_of_a_screw_cap() -> None:
    for connection in ("fixed wiring", "screw cap"):
        lamp = plain_lamp(housing=Housing(earthed=True, connection=connection), reservoir=reservoir(22e-6))
        held = judged(UNPLUGGED | {"discharge_50V_s": math.inf}, lamp=lamp, bench="unplug")
        assert {v.reading for v in held if v.verdict != NO_LIMIT} == {"discharge_50V_s"}
        assert one(held, "IEC 60598-1", "discharge_50V_s").verdict == "over"
        assert all(connection in v.note for v in held if v.reading.startswith("discharge_pins"))
        assert len(held) == 2


@pytest.mark.parametrize(
    # IEC 60598-1, 8.2.7: from 0.1 µF, from 0.25 µF below 150 V; 0.5 µF for the rule of one minute.
    ("mains_v", "film_f", "judges"),
    [(230.0, 100e-9, False), (230.0, 101e-9, True), (120.0, 250e-9, False), (120.0, 251e-9, True)],
)
def test_small_capacitors_are_exempt(mains_v: float, film_f: float, judges: bool) -> None:
    lamp = plain_lamp(
        mains=Mains(voltage_v=mains_v, frequency_hz=50.0),
        housing=Housing(earthed=True, connection="plug"),
        film=FilmCapacitor(capacitance_f=film_f),
        string=BULB.string,
    )
    held = [v for v in judged(UNPLUGGED, lamp=lamp, bench="unplug") if v.standard == "IEC 60598-1"]
    pins = [v for v in held if v.reading.startswith("discharge_pins")]
    assert [v.verdict != NO_LIMIT for v in pins] == [judges]
    assert one(held, "IEC 60598-1", "discharge_50V_s").verdict == NO_LIMIT


def test_every_limit_says_where_it_comes_from() -> None:
    for limit in shipped_limits():
        assert limit.source
        assert limit.clause
        assert limit.provenance in ("verified", "from memory")


def test_every_verdict_says_whose_limit_it_is_and_names_it() -> None:
    # Which texts are law, which are about touch and which only recommend: read in the texts themselves.
    readings = current(45.0, 0.9, {}) | {"svm": 0.3, "flicker_pct": 1.0, "bus_highest_V": 300.0}
    lamp = plain_lamp(housing=Housing(earthed=True, connection="plug"), reservoir=reservoir(22e-6))
    held = judged(readings, lamp=lamp) + judged(UNPLUGGED, lamp=lamp, bench="unplug")
    groups = {(v.standard, v.group) for v in held}
    assert groups >= {
        ("IEC 61000-3-2", "law"), ("Regulation (EU) 2019/2020", "law"), ("IEEE 1789", "practice"),
        ("IEC 60598-1", "shock"), ("rating of the part: film", "rating"),
    }  # fmt: skip
    ids = {v.limit_id for v in held}
    assert {"eu-2019-2020.svm", "ieee-1789.low-risk", "iec-61000-3-2.h3", "rating.film.voltage"} <= ids
    assert {v.limit_id for v in held if v.group != "rating"} <= {limit.id for limit in shipped_limits()}
    [own] = judged({"svm": 0.5}, limits={"replace": {"eu-2019-2020.svm": 0.9}})
    assert (own.limit_id, own.group) == ("eu-2019-2020.svm", "study")


def test_limit_files_name_standard_and_edition() -> None:
    files = sorted((resource_dir("variants") / "limits").glob("*.toml"))
    assert files
    for path in files:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        assert table["standard"]
        assert table["edition"]


def test_a_study_replaces_a_limit_and_sets_the_margin() -> None:
    replaced = {"replace": {"eu-2019-2020.svm": {"value": 0.9, "source": "our specification"}}, "margin": 0.5}
    [verdict] = judged({"svm": 0.5}, limits=replaced)
    assert (verdict.verdict, verdict.limit, verdict.source) == ("close", 0.9, "our specification")
    assert verdict.provenance == "study"
    assert judged({"svm": 5.0}, limits={"replace": {"eu-2019-2020.svm": "none"}}) == []


def test_a_replaced_multiple_is_in_the_unit_of_the_reading() -> None:
    held = judged({"flicker_pct": 20.0}, limits={"replace": {"ieee-1789.low-risk": 25}})
    assert [(v.limit, v.verdict) for v in held] == [(25.0, "ok"), (pytest.approx(3.33), "over")]


def test_replacing_a_limit_that_does_not_exist_names_the_nearest() -> None:
    study = study_of(plain_lamp(), replace={"eu-2019-2020.svn": 0.9})
    with pytest.raises(FileProblems) as caught:
        check_replacements(study)
    assert "eu-2019-2020.svn" in str(caught.value)
    assert "did you mean eu-2019-2020.svm?" in str(caught.value)


@pytest.mark.parametrize("written", [True, -1, "0.9", {"value": 1, "because": "so"}, {"value": []}, [0.9]])
def test_a_replacement_that_is_no_limit_is_refused(written: object) -> None:
    table = {"lamp": "kerbside-flood", "limits": {"replace": {"eu-2019-2020.svm": written}}}
    with pytest.raises(FileProblems) as caught:
        study_from(table, Path("study.toml"))
    assert "limits.replace" in str(caught.value)


def test_an_id_without_quotes_is_understood() -> None:
    table = tomllib.loads('lamp = "kerbside-flood"\n[limits.replace]\neu-2019-2020.svm = 0.9\n')
    study = study_from(table, Path("study.toml"))
    assert study.limits.replace["eu-2019-2020.svm"].value == 0.9


def test_failed_and_skipped_cases_have_no_verdicts() -> None:
    assert judged({}) == []


def test_a_reading_that_is_no_number_has_no_verdict() -> None:
    [verdict] = judged({"svm": math.nan})
    assert verdict.verdict == NO_LIMIT


VALUES = st.floats(0.0, 1e6)


@given(value=VALUES, limit=VALUES, looser=VALUES, margin=st.floats(0.0, 0.9), least=st.booleans())
def test_a_looser_limit_never_turns_ok_into_over(
    value: float, limit: float, looser: float, margin: float, least: bool
) -> None:
    # A law of any limit.
    order = ("ok", "close", "over")
    tight, loose = sorted((limit, looser), reverse=least)
    before = classify(value, tight, margin, least=least)
    after = classify(value, loose, margin, least=least)
    assert order.index(after) <= order.index(before)


@given(value=VALUES, limit=VALUES, least=st.booleans())
def test_a_wider_margin_never_changes_what_is_over(value: float, limit: float, least: bool) -> None:
    narrow, wide = (classify(value, limit, margin, least=least) for margin in (0.0, 0.5))
    assert (narrow == "over") == (wide == "over")
    assert (narrow == "over") == (value < limit if least else value > limit)


def test_frame_has_a_row_for_each_verdict() -> None:
    frame = verdict_frame(judged({"svm": 0.5, "displacement_factor": 1.0, "input_power_W": 45.0}))
    assert list(frame["verdict"]) == ["over", "ok"]
    assert list(frame["bound"]) == ["at most", "at least"]
    assert list(verdict_frame([]).columns) == list(frame.columns)


def test_verdicts_keep_the_order_of_the_cases() -> None:
    from coldiron.limits import judge

    lamp = plain_lamp()
    done = [done_of({"svm": 0.1}, variant=name) for name in ("b", "a")]
    assert [v.variant for v in judge(study_of(lamp), done)] == ["b", "a"]
