"""Lamps that differ by tolerances and assumptions: how many keep a limit, what decides, what passes.

Everything here is a real run of a lamp with other values; nothing is interpolated. What a kind of part may be
off by, and what is assumed of it, its own module says (`coldiron.parts.tolerance`).
"""
