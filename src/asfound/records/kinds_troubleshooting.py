"""Kinds of entry of troubleshooting: what shows, what was tried and with what outcome, how a case ended."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from asfound.records.kind_base import Content, Digest, Line, State, Text, Time

Name = Annotated[str, StringConstraints(pattern=r"^[A-Za-z][A-Za-z0-9_]{0,79}$")]
Where = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9_ ]{0,60}$")]


class TroubleSymptom(Content):
    """What a person says of one symptom; the last word about it at its place holds."""

    symptom: Name
    """Name in the knowledge of troubleshooting: ``s_misfire_one``."""
    says: Literal["present", "absent", "not_judged", "not_told"]
    """``absent``: looked for and not found; ``not_told`` takes back what was said before."""
    place: Where = ""
    """Cylinder, bearing, side: ``L2``."""
    state: State = "as_found"
    time: Time
    by: Text = ""
    """Who saw it, if not who writes."""
    note: Text = ""


class TroubleStep(Content):
    """A test or repair and its outcome; the last word about it at its place holds.

    A repair changes the engine: tests made before one that failed are not weighed as if of the engine after it.
    """

    step: Name
    """Name in the knowledge of troubleshooting: ``t_coil_swap``, ``r_coil``."""
    says: Literal["positive", "negative", "cured", "fails", "not_judged", "not_done", "not_told"]
    """Of a test ``positive`` or ``negative``, of a repair ``cured`` or ``fails`` (the fault is still there)."""
    place: Where = ""
    minutes: float | None = Field(default=None, ge=0, le=100_000)
    """How long it took."""
    state: State = "as_found"
    time: Time
    by: Text = ""
    note: Text = ""


class TroubleAllowed(Content):
    """What may be done with the engine now; the last word holds."""

    can_run: bool = True
    """False: it does not run, or it was decided that it does not run on."""
    may_stop: bool = True
    may_isolate: bool = True
    barred: tuple[Name, ...] = ()
    """Hazards that are not allowed now, by their tags in the register of cautions."""
    why: Text = ""
    time: Time
    by: Text = ""


class TroubleClosed(Content):
    """The end of a case; withdrawn, it takes its count away again."""

    cause: Name
    """Name in the knowledge; ``other``: something else, or more than one thing."""
    confirmed: Literal["cured", "seen", "believed"]
    """``cured``: the repair cured it; ``seen``: the fault was seen; ``believed``: neither, and it does not count."""
    part: Text = ""
    """The part that was at fault, in words."""
    time: Time
    by: Text = ""
    note: Text = ""


class ProtectionSeen(Content):
    """What was seen of a protection: in force, off, bypassed, set otherwise than the signed list says."""

    protection: Name
    """Name in the list of protections: ``overspeed``; ``other`` with the name in ``called``."""
    called: Text = ""
    """As the controls or the drawing call it."""
    says: Literal["in_force", "off", "bypassed", "setting_moved", "not_judged"]
    place: Where = ""
    how: Literal["seen", "tested", "read", "said", "paper"] = "seen"
    state: State = "as_found"
    time: Time
    by: Text = ""
    note: Text = ""


class FaultCodes(Content):
    """Fault messages of the engine's data bus as they were read."""

    text: Annotated[str, StringConstraints(min_length=1, max_length=200_000)]
    """The frames that carry them, one a line; of a long log only those."""
    file: Digest | None = None
    """The whole log by digest, where it came as a file."""
    filename: Text = ""
    state: State = "as_found"
    time: Time
    source: Line | Literal[""] = ""
    """Where they were read."""
    note: Text = ""


TROUBLE_KINDS: dict[str, type[Content]] = {
    "trouble_symptom": TroubleSymptom,
    "trouble_step": TroubleStep,
    "trouble_allowed": TroubleAllowed,
    "trouble_closed": TroubleClosed,
    "protection_seen": ProtectionSeen,
    "fault_codes": FaultCodes,
}
