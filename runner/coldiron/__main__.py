"""`python -m coldiron`: the command line, where the command itself is not on the path."""

from __future__ import annotations

import sys

from coldiron.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
