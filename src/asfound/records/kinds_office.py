"""Hours for the own office: what nobody can read off the engine, such as travel and whether the warranty bears it.

They belong to the engine and name their visit, because the way home is typed after the visit was closed.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from asfound.records.kind_base import Content, Date, Id, Line, Text


class TimeSpent(Content):
    """Hours of one person on one day for a visit, as the person types them."""

    visit: Id
    date: Date
    who: Line
    what: Literal["travel", "on_site", "waiting", "preparation", "writing", "other"]
    minutes: float = Field(gt=0, le=1440)
    """[min]"""
    warranty: Literal["", "no", "asked", "agreed", "refused"] = ""
    """Whether the warranty bears it; empty: not said."""
    note: Text = ""


OFFICE_KINDS: dict[str, type[Content]] = {"time_spent": TimeSpent}
