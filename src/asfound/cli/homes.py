"""`asfound demo`, `home`, `completion`: where the record lies, and what is set once."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from asfound.cli.answer import answer, coloured, columns, working
from asfound.cli.options import Home, Out
from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date


def demo(folder: Path, /, *, logs: bool = False, until: str = "", workers: int = 2, out: Out = Out()) -> None:
    """Make a home with seven invented engines and their visits.

    It has a clock of its own, that stands in the middle of a visit to A2 and runs on from there.

    Parameters
    ----------
    folder
        Folder to make; refused when it holds anything.
    logs
        Also the engines' logs: made as dirty files, taken in, and looked at. Some minutes on a slow machine.
    until
        Last day that is told, to 2033-06-29: all visits, oil and work orders up to it, and logs with --logs. The clock
        stands on the morning after it; without it, in the midst of A2's visit of 8 July 2032.
    workers
        Processes for the logs.
    """
    from asfound.records.demo import make_demo_home

    refuse_full(folder)
    last = _last_day(until, logs) if until else None
    with working("Making the demo home"):
        made = make_demo_home(folder, until=last)
    brought: list[dict[str, Any]] = []
    if logs:
        from asfound.records.demo_logs import as_dict, bring_logs

        with working("Making, taking in and looking at seven engines' logs"):
            brought = as_dict(bring_logs(made, until=until, workers=max(workers, 1)))
    from asfound.cli.find import opened

    records = opened(Home(home=str(folder)))
    tags = [engine.content["tag"] for engine in records.engines()]

    def told() -> Iterator[str]:
        yield f"{len(tags)} engines in {folder}: {', '.join(tags)}"
        for one in brought:
            yield f"{one['tag']}  {one['kept']:,} of {one['read']:,} rows of {one['files']} files kept. {one['worst']}"
        yield f"Open it: asfound serve --open --home {folder}"

    answer(out, {"home": str(folder), "engines": tags, **({"logs": brought} if logs else {})}, told)


def _last_day(until: str, logs: bool) -> date:
    """Return the last day that is told; refuse one that is none, or that lies outside the story."""
    from datetime import date

    from asfound.records.demo import LAST_DAY, STORY_NOW

    first = date(2031, 3, 1) if logs else STORY_NOW.date()
    allowed = f"{first} to {LAST_DAY}"
    try:
        day = date.fromisoformat(until)
    except ValueError:
        raise InputError("until", until, "is no day", allowed=allowed) from None
    if not first <= day <= LAST_DAY:
        raise InputError("until", until, "lies outside the story", allowed=allowed)
    return day


def home(*setting: str, where: Home = Home()) -> None:
    """Say where the record lies, what is in it, and what is set; change what is set with name=value.

    Parameters
    ----------
    setting
        name=value, for example person='J. Orme', units=us, decimal=, zone=-06:00
    """
    from asfound.records.home import Home as Folder

    folder = Folder(where.home or None)
    if setting:
        changes: dict[str, str | int] = {}
        for word in setting:
            name, equals, value = word.partition("=")
            if not equals:
                raise InputError("setting", word, "is not name=value", allowed=", ".join(asdict(folder.settings())))
            if name in ("device", "demo", "clock_offset"):
                raise InputError(name, value, "is made once and not changed")
            changes[name] = int(value) if name == "kept_mb" and value.isascii() and value.isdigit() else value
        folder.change(**changes)
    settings = asdict(folder.settings())
    said = _notices(folder.folder) if folder.exists else ()
    data = {"home": str(folder.folder), "exists": folder.exists, "record": str(folder.database), "settings": settings}
    data["notices"] = said

    def told() -> Iterator[str]:
        yield f"Home     {folder.folder}"
        yield f"Record   {folder.database}" + ("" if folder.exists else "  (not begun yet)")
        yield f"Files    {folder.files}"
        for one in said:
            yield coloured(one, "visit")
        yield "Set here"
        yield from columns(
            [(f"  {name}", value if value not in ("", None) else "-") for name, value in settings.items()]
        )

    answer(where, data, told)


def _notices(folder: Path) -> tuple[str, ...]:
    """Return what is not right with a home: its clock, what waits to be settled."""
    from asfound.records.conflicts import clashes
    from asfound.records.store import Records
    from asfound.records.trust import notices

    with Records.open(folder) as records:
        waiting = len(clashes(records))
        return (*notices(records), *([f"{waiting} to settle: asfound settle"] if waiting else []))


def completion(shell: Literal["bash", "zsh", "fish", "powershell"] = "bash", /, *, out: Out = Out()) -> None:
    """Print the completion script for a shell; the README says where each shell wants it.

    Parameters
    ----------
    shell
        bash, zsh, fish or powershell.
    """
    from asfound.cli.door import build

    script = build().generate_completion(shell=shell)
    answer(out, {"shell": shell, "script": script}, lambda: [script])


def refuse_full(folder: Path) -> None:
    """Refuse a folder that is to be made new and holds something."""
    if folder.exists() and any(folder.iterdir() if folder.is_dir() else (folder,)):
        raise InputError(
            "folder",
            str(folder),
            "is not empty",
            try_next="Name a new folder, or remove this one if nothing in it is needed.",
        )
