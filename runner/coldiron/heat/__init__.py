"""Heat: the thermal network of a lamp, its warm-up and balance, and what heat costs in life.

Pure of decks and of the engine: electrical averages come in as numbers, or as a function of two temperatures.
"""
