"""Documents for readers as plain text, eighty signs wide: for a terminal, a message, a screen reader."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

from asfound.language import _, told_content
from asfound.report.readers.blocks import bare
from asfound.report.typeset import AS_WRITTEN

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.report.readers.making import Made

WIDTH = 80


def text(made: Made) -> str:
    """Return a document as text; what has words to be read aloud gives those."""
    if made.reader.aloud is not None:
        from asfound.report.wording import clean

        told = made.reader.aloud(made.ground, made.document)
        return "\n".join(clean(line) for line in told.split("\n"))
    return "\n".join(_lines(told_content(bare(made.content), leave=AS_WRITTEN))) + "\n"


def _lines(c: dict[str, Any]) -> Iterator[str]:
    yield from _wrap(_("For {0}. {1}", c["to"], c["visit_line"]))
    yield ""
    yield from _wrap(c["headline"])
    if c["lead"]:
        yield from _wrap(c["lead"])
    for block in c["blocks"]:
        yield from _block(block)
    if c["lacks"]:
        yield from _head(_("What this record does not hold"))
        for one in c["lacks"]:
            yield from _item(_("{0} To fill it: {1}", one["what"], one["fill"]) if one["fill"] else one["what"])
    if c["cautions"]:
        yield from _head(_("Cautions"))
        for one in c["cautions"]:
            yield from _item(f"{one['hazard']}. {one['do']}")
    for who, name in c["signed"]:
        yield ""
        yield f"  {who}{f' ({name})' if name else ''}: ______________________  {_('day')}: __________"
    yield ""
    for state in c["states"]:
        yield from _wrap(f"{state['state']}: {state['says']}.")
    if c["people"]:
        yield from _wrap(_("Who: {0}.", c["people"]))
    digest = " " + _("Digest {0}.", c["seal"]["whole"]) if c["seal"]["whole"] else ""
    yield from _wrap(f"{c['seal']['says']}{digest}")
    yield from _wrap(_("Advice: {0}", c["advice"]))


def _block(block: dict[str, Any]) -> Iterator[str]:
    kind = block["kind"]
    if kind == "head":
        yield from _head(block["text"])
    elif kind == "says":
        yield from _wrap(block["text"])
    elif kind == "pairs":
        for name, value in block["rows"]:
            yield from _item(f"{name} {value}" if name.endswith((":", "?")) else f"{name}: {value}")
    elif kind == "lines":
        for row in block["rows"]:
            yield from _item(_cell(row))
    elif kind == "rows":
        for row in block["rows"]:
            cells = zip(block["columns"], row, strict=True)
            named = (f"{head}: {_cell(cell)}" if head else _cell(cell) for head, cell in cells if _cell(cell))
            yield from _item("; ".join(named))
    elif kind == "drawn":
        yield from _wrap(f"[{block['alt']}]")
    elif kind == "shots":
        for shot in block["rows"]:
            yield from _item(_("Photo {0}: {1}. {2}", shot["filename"], shot["caption"], shot["says"]))


def _cell(cell: Any) -> str:
    return " - ".join(part for part in cell if part) if isinstance(cell, list) else str(cell)


def _head(title: str) -> Iterator[str]:
    yield ""
    yield title
    yield "-" * min(len(title), WIDTH)


def _wrap(said: str) -> Iterator[str]:
    yield from textwrap.wrap(said, WIDTH) or [""]


def _item(said: str) -> Iterator[str]:
    yield from textwrap.wrap(said, WIDTH, initial_indent="- ", subsequent_indent="  ") or ["-"]
