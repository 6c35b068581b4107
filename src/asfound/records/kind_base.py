"""What the models of all kinds of entry are made from: texts, times, identifiers, and the rules that all share."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, StringConstraints


def _of_the_calendar(text: str) -> str:
    """Refuse a month 13 or an hour 25, which the pattern lets through."""
    (datetime if "T" in text else date).fromisoformat(text)
    return text


Text = Annotated[str, StringConstraints(max_length=20_000)]
Line = Annotated[str, StringConstraints(min_length=1, max_length=400)]
Digest = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
Id = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$")]
Time = Annotated[
    str,
    StringConstraints(
        pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(:[0-9]{2}(\.[0-9]{1,6})?)?([+-][0-9]{2}:[0-9]{2}|Z)$"
    ),
    AfterValidator(_of_the_calendar),
]
Date = Annotated[str, StringConstraints(pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$"), AfterValidator(_of_the_calendar)]
Place = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9_]{1,60}$")]
State = Literal["as_found", "as_left"]
EngineState = Literal["running", "stopped", "isolated"]
Step = Literal["fitted", "fuel", "load", "exhaust", "cylinders", "other"]
How = Literal["read", "in_hand", "at_part", "from_3m", "photo", "said", "plate", "paper"]


class Content(BaseModel):
    """What all kinds share: nothing unknown gets in, nothing infinite, nothing changes afterwards."""

    # A validator is made when it is first needed, and docstrings of fields are read for the schema (`described`).
    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, frozen=True, defer_build=True)
