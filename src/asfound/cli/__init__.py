"""The command line: every page's work, typed. It holds no formula and no rule of the trade.

Exit codes: 0 done; 1 the answer is no (a published value missed, a seal that does not hold, a catalogue with faults);
2 what was asked cannot be done as it was said, and standard error says why; 70 a fault of the program; 130 interrupted.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

DONE, NO, CANNOT, FAULT, INTERRUPTED = 0, 1, 2, 70, 130


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; ``argv`` without the program's name, by default that of the process."""
    import sys

    words = list(sys.argv[1:] if argv is None else argv)
    if words in ([], ["--help"], ["-h"]):
        from asfound.cli.front import first_page

        print("\n".join(first_page()))
        return DONE
    if words == ["--version"]:
        from asfound import __version__

        print(__version__)
        return DONE
    from asfound.cli.door import run

    return run(words)
