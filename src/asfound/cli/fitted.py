"""`asfound fitted`: what is really on the engine, how sure that is, why, and what follows."""

from __future__ import annotations

from asfound.cli.answer import answer
from asfound.cli.find import opened, view_of
from asfound.cli.options import Home
from asfound.cli.worded import told
from asfound.errors import RecordError


def fitted(visit: str, /, *, looks: int = 5, where: Home = Home()) -> None:
    """Say what is fitted, how sure that is and why, what to look at next, and what follows from it.

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    looks
        Most looks to propose.
    """
    seen = view_of(opened(where), visit)
    if seen.identification is None:
        raise RecordError(
            f"Nothing can be said of {seen.visit.name}: {' '.join(seen.problems) or 'no catalogue fits the engine.'}"
        )
    found = seen.identification
    answer(where, {"visit": seen.visit.name} | found.as_dict(), lambda: told(found, most=looks))
