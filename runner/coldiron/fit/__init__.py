"""A lamp's unknown values from what the meter said: contradictions first, then a fit over real runs."""
