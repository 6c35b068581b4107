"""`asfound demo-logs`: thirty months of logs of the invented engines, as files."""

from __future__ import annotations

import contextlib
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from asfound.cli.answer import answer
from asfound.cli.options import Out
from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from typing import Any


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class Which:
    """Which logs."""

    engine: Annotated[tuple[str, ...], Parameter(consume_multiple=True)] = ()
    """Only this engine; may be given several times."""
    seed: int = 48
    """Another number gives another world with the same stories."""


def demo_logs(folder: Path, /, which: Which = Which(), *, out: Out = Out()) -> None:
    """Write logs of seven invented engines over 30 months, with planted faults, as files that would come.

    Other dialects, units, clocks and heads by site; alarm lists, analyser readings, oil samples and work orders beside
    them. What was planted stands in truth.json. About 200 MB.

    Parameters
    ----------
    folder
        Folder to make; refused when it holds anything.
    """
    from asfound.cli.homes import refuse_full
    from asfound.history.demo import ENGINES, write_demo_logs
    from asfound.history.demo.dataset import number_of_steps

    refuse_full(folder)
    if which.seed < 0:
        raise InputError("seed", str(which.seed), "is below zero", allowed="0 or more")
    engines = tuple(dict.fromkeys(which.engine)) or ENGINES
    with _bar("Writing logs", number_of_steps(tag for tag in engines if tag in ENGINES)) as step:
        truth = write_demo_logs(folder, seed=which.seed, engines=engines, progress=step)
    data: dict[str, Any] = {
        "folder": str(folder),
        "seed": which.seed,
        "engines": {tag: one["rows"] for tag, one in truth["engines"].items()},
        "files": len(truth["files"]),
        "planted": len(truth["planted"]),
    }

    def told() -> Iterator[str]:
        for tag, rows in data["engines"].items():
            files = [one for one in truth["files"] if one["engine"] == tag]
            yield f"{tag}  {rows:,} rows in {len(files)} files ({files[0]['form']})"
        yield f"{data['planted']} things are planted; {folder / 'truth.json'} says which."

    answer(out, data, told)


@contextlib.contextmanager
def _bar(doing: str, total: int) -> Iterator[Callable[[str], None]]:
    """Show a bar on standard error while a person watches a terminal; gives what moves it on."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(doing, total=total)
        yield lambda name: bar.update(task, advance=1, description=name)
