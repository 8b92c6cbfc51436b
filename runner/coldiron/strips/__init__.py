"""Strips: named vectors of a run on one axis of time, from outside to inside, thinned for a screen."""
