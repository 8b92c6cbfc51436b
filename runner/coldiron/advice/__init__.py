"""What to buy: an exhaustive, staged search of a catalogue of generic parts over real runs."""
