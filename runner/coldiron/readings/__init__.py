"""Numbers read off a finished run: pure functions of arrays, no files, no simulator, no lamp.

A record is a pair of one-dimensional float64 arrays, `time_s` (uneven steps, never decreasing) and the
values at those instants; between two points the quantity is a straight line. Cut the window first
(`sampling.cut`), then take readings of the whole of what was cut. A ratio of nothing to nothing is
nan, never 0, so that a dark lamp cannot pass for a good one.
"""
