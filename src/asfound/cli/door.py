"""From the words typed to a command, and from whatever goes wrong to one clear message."""

from __future__ import annotations

import re
import sys
from itertools import pairwise
from typing import TYPE_CHECKING

from cyclopts import App, CycloptsError, Group, Parameter

from asfound import __version__
from asfound.cli import CANNOT, DONE, FAULT, INTERRUPTED
from asfound.cli.answer import harmless
from asfound.cli.commands import COMMANDS, GROUPS
from asfound.cli.front import ABOUT
from asfound.errors import AmbiguousError, AsFoundError

if TYPE_CHECKING:
    from collections.abc import Sequence


def build() -> App:
    """Return the whole tree of commands; the modules behind them are imported when one is called."""
    app = App(
        name="asfound",
        help=ABOUT,
        version=__version__,
        help_format="plaintext",
        help_formatter="plain",
        default_parameter=Parameter(negative=(), show_default=False),
    )
    groups = {name: Group.create_ordered(name) for name in GROUPS}
    for order, one in enumerate(COMMANDS):
        app.command(one.opens, name=one.name, help=one.says, group=groups[one.group], sort_key=order, **one.settings)
    return app


def run(argv: Sequence[str], interrupted: Sequence[bool] = ()) -> int:
    """Run one command; say on standard error what cannot be done, and return the exit code.

    ``interrupted`` is no longer empty once somebody pressed Ctrl+C. What the system refuses (`OSError`) and the
    interruption itself are for the caller.
    """
    from asfound.cli.locks import ask
    from asfound.records.lock import ask_with

    ask_with(ask)
    try:
        answer = build()(list(argv), exit_on_error=False, print_error=False, result_action="return_value")
    except CycloptsError as misread:
        return _complain(str(misread), *_minus(argv), "`asfound COMMAND --help` shows how it is written.")
    except AmbiguousError as doubtful:
        choices = [f"  {text}   {means}" for text, means in doubtful.choices.items()]
        return _complain(str(doubtful), *choices)
    except AsFoundError as refused:
        return _complain(str(refused))
    except OSError:
        raise
    except SystemExit as left:
        return left.code if isinstance(left.code, int) else CANNOT
    except Exception:
        if interrupted:
            return INTERRUPTED
        import traceback

        traceback.print_exc()
        return _complain(
            "This is a fault of the program, not of what was typed. What was kept before it stays kept.", code=FAULT
        )
    return answer if isinstance(answer, int) else DONE


def _minus(argv: Sequence[str]) -> list[str]:
    """Return how a value below zero is written behind an option, where one was typed with a blank between."""
    return [
        f"A value that begins with a minus is written with an equals sign: {option}='{value}'"
        for option, value in pairwise(argv)
        if option.startswith("--") and "=" not in option and re.match(r"-\d", value)
    ]


def _complain(*lines: str, code: int = CANNOT) -> int:
    print("asfound:", *map(harmless, lines[:1]), file=sys.stderr)
    for line in lines[1:]:
        print(harmless(line), file=sys.stderr)
    return code
