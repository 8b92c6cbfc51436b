"""Regress: a study held against what it gave before, kept as a small file in version control."""
