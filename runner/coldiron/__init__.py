"""Coldiron: what a change would do to a mains LED lamp, before the soldering iron is hot."""
