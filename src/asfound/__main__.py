"""`python -m asfound` is the command `asfound`."""

from __future__ import annotations

import sys

from asfound.cli import main

if __name__ == "__main__":
    sys.exit(main())
