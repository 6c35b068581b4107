"""The command line: every page's work, typed. It holds no formula and no rule of the trade.

Exit codes: 0 done; 1 the answer is no (a published value missed, a seal that does not hold, a catalogue with faults);
2 what was asked cannot be done as it was said, and standard error says why; 70 a fault of the program; 130 interrupted.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

DONE, NO, CANNOT, FAULT, INTERRUPTED = 0, 1, 2, 70, 130
RARELY = 300_000, 20, 50
"""Objects, and searches among the young, before garbage in circles is looked for: what a command loads stays."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; ``argv`` without the program's name, by default that of the process."""
    import gc
    import os
    import sys

    # Systems of equations are small here: a second thread of the linear algebra only waits for the first, at full cost.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.set_threshold(*RARELY)
    _open_streams()
    interrupted = _watch_interrupt() if argv is None else []
    try:
        code = _run(list(sys.argv[1:] if argv is None else argv), interrupted)
        sys.stdout.flush()
        if argv is None:
            gc.freeze()  # the process ends: all of it goes, and need not be looked through for garbage first
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:  # whoever reads, head or a pager, has seen enough
        _discard_output()
        return DONE
    except OSError as fault:  # a full disk under standard output, a home whose disk was pulled out
        _discard_output()
        about = f" ({fault.filename})" if fault.filename else ""
        print(f"asfound: The system refuses: {fault.strerror or fault}{about}.", file=sys.stderr)
        return CANNOT
    return code


def _run(words: list[str], interrupted: list[bool]) -> int:
    """Answer the first page without loading the parser; all else goes through the door."""
    if words in ([], ["--help"], ["-h"]):
        from asfound.cli.front import first_page

        print("\n".join(first_page()))
        return DONE
    if words == ["--version"]:
        from asfound import __version__

        print(__version__)
        return DONE
    from asfound.cli.door import run

    return run(words, interrupted)


def _watch_interrupt() -> list[bool]:
    """Return a list that is no longer empty once somebody pressed Ctrl+C.

    A library that is interrupted while it loads may say that it is broken; then this tells what really happened.
    """
    import signal
    from types import FrameType

    pressed: list[bool] = []

    def note(_signal: int, _frame: FrameType | None) -> None:
        pressed.append(True)
        raise KeyboardInterrupt

    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:  # not where a shell has told us to ignore it
        signal.signal(signal.SIGINT, note)
    return pressed


def _open_streams() -> None:
    """Let standard output and error take every sign, also where a program was started without them (``>&-``)."""
    import os
    import sys

    from asfound.cli.console import open_up

    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115 - as long as the process lives
        open_up(getattr(sys, name))


def _discard_output() -> None:
    """Let what is still waiting for standard output go nowhere, so that leaving the process does not fail on it."""
    import contextlib
    import os
    import sys

    with contextlib.suppress(OSError, ValueError):  # a stream of no file, as in a test, needs nothing
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
