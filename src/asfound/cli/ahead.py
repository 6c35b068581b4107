"""`asfound ahead`: what an idle server makes before somebody opens it, made now."""

from __future__ import annotations

import time
from datetime import timedelta
from typing import TYPE_CHECKING

from asfound.cli.answer import answer, working
from asfound.cli.find import opened, visit_of
from asfound.cli.options import Hand
from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.web.work_ahead import WorkAhead


def ahead(*visit: str, most: int = 0, language: str = "", hand: Hand = Hand()) -> None:
    """Make the pages of visits now, so that they are there at once when somebody opens them.

    `asfound serve` does the same by itself while the machine is idle and on mains. Pages are kept beside the record in
    `.kept.sqlite`, up to the setting `kept_mb`; what is kept as it stands is passed over. A locked home keeps none.

    asfound ahead

    asfound ahead A2/2032-07-08 --json

    Parameters
    ----------
    visit
        Visits; without any, all of them, the newest first.
    most
        Visits that are made at most; 0: no end.
    language
        What the browser of the reader asks for, such as de; without it, as the settings say.
    """
    from asfound.records.kept_store import kept_store
    from asfound.web.work_ahead import WorkAhead

    records = opened(hand)
    store = kept_store(records)
    if store is None:
        raise InputError(
            "home", str(records.home.folder), "keeps nothing beside its record", try_next="A locked home never does."
        )
    work = WorkAhead(records, who=hand.who or None, language=language, still=timedelta(0))
    chosen = [visit_of(records, one) for one in visit] or work.order()
    began = time.monotonic()
    with working("Making pages"):
        looked_at, full = _made(work, [one.id for one in chosen], most)
    data = {
        "made": work.made, "kept_before": looked_at - work.made, "left": len(chosen) - looked_at, "full": full,
        "kept_mb": round(store.megabytes(), 1), "seconds": round(time.monotonic() - began, 1),
    }  # fmt: skip

    def told() -> Iterator[str]:
        yield f"Pages of {work.made} visits made in {data['seconds']} s; {data['kept_before']} were there."
        yield f"{data['kept_mb']} MB are kept beside the record; the setting kept_mb allows {records.settings.kept_mb}."
        if full:
            yield f"No more may be kept: {data['left']} visits are left. `asfound home kept_mb=2000` allows more."

    answer(hand, data, told)


def _made(work: WorkAhead, visits: list[str], most: int) -> tuple[int, bool]:
    """Make visits until enough are made or no more may be kept; return how many were seen to, and if it is full."""
    for at, one in enumerate(visits):
        if work.full:
            return at, True
        if most and work.made >= most:
            return at, False
        work.make(work.records.visit(one))
    return len(visits), False
