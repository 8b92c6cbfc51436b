"""Lessons: questions asked before a curve is drawn, and every figure said held against the runs."""
