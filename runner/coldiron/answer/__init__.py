"""The answer of a study: what was asked, who comes nearest, at what price, and what nobody tried.

Everything here reads the worst over all conditions that were run, warm where warm was run. Terminal, report,
notebook, files and API show what this room says; none of them ranks or counts on its own.
"""
