"""The parts of a lamp: frozen, closed, strict models with the unit as the last word of each name.

A file writes the key without its unit ("resistance"), because the value carries it ("4k7"). Every value
that a person cannot easily measure has a typical default; `provenance` says where each number came from.
What a part needs from another part (a sum, a share, an effective rating) is a property here, so that
decks, limits and drawings agree on it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from coldiron.lamp.model import Inconsistency, OneOf, Part
from coldiron.quantities import (
    AMPERE,
    CELSIUS,
    FARAD,
    OHM,
    VOLT,
    WATT,
    Ampere,
    AmperePerSquareVolt,
    AmpereSquaredSecond,
    Celsius,
    Farad,
    Henry,
    Hertz,
    Hour,
    Joule,
    Ohm,
    PerKelvin,
    Ratio,
    Second,
    Volt,
    VoltPerKelvin,
    Watt,
)

Array = NDArray[np.float64]

THERMAL_VOLTAGE_25C_V = 1.380649e-23 * 298.15 / 1.602176634e-19
"""kT/q at 25 °C from the exact SI constants [V]."""

TYPICAL_SERIES_RATIO = 0.045
"""Share of its forward voltage that the series resistance of an LED takes at the test current."""

STEEPEST_JUNCTION = 250.0
"""Most that junction voltage over N·kT/q may be: beyond it the saturation current leaves a float's range."""

ESR_HZ = 120.0
"""Frequency for which the ESR of an electrolytic is told."""

TYPICAL_OVERDRIVE_V = 1.4
"""Overdrive with which a sink's transistor passes its peak current (typical of a 500 V chip, from memory)."""

SHUT_OFF_HYSTERESIS_K = 30.0
"""Restart below shut-off of a sink that has a hard one: off at 135 °C, back at 105 °C (one maker's table)."""
SUPPLY_FULL_V = 5.0
"""Drain voltage by which a chip takes three quarters of its supply current: its logic runs on about as
much. No reading of a lamp that is lit hangs on it: there the drain stands higher."""
LEAST_FOLDBACK_V = 5.0
"""Least drain voltage of a power foldback: below it the chip would never reach its set current."""


def _waveforms() -> tuple[str, ...]:
    """Words of the supplies; known once their kinds are, which need the models of this module."""
    from coldiron.sources import SUPPLIES

    return tuple(SUPPLIES)


class Mains(Part):
    """The supply the lamp hangs on; impedance defaults to the reference of IEC 60725 (0.4 Ω + j0.25 Ω).

    `damping_ohm` lies across the inductance: the losses of house wiring at radio frequencies (typical, from
    memory). `waveform` is the supply's: a sine, or one with its crests cut off as rectifiers leave it.
    """

    voltage_v: Annotated[Volt, Field(ge=50, le=500)]
    frequency_hz: Annotated[Hertz, Field(ge=40, le=70)]
    resistance_ohm: Annotated[Ohm, Field(ge=0.001, le=100)] = 0.4
    inductance_h: Annotated[Henry, Field(ge=1e-6, le=0.1)] = 795.8e-6
    damping_ohm: Annotated[Ohm, Field(ge=10, le=1e5)] = 2200.0
    waveform: Annotated[str, OneOf(_waveforms)] = "sine"

    @property
    def peak_v(self) -> float:
        """Peak of a sine of that r.m.s. value [V]."""
        return math.sqrt(2.0) * self.voltage_v


