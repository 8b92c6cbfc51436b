"""Decks: what a lamp looks like to the engine, rendered from the templates in `netlists/`."""
