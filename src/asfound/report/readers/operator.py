"""The operator on shift: safe to run, what to watch, what to leave alone; half a sheet, and words to be read aloud."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.language import told as told_now
from asfound.report import shift_sheet
from asfound.report.readers.blocks import Document, Head, Lack, Lines
from asfound.report.readers.making import Reader
from asfound.report.readers.said import asked
from asfound.report.readers.spoken import spoken

if TYPE_CHECKING:
    from asfound.report.readers.ground import Ground


def make(ground: Ground) -> Document:
    """Return what the shift needs."""
    view = ground.view
    told = shift_sheet.operator(view, ground.system)
    return Document(
        headline=told["big"],
        lead=told["basis"],
        blocks=(
            Head(text="Watch"),
            Lines(rows=tuple(told["watch"])),
            Head(text="Leave alone"),
            Lines(rows=tuple(told["alone"])),
            Head(text="Was done today"),
            Lines(rows=tuple(told["done"])),
            Head(text="Call"),
            Lines(rows=tuple(told["call"])),
        ),
        lacks=_lacks(ground),
        tags=tuple(dict.fromkeys(tag for one in asked(view, "stop", "visit") for tag in one.cautions)),
    )


def _lacks(ground: Ground) -> tuple[Lack, ...]:
    view = ground.view
    found = []
    if not view.readings:
        found.append(Lack(what="No reading was taken: whether it is safe to run was not judged."))
    elif not any(one.state == "as_left" for one in view.readings.values()) and view.day.events:
        changed = any(one.kind == "changed" for one in view.day.events)
        if changed:
            found.append(Lack(what="Something was changed and nothing was read as left.", fill="readings as left"))
    return tuple(found)


def aloud(ground: Ground, document: Document) -> str:
    """Return the same in short sentences, units spelled out: read to the next shift, or by telephone."""
    told = shift_sheet.operator(ground.view, ground.system, whole=True)
    parts = [document.headline, document.lead]
    for word, rows in (
        ("Watch.", told["watch"]),
        ("Leave alone.", told["alone"]),
        ("Done today.", told["done"]),
        ("If in doubt, call.", told["call"]),
    ):
        parts += [word, *rows]
    parts += [one.what for one in document.lacks]
    parts.append("This is advice. The shift decides. The rules of the site and the permit come first.")
    return "\n".join(spoken(told_now(one)) for one in parts if one) + "\n"


READER = Reader(
    name="operator",
    title="Operator on shift",
    to="the operator on shift",
    wants="Safe to run? What to watch, what not to touch",
    form="half a sheet, and text to be read aloud",
    advice="This is advice: the shift decides whether the engine runs on.",
    make=make,
    sheet="half",
    aloud=aloud,
)