class FusingResistor(Part):
    """A flameproof resistor in one leg that is also the fuse.

    `element` is what it is made of: that narrows the band in which a fault opens it, which is 750 to 1 where
    it is not known.
    `pulse_energy_j` is what it survives within 10 ms; unset, 2 J for each rated watt (wirewound of 1 to 3 W,
    from memory of makers' pulse charts).
    """

    resistance_ohm: Annotated[Ohm, Field(ge=0.01, le=10e3)]
    power_w: Annotated[Watt, Field(ge=0.05, le=50)] = 1.0
    pulse_energy_j: Annotated[Joule, Field(ge=1e-3, le=1e3)] | None = None
    tolerance_ratio: Annotated[Ratio, Field(ge=0, le=0.5)] = 0.05
    element: Literal["wirewound", "film"] | None = None

    @property
    def pulse_limit_j(self) -> float:
        """Energy it survives within one mains half cycle [J]."""
        return 2.0 * self.power_w if self.pulse_energy_j is None else self.pulse_energy_j


class Bridge(Part):
    """Four diodes, and the tracks behind them; the charge storage and breakdown are what a surge meets.

    `emission` says how forward voltage goes with current besides the series resistance (1.8: typical of
    diffused silicon rectifiers, from memory). Unset, `breakdown_voltage_v` is 10 % above the rating, where no
    good diode breaks down yet (typical). `stray_capacitance_f` is that of tracks and leads between its plus
    and minus (typical).
    """

    average_current_a: Annotated[Ampere, Field(ge=0.05, le=50)] = 1.0
    surge_current_a: Annotated[Ampere, Field(ge=1, le=1000)] = 30.0
    i2t_a2s: Annotated[AmpereSquaredSecond, Field(ge=0.01, le=1e4)] | None = None
    reverse_voltage_v: Annotated[Volt, Field(ge=50, le=3000)] = 1000.0
    forward_voltage_v: Annotated[Volt, Field(ge=0.4, le=2)] = 0.9
    forward_current_a: Annotated[Ampere, Field(ge=0.01, le=100)] = 0.5
    series_resistance_ohm: Annotated[Ohm, Field(ge=1e-3, le=5)] = 0.08
    junction_capacitance_f: Annotated[Farad, Field(ge=1e-12, le=1e-9)] = 15e-12
    storage_time_s: Annotated[Second, Field(ge=1e-9, le=1e-4)] = 2e-6
    emission: Annotated[float, Field(ge=1, le=3)] = 1.8
    breakdown_voltage_v: Annotated[Volt, Field(ge=50, le=5000)] | None = None
    stray_capacitance_f: Annotated[Farad, Field(ge=1e-12, le=1e-9)] = 20e-12

    @property
    def breakdown_v(self) -> float:
        """Reverse voltage at which a diode breaks down [V]."""
        return 1.1 * self.reverse_voltage_v if self.breakdown_voltage_v is None else self.breakdown_voltage_v

    @property
    def i2t_limit_a2s(self) -> float:
        """I²t it survives: as rated, else IFSM² · 8.3 ms / 2 of a half sine [A²s]."""
        return self.surge_current_a**2 * 8.3e-3 / 2 if self.i2t_a2s is None else self.i2t_a2s

    def inconsistencies(self) -> Iterator[Inconsistency]:
        """The junction must be left its share of the forward voltage."""
        least_v = 0.3 + self.series_resistance_ohm * self.forward_current_a
        if self.forward_voltage_v < least_v:
            yield Inconsistency(
                "forward_voltage",
                f"at least {VOLT.format(least_v, 4)} at {AMPERE.format(self.forward_current_a)} "
                f"(0.3 V and the drop in the series resistance)",
            )
        if self.breakdown_v < self.reverse_voltage_v:
            yield Inconsistency(
                "breakdown_voltage", f"at least the rating of {VOLT.format(self.reverse_voltage_v)}"
            )


class FilmCapacitor(Part):
    """The small capacitor across the bus behind the bridge."""

    capacitance_f: Annotated[Farad, Field(ge=1e-10, le=1e-5)]
    voltage_v: Annotated[Volt, Field(ge=50, le=2000)] = 400.0

    @property
    def proof_voltage_v(self) -> float:
        """Voltage between its terminals that it stands once for a minute: 1.6 times the rated one [V].

        References
        ----------
        IEC 60384-16, voltage proof; from memory.
        """
        return 1.6 * self.voltage_v


