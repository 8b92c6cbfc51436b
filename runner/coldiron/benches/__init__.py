"""Benches: one module each, with its deck, its conditions and its readings."""
