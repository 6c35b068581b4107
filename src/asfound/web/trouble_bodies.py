"""What the HTTP door takes of a trouble: an answer, the end of a case, fault codes."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from asfound.web.api_bodies import Body, Name, Text, Time, Typed

Frames = Annotated[str, StringConstraints(min_length=1, max_length=200_000)]


class AnswerBody(Body):
    """What a person says of one symptom, test or repair."""

    about: Name
    """Name in the knowledge of troubleshooting: ``s_knock``, ``t_gas_report``, ``r_coil``."""
    says: Literal["present", "absent", "positive", "negative", "cured", "fails", "not_judged", "not_done", "not_told"]
    """Of a symptom ``present`` or ``absent``, of a test ``positive`` or ``negative``, of a repair ``cured`` or
    ``fails``; ``not_told`` takes back what was said."""
    place: Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9_ ]{0,60}$")] = ""
    minutes: float | None = Field(default=None, ge=0, le=100_000)
    """How long a step took."""
    by: Typed = ""
    note: Text = ""
    time: Time = ""


class CloseBody(Body):
    """The end of a case: the cause, and how it is known."""

    cause: Name
    """Name in the knowledge; ``other``: something else, or more than one."""
    confirmed: Literal["cured", "seen", "believed"]
    part: Typed = ""
    note: Text = ""
    time: Time = ""


class CodesBody(Body):
    """Frames of the engine's data bus."""

    text: Frames
    source: Typed = ""
    note: Text = ""
    time: Time = ""