class BleedResistor(Part):
    """The resistor that empties the bus after unplugging."""

    resistance_ohm: Annotated[Ohm, Field(ge=1e3, le=100e6)]
    power_w: Annotated[Watt, Field(ge=0.05, le=50)] = 0.25


class ReservoirCapacitor(Part):
    """An electrolytic across the bus; it is judged by the voltage across its dielectric.

    Its equivalent series resistance is that of the dielectric, which falls with frequency as 1/f, and that of
    the electrolyte, which does not: `esr_ohm` is both at 100 or 120 Hz, as a meter for capacitors reads it,
    `esr_100khz_ohm` the electrolyte alone. Unset, the first follows from a loss factor of 0.15 at 120 Hz
    (typical of 400 V types, maximum 0.25); the second is the first less what the dielectric takes, half of
    it and at most a loss factor of 0.075 (makers allow 1.3 to 1.4 times the ripple current above 10 kHz).
    At -25 °C the electrolyte has `cold_esr_factor` times its resistance of 25 °C, between them by one
    exponential (typical, from memory; a maker's table of 400 V types allows an impedance of 14 times at
    120 Hz). What the cold takes of the capacitance is left out.

    References
    ----------
    Makers' application guides to aluminium electrolytics: ESR = D / (2 pi f C) + ESR_hf.
    """

    capacitance_f: Annotated[Farad, Field(ge=1e-8, le=1e-2)]
    voltage_v: Annotated[Volt, Field(ge=50, le=1000)] = 400.0
    esr_ohm: Annotated[Ohm, Field(ge=1e-3, le=1e4)] | None = None
    esr_100khz_ohm: Annotated[Ohm, Field(ge=1e-3, le=1e4)] | None = None
    cold_esr_factor: Annotated[float, Field(ge=1, le=200)] = 10.0
    tolerance_ratio: Annotated[Ratio, Field(ge=0, le=0.9)] = 0.2
    ripple_current_a: Annotated[Ampere, Field(ge=1e-3, le=100)] | None = None
    rated_life_h: Annotated[Hour, Field(ge=100, le=1e6)] = 2000.0
    rated_temperature_c: Annotated[Celsius, Field(ge=60, le=150)] = 105.0

    @property
    def series_ohm(self) -> float:
        """Equivalent series resistance at 120 Hz and 25 °C [Ω]."""
        if self.esr_ohm is not None:
            return self.esr_ohm
        return 0.15 / (2 * math.pi * ESR_HZ * self.capacitance_f)

    @property
    def high_series_ohm(self) -> float:
        """Equivalent series resistance at 100 kHz and 25 °C [Ω]."""
        if self.esr_100khz_ohm is not None:
            return self.esr_100khz_ohm
        return self.series_ohm - min(
            0.5 * self.series_ohm, 0.075 / (2 * math.pi * ESR_HZ * self.capacitance_f)
        )

    def electrolyte_ohm(self, temperature_c: float) -> float:
        """Resistance of the electrolyte at a temperature [Ω].

        Below 25 °C it grows to `cold_esr_factor` at -25 °C and on; above it halves within 60 K, no further
        (from memory of makers' curves).

        Examples
        --------
        >>> cold = ReservoirCapacitor(capacitance_f=22e-6, esr_ohm=9.0, esr_100khz_ohm=4.5)
        >>> [round(cold.electrolyte_ohm(c), 2) for c in (-25.0, 0.0, 25.0, 85.0, 105.0)]
        [45.0, 14.23, 4.5, 2.25, 2.25]
        """
        below_k = 25.0 - temperature_c
        growth = math.log(self.cold_esr_factor) / 50.0 if below_k > 0 else math.log(2.0) / 60.0
        return self.high_series_ohm * math.exp(growth * max(below_k, -60.0))

    @property
    def surge_voltage_v(self) -> float:
        """Voltage it stands for half a minute: 1.1 times the rated one, 1.15 times up to 315 V [V].

        References
        ----------
        IEC 60384-4, surge; from memory.
        """
        return (1.15 if self.voltage_v <= 315.0 else 1.1) * self.voltage_v

    def inconsistencies(self) -> Iterator[Inconsistency]:
        """The resistance at 100 kHz is a part of that at 120 Hz."""
        if self.high_series_ohm > self.series_ohm:
            yield Inconsistency("esr_100khz", f"at most the ESR at 120 Hz, {OHM.format(self.series_ohm, 4)}")


