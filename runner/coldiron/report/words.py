"""Fixed words of the page: cautions, what each bench is, what the model leaves out."""

from __future__ import annotations

CAUTIONS = (
    "Mains can kill. Everything inside such a lamp is at mains potential, whatever the switch says.",
    "The reservoir stays charged after unplugging. Discharge it and measure before touching anything.",
    "A varistor can fail short. It belongs behind the fusing resistor, and away from what burns.",
    "A fusing resistor is a safety part: replace it by its like, flameproof and of its rated power.",
    "No reading here is a safety certificate. Local codes and licensed practice decide.",
)

BENCH_WORDS = {
    "switch-on": "Switch-on: a cold, empty lamp is connected at the worst angle of the mains.",
    "steady": "Steady: the lamp on the mains, settled, cold.",
    "heat": "Heat: from cold to where the lamp settles.",
    "surge": "Surge: a combination wave 1.2/50 µs, line to neutral, on a lamp that runs on live mains.",
    "burst": "Burst: pulses of 5/50 ns, coupled to the line.",
    "dip": "Dip: the mains falls for a moment and returns.",
    "unplug": "Unplug: pulled off the mains when the bus stands highest.",
}

LEFT_OUT = (
    "magnetic parts, switching regulators and dimmers",
    "the mains' own distortion and whatever else hangs on the same supply",
    "opening of a fusing resistor: its energy is compared with what it survives",
    "the optics; light is taken as proportional to string current at one temperature",
    "ageing of LEDs, and the spread of parts unless a study asks for it",
    "stray inductance and capacitance of the wiring inside the lamp, but for 20 pF across the bus",
)
