"""What the HTTP door takes of upkeep: one entry, its fields as a person types them."""

from __future__ import annotations

from typing import Literal

from asfound.web.api_bodies import Body, Name, Text


class UpkeepBody(Body):
    """One entry of an engine's upkeep."""

    kind: Literal["task_done", "meter_exchanged", "oil_sample", "oil_limit", "work_order", "failure", "upkeep_plan"]
    fields: dict[Name, Text]
    """Field to text, as a person types it: ``hours: 24,265``, ``task: oil_change``, ``acid_number: 1.3``."""