@lru_cache(maxsize=256)
def _saturation_a(forward_v: float, forward_a: float, series_ohm: float, emission: float) -> float:
    return forward_a / math.expm1((forward_v - series_ohm * forward_a) / (emission * THERMAL_VOLTAGE_25C_V))


class LedString(Part):
    """LEDs in series and parallel; forward voltage, current and slope are those of one LED at 25 °C.

    `slope_ohm` is the whole dynamic resistance dV/dI at the test current. What the junction does not explain
    is the series resistance; unset, that takes 4.5 % of the forward voltage at the test current (typical of
    white LEDs for some 30 to 150 mA, from memory of their curves; the measured one below has 6.6 %).
    `continuous_current_a` is the most one LED may carry for hours; unset, 1.2 times its test current (20 mA
    types are rated for 25 mA, 150 mA types for 180 mA: catalogues, from memory).

    The default `emission` is that of a white LED measured from 0.2 to 14 mA (2.57 with 14.1 Ω, 16 mV rms);
    chips in series within one LED add theirs up. The default `tempco_v_per_k` is that of one chip: -1.35 mV/K
    at 10 mA, straight from 10 to 99 °C, measured on an LED that is not white. It grows as the current falls
    (-1.84 mV/K at 1 mA, -1.24 mV/K at 20 mA), which is left out.
    """

    series: Annotated[int, Field(ge=1, le=500)]
    parallel: Annotated[int, Field(ge=1, le=200)] = 1
    forward_voltage_v: Annotated[Volt, Field(ge=1.5, le=40)]
    forward_current_a: Annotated[Ampere, Field(ge=1e-4, le=5)]
    slope_ohm: Annotated[Ohm, Field(ge=0.01, le=500)] | None = None
    emission: Annotated[float, Field(ge=1, le=40)] = 2.57
    tempco_v_per_k: Annotated[VoltPerKelvin, Field(ge=-0.05, le=0)] = -0.0014
    continuous_current_a: Annotated[Ampere, Field(ge=1e-4, le=10)] | None = None
    pulse_current_a: Annotated[Ampere, Field(ge=1e-3, le=50)] | None = None
    light_tempco_per_k: Annotated[PerKelvin, Field(ge=-0.02, le=0)] = -0.0015
    radiant_ratio: Annotated[Ratio, Field(ge=0, le=0.8)] = 0.3
    maximum_junction_c: Annotated[Celsius, Field(ge=60, le=200)] = 125.0

    @property
    def led_series_ohm(self) -> float:
        """Series resistance of one LED: slope less the junction's N·Vt/I [Ω]."""
        return self.dynamic_ohm - self.emission * THERMAL_VOLTAGE_25C_V / self.forward_current_a

    @property
    def dynamic_ohm(self) -> float:
        """Dynamic resistance of one LED at its test current [Ω]."""
        if self.slope_ohm is not None:
            return self.slope_ohm
        junction_v = self.emission * THERMAL_VOLTAGE_25C_V
        return (junction_v + TYPICAL_SERIES_RATIO * self.forward_voltage_v) / self.forward_current_a

    @property
    def led_saturation_a(self) -> float:
        """Saturation current of one LED's junction [A]."""
        return _saturation_a(
            self.forward_voltage_v, self.forward_current_a, self.led_series_ohm, self.emission
        )

    @property
    def continuous_each_a(self) -> float:
        """Current one LED may carry for hours [A]."""
        return (
            1.2 * self.forward_current_a if self.continuous_current_a is None else self.continuous_current_a
        )

    @property
    def continuous_limit_a(self) -> float:
        """Current the whole string may carry for hours [A]."""
        return self.continuous_each_a * self.parallel

    @property
    def pulse_limit_a(self) -> float:
        """Pulse current the whole string survives; unset, twice the test current of each LED [A]."""
        each = max(2 * self.forward_current_a, self.continuous_each_a)
        return (each if self.pulse_current_a is None else self.pulse_current_a) * self.parallel

    def voltage_v(self, current_a: float, temperature_c: float = 25.0) -> float:
        """Voltage of the whole string at a current and a junction temperature [V]."""
        each = current_a / self.parallel
        junction = self.emission * THERMAL_VOLTAGE_25C_V * math.log1p(each / self.led_saturation_a)
        drift = self.tempco_v_per_k * (temperature_c - 25.0)
        return self.series * (junction + self.led_series_ohm * each + drift)

    def inconsistencies(self) -> Iterator[Inconsistency]:
        """Slope, emission and test point must make a diode: no negative resistance, no absurd junction."""
        thermal_v = self.emission * THERMAL_VOLTAGE_25C_V
        if self.led_series_ohm < 0:
            yield Inconsistency(
                "slope",
                f"at least {OHM.format(thermal_v / self.forward_current_a, 4)}, what the junction alone has "
                f"at {AMPERE.format(self.forward_current_a)} with an emission of {self.emission:g}",
            )
        elif self.dynamic_ohm * self.forward_current_a > 0.6 * self.forward_voltage_v:
            most_ohm = 0.6 * self.forward_voltage_v / self.forward_current_a
            yield Inconsistency(
                "slope", f"at most {OHM.format(most_ohm, 4)}, or little is left for the junction"
            )
        elif self.forward_voltage_v > STEEPEST_JUNCTION * thermal_v:
            least = self.forward_voltage_v / (STEEPEST_JUNCTION * THERMAL_VOLTAGE_25C_V)
            yield Inconsistency(
                "emission", f"at least {least:.3g}: chips in series within one LED add theirs up"
            )
        least, name = max(
            (self.forward_current_a, "test current"), (self.continuous_current_a or 0.0, "continuous current")
        )
        if self.pulse_current_a is not None and self.pulse_current_a < least:
            yield Inconsistency("pulse_current", f"at least the {name} of {AMPERE.format(least)}")


