"""Kinds of entry that a visit is made of: what was read, seen, noted, decided."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints

from asfound.records.kind_base import Content, Date, Digest, EngineState, How, Id, Line, Place, State, Step, Text, Time


class VisitOpened(Content):
    """The beginning of a visit."""

    purpose: Text = ""
    began: Time
    people: tuple[Line, ...] = ()
    permit_until: Time | None = None
    """When the permit to work ends."""
    catalogue_digest: Text = ""
    """Of the catalogue it was begun with."""


class VisitState(Content):
    """Something that happened to the engine or to the visit: it stands on the day's line."""

    event: Literal["arrived", "running", "stopped", "isolated", "released", "changed", "permit", "left"]
    """``released``: isolation taken off; ``changed``: a part or an adjustment; ``permit``: it ends at another time."""
    time: Time
    says: Text = ""
    minutes: float | None = Field(default=None, ge=0)
    """How long it took."""
    engine_state: EngineState | None = None
    """State of the engine from then on."""
    permit_until: Time | None = None


class Look(Content):
    """What somebody saw of a component, how, and what it is like."""

    slot: Place
    """Place by its job: ``ignition_unit``; ``nameplate`` for what the plate says."""
    character: Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9_]{0,60}$")] = ""
    """Character of the slot; empty: the slot as a whole."""
    answer: Literal["seen", "not_there", "not_judged"] = "seen"
    states: tuple[Line, ...] = ()
    """Several when it cannot be told which."""
    how: How = "at_part"
    label: Text = ""
    """As read; ``?`` for one sign that cannot be read, ``.`` likewise."""
    by: Text = ""
    source: Text = ""
    """Looks with one source are one witness: a plate, a person, a paper."""
    time: Time
    state: State = "as_found"
    number: Text = ""
    """Number of the tag or position where there are several."""
    note: Text = ""
    photos: tuple[Digest, ...] = ()


class Reading(Content):
    """A value that was read, with what was typed and what it was taken to mean."""

    quantity: Place
    place: Place
    state: State
    time: Time
    as_typed: Text
    value: float | None = None
    """In the SI unit of the quantity; gauge stays gauge. None: not taken, or only a bound is known."""
    unit: Text = ""
    """Unit as typed."""
    gauge: bool = False
    """True: the visit's barometer is added when it is used, so that a barometer put right later puts this right."""
    censored: Literal["", "above", "below"] = ""
    bound: float | None = None
    """For ``censored``: the value that it lies above or below. SI."""
    missing: bool = False
    """True: it could not be taken; the note says why."""
    instrument: Id | None = None
    """The entry of the instrument."""
    instrument_text: Text = ""
    """Instrument in words, where it has no entry."""
    standard_uncertainty: float | None = Field(default=None, ge=0)
    """As stated for this reading; without it that of the instrument holds."""
    origin: Literal["measured", "typed", "assumed"] = "measured"
    distribution: Literal["normal", "rectangular", "triangular", "arcsine"] | None = None
    """Of its error; None: that of the instrument, else normal."""
    reference_oxygen: float | None = Field(default=None, ge=0, lt=1)
    """Level of oxygen that the value is counted at, where it was typed with one (``at 3 % O2``). [mol/mol]"""
    minutes: float | None = Field(default=None, ge=0)
    """Averaged over."""
    source: Text = ""
    """Laboratory, document, display: where it comes from when nobody read an instrument."""
    note: Text = ""


class Note(Content):
    """Free words, sorted later or never."""

    text: Annotated[str, StringConstraints(min_length=1, max_length=20_000)]
    time: Time
    state: State | None = None
    step: Step | None = None
    place: Text = ""
    """Place or slot it is about."""


class Photo(Content):
    """A photo or file that is kept by its digest."""

    digest: Digest
    filename: Line
    media_type: Annotated[str, StringConstraints(pattern=r"^[\w.+-]+/[\w.+-]+$")]
    size: int = Field(ge=0)
    time: Time
    """When it was taken, or when it was kept if that is not known."""
    caption: Text = ""
    state: State | None = None
    step: Step | None = None
    place: Text = ""
    """Place or slot it shows; empty: not sorted yet."""
    latitude: float | None = Field(default=None, ge=-90, le=90)
    """Where it was taken, by the camera (WGS 84, north positive); only where this home is set to keep it. [deg]"""
    longitude: float | None = Field(default=None, ge=-180, le=180)
    """East positive. [deg]"""


class FindingDecision(Content):
    """What the person on site decided about a finding; the program advises only."""

    code: Line
    subject: Text = ""
    state: State = "as_found"
    about: tuple[Line, ...] = ()
    """Keys that the finding stands on: its ``because``."""
    decision: Literal["agreed", "set_aside", "done", "handed_on"]
    why: Text = ""
    to_whom: Text = ""


class OpenPoint(Content):
    """Something that is still to be done, by whom and by when. Closing it is a correction with ``done``."""

    says: Line
    severity: Literal["stop", "visit", "clash", "soon", "note"] = "soon"
    who: Text = ""
    due: Date | None = None
    minutes: float | None = Field(default=None, ge=0)
    state_needed: EngineState = "running"
    step: Step | None = None
    place: Text = ""
    done: bool = False
    note: Text = ""


class Setting(Content):
    """A set point, timing or software as it stands in the engine's controls, by name."""

    name: Line
    as_typed: Text
    value: float | None = None
    """SI, where the name is a quantity."""
    state: State
    time: Time
    place: Text = ""
    file: Digest | None = None
    """Saved file, by digest."""
    note: Text = ""


class MethodChoice(Content):
    """Which way to a number is taken where several lead to it; the last choice for a quantity holds."""

    quantity: Line
    worksheet: Text = ""
    """Name of the worksheet whose answer is taken; empty: as the program prefers."""
    why: Text = ""
    time: Time


class CylinderLook(Content):
    """What a witness says of one cylinder: seen, read or heard; or that it could not be told."""

    cylinder: Line
    """Place of the cylinder without its prefix: ``3``, ``L2``."""
    witness: Line
    """Name in the knowledge of `cylinders`."""
    state: Text = ""
    """What it says, by its name there."""
    could_not_tell: bool = False
    how: Literal["seen", "read", "paper", "hearsay"] = "seen"
    by: Text = ""
    state_of_visit: State = "as_found"
    time: Time
    note: Text = ""


class ReadingJudged(Content):
    """What a person made of a reading: false, so that numbers are worked out without it, or sound again.

    The reading stays, and stays shown.
    """

    about: Id
    """Entry of the reading; a later reading at its place is judged anew."""
    verdict: Literal["false", "sound"]
    why: Text = ""
    """What speaks against it: the cross-check, a second instrument, a loose wire."""
    time: Time


class EmissionTest(Content):
    """A formal test of several runs, with what its analysers were given; its findings name the clauses."""

    test: dict[str, Any]
    """As `asfound.exhaust.test_run.EmissionTest` reads it."""
    state: State
    time: Time
    file: Digest | None = None
    """The file that it was read from, by digest."""
    source: Text = ""
