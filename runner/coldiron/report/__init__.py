"""The report: one self-contained page with the answer first, then the reasons."""