class Sinks(Part):
    """Linear constant-current regulators, all on the low end of the string, each with its sense resistor.

    `spread_ratio` fans the sense voltages of the separate sinks evenly over plus and minus that share.
    The drain breaks down at `avalanche_voltage_v`; unset, 10 % above its rating (typical).

    How the gate is driven decides what a sink lets through before its loop has caught up, and while it is
    fully on: the amplifier drives it with at most `gate_drive_a`, up to `gate_headroom_v` above threshold and
    sense voltage. Unset, `transconductance_a_per_v2` is that of a transistor which passes
    the peak current with 1.4 V of overdrive. These four are typical of 500 V chips, from memory: no data
    sheet gives them, and without avalanche they set the surge current of a sink.

    What some chips do besides, each only where it is given:

    - `foldback_power_w`: the chip cuts its current back so that drain voltage times current stay there
      (typical 0.8 to 2 W, from memory). It follows the drain with `foldback_delay_s`, unset 0.1 ms (our
      choice): without any it would be a negative resistance to the inductance of the mains, and ring with it.
    - `shut_off_c`: the chip switches off at that die temperature and on again at `restart_c`; unset, 30 K
      below (135 and 105 °C in one maker's table). All dies of the model share one temperature.
    - `supply_current_a`: what the chip itself takes from its drain (typical 0.1 to 0.3 mA, from memory), on
      top of the set current; below some volts it falls away.
    """

    count: Annotated[int, Field(ge=1, le=24)]
    sense_voltage_v: Annotated[Volt, Field(ge=0.05, le=3)] = 0.6
    sense_resistor_ohm: Annotated[Ohm, Field(ge=0.1, le=1e4)]
    drain_voltage_v: Annotated[Volt, Field(ge=20, le=2000)] = 500.0
    avalanche_voltage_v: Annotated[Volt, Field(ge=20, le=2500)] | None = None
    avalanche_energy_j: Annotated[Joule, Field(ge=1e-5, le=10)] = 0.02
    peak_current_a: Annotated[Ampere, Field(ge=0.01, le=100)] = 1.0
    drain_capacitor_f: Annotated[Farad, Field(ge=1e-12, le=1e-6)] | None = None
    spread_ratio: Annotated[Ratio, Field(ge=0, le=0.3)] = 0.03
    bandwidth_hz: Annotated[Hertz, Field(ge=1e3, le=5e6)] = 300e3
    on_resistance_ohm: Annotated[Ohm, Field(ge=0.05, le=500)] = 15.0
    gate_capacitance_f: Annotated[Farad, Field(ge=1e-12, le=1e-8)] = 60e-12
    output_capacitance_f: Annotated[Farad, Field(ge=1e-12, le=1e-8)] = 40e-12
    reverse_capacitance_f: Annotated[Farad, Field(ge=1e-13, le=1e-9)] = 3e-12
    gate_threshold_v: Annotated[Volt, Field(ge=0.3, le=10)] = 3.0
    gate_headroom_v: Annotated[Volt, Field(ge=0.1, le=20)] = 2.0
    gate_drive_a: Annotated[Ampere, Field(ge=1e-6, le=0.1)] = 1e-4
    transconductance_a_per_v2: Annotated[AmperePerSquareVolt, Field(ge=1e-3, le=100)] | None = None
    power_w: Annotated[Watt, Field(ge=0.05, le=100)] = 1.25
    sense_power_w: Annotated[Watt, Field(ge=0.05, le=20)] = 0.25
    foldback_knee_c: Annotated[Celsius, Field(ge=60, le=200)] = 125.0
    foldback_slope_per_k: Annotated[PerKelvin, Field(ge=0, le=0.2)] = 0.015
    foldback_floor_ratio: Annotated[Ratio, Field(ge=0.01, le=1)] = 0.2
    foldback_power_w: Annotated[Watt, Field(ge=0.01, le=100)] | None = None
    foldback_delay_s: Annotated[Second, Field(ge=1e-6, le=0.1)] | None = None
    shut_off_c: Annotated[Celsius, Field(ge=60, le=250)] | None = None
    restart_c: Annotated[Celsius, Field(ge=0, le=250)] | None = None
    supply_current_a: Annotated[Ampere, Field(ge=1e-6, le=0.02)] | None = None
    maximum_die_c: Annotated[Celsius, Field(ge=80, le=250)] = 150.0

    @property
    def each_a(self) -> float:
        """Set current of one sink, cold [A]."""
        return self.sense_voltage_v / self.sense_resistor_ohm

    @property
    def set_current_a(self) -> float:
        """Set current of all sinks together, cold [A]."""
        return self.count * self.each_a

    @property
    def foldback_lag_s(self) -> float | None:
        """Delay of the power foldback [s]; None where there is none."""
        if self.foldback_power_w is None:
            return None
        return 100e-6 if self.foldback_delay_s is None else self.foldback_delay_s

    @property
    def restarts_c(self) -> float | None:
        """Die temperature at which a sink that has shut off comes back [°C]; None where none shuts off."""
        if self.shut_off_c is None:
            return None
        return self.shut_off_c - SHUT_OFF_HYSTERESIS_K if self.restart_c is None else self.restart_c

    @property
    def breakdown_v(self) -> float:
        """Drain voltage at which avalanche begins [V]."""
        return 1.1 * self.drain_voltage_v if self.avalanche_voltage_v is None else self.avalanche_voltage_v

    @property
    def gate_rail_v(self) -> float:
        """Highest gate voltage [V]."""
        return self.gate_threshold_v + self.sense_voltage_v + self.gate_headroom_v

    @property
    def gain_a_per_v2(self) -> float:
        """Transconductance K of the transistor, I = K/2 · overdrive² [A/V²]."""
        if self.transconductance_a_per_v2 is not None:
            return self.transconductance_a_per_v2
        return 2.0 * self.peak_current_a / TYPICAL_OVERDRIVE_V**2

    def inconsistencies(self) -> Iterator[Inconsistency]:
        """The drain must not break down below its rating, the set current must be within reach."""
        if self.avalanche_voltage_v is not None and self.avalanche_voltage_v < self.drain_voltage_v:
            yield Inconsistency(
                "avalanche_voltage", f"at least the drain rating of {VOLT.format(self.drain_voltage_v)}"
            )
        if self.each_a > self.peak_current_a:
            least_ohm = self.sense_voltage_v / self.peak_current_a
            yield Inconsistency(
                "sense_resistor",
                f"at least {OHM.format(least_ohm, 4)}, which sets the peak current of "
                f"{AMPERE.format(self.peak_current_a)}",
            )
        least_v = math.sqrt(2.0 * (1.0 + self.spread_ratio) * self.each_a / self.gain_a_per_v2)
        if self.gate_headroom_v < least_v <= TYPICAL_OVERDRIVE_V * math.sqrt(1.0 + self.spread_ratio):
            yield Inconsistency(
                "gate_headroom",
                f"at least {VOLT.format(least_v, 3)}, the overdrive that the set current takes",
            )
        if self.restart_c is not None:
            if self.shut_off_c is None:
                yield Inconsistency("restart", "a shut_off that it comes back from")
            elif self.restart_c > self.shut_off_c - 1.0:
                yield Inconsistency(
                    "restart", f"at most {CELSIUS.format(self.shut_off_c - 1.0)}, below the shut-off"
                )
        if self.foldback_power_w is not None and self.foldback_power_w < self.each_a * LEAST_FOLDBACK_V:
            yield Inconsistency(
                "foldback_power",
                f"at least {WATT.format(self.each_a * LEAST_FOLDBACK_V, 3)}: {VOLT.format(LEAST_FOLDBACK_V)} "
                f"at the set current",
            )
        if self.reverse_capacitance_f > self.output_capacitance_f:
            yield Inconsistency(
                "reverse_capacitance",
                f"at most the output capacitance, {FARAD.format(self.output_capacitance_f)}, which "
                f"contains it",
            )

    def foldback_drain_v(self, die_c: float = 25.0) -> float:
        """Drain voltage above which the power foldback sets the current, not the sense resistor [V].

        Above it I = P/V: the sink takes P whatever stands on its drain. Without such a foldback infinite.

        Examples
        --------
        >>> Sinks(count=1, sense_resistor_ohm=10.0, foldback_power_w=1.5).foldback_drain_v()
        25.0
        """
        if self.foldback_power_w is None:
            return math.inf
        return self.foldback_power_w / (self.each_a * self.foldback_ratio(die_c))

    def supply_a(self, drain_v: Array) -> Array:
        """What one chip itself takes from its drain at a voltage, I = I0 · tanh(V / 5 V) [A]."""
        return np.asarray((self.supply_current_a or 0.0) * np.tanh(drain_v / SUPPLY_FULL_V))

    def foldback_ratio(self, die_c: float) -> float:
        """Share of the cold set current that is left at a die temperature."""
        above = max(0.0, die_c - self.foldback_knee_c)
        return max(self.foldback_floor_ratio, 1.0 - self.foldback_slope_per_k * above)
