"""What each kind of entry holds: one model per kind, checked when an entry is written or comes in from outside.

A model is the place where a kind is documented: its field docstrings go into the published JSON schema. Unknown fields
are refused, and so are numbers that are not finite. ``check(kind, content)`` is the only door.
"""

from __future__ import annotations

import json
from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints, TypeAdapter, ValidationError

from asfound.errors import InputError, UnknownNameError
from asfound.records.kind_base import (
    Content,
    Date,
    Digest,
    EngineState,
    How,
    Id,
    Line,
    Place,
    State,
    Step,
    Text,
    Time,
)
from asfound.records.kinds_logs import LOG_KINDS
from asfound.records.kinds_office import OFFICE_KINDS
from asfound.records.kinds_troubleshooting import TROUBLE_KINDS
from asfound.records.kinds_upkeep import UPKEEP_KINDS
from asfound.records.kinds_whatif import WHATIF_KINDS


class Site(Content):
    """A place where engines stand."""

    name: Line
    owner: Text = ""
    height: float | None = Field(default=None, ge=-430, le=6000)
    """Above sea level. [m]"""
    climate: Text = ""
    network: Text = ""
    units: Literal["si", "us"] = "si"
    """Units that the people of this site use."""
    zone: Annotated[str, StringConstraints(pattern=r"^(Z|[+-](0[0-9]|1[0-4]):[0-5][0-9])$")] = "Z"
    """Offset of the site's clocks from UTC."""
    cautions: Text = ""
    """What this site asks of whoever works there."""


class Layout(Content):
    """How the cylinders stand."""

    form: Literal["inline", "vee"]
    cylinders: int = Field(ge=1, le=24)
    angle: float | None = Field(default=None, gt=0, lt=180)
    """Between the rows. [degree]"""


class Numbering(Content):
    """How the cylinders of this engine are counted; differs between builders, so it is kept with the engine."""

    first_at: Literal["free_end", "driving_end"] = "free_end"
    """The end where number 1 stands."""
    names: Literal["1", "L1", "A1"] = "1"
    """``1`` counted through, ``L1`` left and right rows, ``A1`` rows A and B."""
    sides_seen_from: Literal["driving_end", "free_end"] = "driving_end"
    """From where left is left."""
    operator_counts_from: Literal["free_end", "driving_end", ""] = ""
    """If the people of the site count from the other end."""
    source: Text = ""
    """Who says so: document, plate, a look."""


class Turbochargers(Content):
    """How many, and at which end."""

    count: int = Field(ge=0, le=8)
    end: Literal["free_end", "driving_end", ""] = ""


class Rated(Content):
    """What the plate or the document allows."""

    power: float | None = Field(default=None, gt=0)
    """Brake power. [W]"""
    speed: float | None = Field(default=None, gt=0)
    """[rad/s]"""
    text: Text = ""
    """As written, with its source."""


class Engine(Content):
    """An engine, as far as it does not change with what is bolted to it."""

    tag: Annotated[str, StringConstraints(pattern=r"^[^\s/\\?#%]{1,24}$")]
    """What the site calls it: ``A2``."""
    site: Id | None = None
    family: Text = ""
    """As believed; what the plate says is under ``plate``."""
    works_number: Text = ""
    driven: Literal["generator", "compressor", "pump", "other", ""] = ""
    driven_text: Text = ""
    """In the site's words: ``2-stage field gas compressor``."""
    layout: Layout | None = None
    numbering: Numbering = Numbering()
    firing_order: Text = ""
    """As its document has it, in the names of its numbering: ``1-5-3-6-2-4``."""
    turbochargers: Turbochargers | None = None
    catalyst: bool | None = None
    bearings: int | None = Field(default=None, ge=1, le=40)
    """Main bearings."""
    bearings_measured: bool | None = None
    mirror: bool = False
    """Built mirror-handed."""
    rated: Rated = Rated()
    in_store: tuple[Line, ...] = ()
    """Spares of the catalogue that lie in the store for it."""
    rules: dict[Line, Text] = {}
    """What general rules ask of it, in words: ``burn: lean``, ``made: 2009-06-15`` (``exhaust.rule_facts.FACTS``)."""
    derating: Digest | None = None
    """File, by digest, with what its maker lets it give in other air and on other gas; see docs/power.md."""
    papers: tuple[Line, ...] = ()
    """Documents in the cupboard, with revision: ``VR-12 c``."""
    plate: dict[str, Text] = {}
    """What the nameplate says: ``family``, ``works_number``, ``generation`` ..."""
    catalogue: Text = ""
    """Folder of the catalogue that knows its builder, under the home or absolute; empty: that of the settings."""
    note: Text = ""


class Limit(Content):
    """A wall: permit, rating, alarm."""

    quantity: Line
    value: float
    """In the SI unit of the quantity."""
    as_typed: Line
    side: Literal["upper", "lower"] = "upper"
    place: Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9_]{0,60}$")] = ""
    name: Line = "permit"
    text: Text = ""
    """Where it is written, with number, date and clause."""
    basis: Text = ""
    """Averaging time, dry or wet, reference oxygen."""
    valid_from: Date | None = None
    valid_to: Date | None = None


class Specification(Content):
    """What an instrument claims for one quantity."""

    percent_of_reading: float = Field(default=0.0, ge=0)
    absolute: float = Field(default=0.0, ge=0)
    """In the SI unit of the quantity."""
    resolution: float = Field(default=0.0, ge=0)
    drift_per_year: float = Field(default=0.0, ge=0)
    """Since the calibration. [SI unit a year]"""
    drift_percent_per_year: float = Field(default=0.0, ge=0)
    coverage: Literal["rectangular", "k2", "k1"] = "rectangular"
    combine: Literal["sum", "larger"] = "sum"
    """``5 % or 5 ppm``: the larger; ``5 % and 5 ppm``: the sum."""
    distribution: Literal["normal", "rectangular", "triangular", "arcsine"] = "normal"
    source: Text = ""
    shared_fraction: float = Field(default=0.5, ge=0, le=1)
    """Share of the variance that all its readings of this quantity have in common."""


class Instrument(Content):
    """An instrument that readings name."""

    name: Line
    serial: Text = ""
    specs: dict[str, Specification] = {}
    """By quantity."""
    calibrated: Date | None = None
    interval_months: int | None = Field(default=12, gt=0)
    source: Text = ""
    """Where the specification is written."""
    note: Text = ""


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


class SealedDigest(Content):
    """An entry under a seal."""

    id: Id
    digest: Digest


class SealedFile(Content):
    """An attachment under a seal."""

    digest: Digest
    size: int = Field(ge=0)


class SealedBefore(Content):
    """The seal before this one, of the same engine."""

    id: Id
    visit: Id
    digest: Digest


class SealedLog(Content):
    """What was known of the engine's log when the visit was closed: a look up to a day."""

    day: Date
    """Last day of the log that it looks at."""
    digest: Line
    """Of all that the look rests on: rows, alarm lists, visits, limits."""
    file: Digest
    """The look itself, deflated (RFC 1950) JSON among the files of the record."""


class Signature(Content):
    """Ed25519 over the digest's 32 bytes; key and signature in hexadecimal."""

    algorithm: Literal["Ed25519"] = "Ed25519"
    key: Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
    signature: Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{128}$")]


class Sealed(Content):
    """The seal of a visit; see docs/records.md for how to check it without this program."""

    seal: Literal["asfound seal 1"] = "asfound seal 1"
    id: Id
    """Of the entry of the seal itself; this and the next five repeat its fields, so that they are under the digest."""
    at: Time
    who: Line
    device: Line
    engine: Id
    visit: Id
    context: tuple[SealedDigest, ...]
    """Entries outside the visit that it stands on: site, engine, limits, instruments."""
    entries: tuple[SealedDigest, ...]
    """All entries of the visit, in the order of their identifiers."""
    attachments: tuple[SealedFile, ...]
    previous: SealedBefore | None = None
    statement: Text = ""
    """What the person states by closing."""
    log: SealedLog | None = None
    """Left out where no look at a log was known."""
    digest: Digest
    """SHA-256 over the canonical form of all the fields above."""
    signature: Signature | None = None


class Addendum(Content):
    """What is added after the seal: a correction in words, a late result. The sealed entries stay."""

    says: Annotated[str, StringConstraints(min_length=1, max_length=20_000)]
    time: Time
    about: tuple[Id, ...] = ()
    """Entries that it is about."""
    attachments: tuple[Photo, ...] = ()


class Resolution(Content):
    """How a person settled that two entries correct the same one, or that two laptops read one thing."""

    about: Id
    """The entry that was corrected twice; or the first of several readings of one thing."""
    choose: tuple[Id, ...] = Field(min_length=1)
    """What stands: one of them, or several to keep both as two readings."""
    set_aside: tuple[Id, ...] = ()
    """What does not; one that is named in neither list clashes anew."""
    why: Text = ""


class Withdrawn(Content):
    """Undo: makes the entry named in ``corrects`` void; both stay readable."""

    why: Text = ""


KINDS: dict[str, type[Content]] = {
    "site": Site,
    "engine": Engine,
    "limit": Limit,
    "instrument": Instrument,
    "visit_opened": VisitOpened,
    "visit_state": VisitState,
    "look": Look,
    "reading": Reading,
    "note": Note,
    "photo": Photo,
    "finding_decision": FindingDecision,
    "open_point": OpenPoint,
    "setting": Setting,
    "method_choice": MethodChoice,
    "emission_test": EmissionTest,
    "reading_judged": ReadingJudged,
    "cylinder_look": CylinderLook,
    "sealed": Sealed,
    "addendum": Addendum,
    "resolution": Resolution,
    "withdrawn": Withdrawn,
    **TROUBLE_KINDS,
    **UPKEEP_KINDS,
    **LOG_KINDS,
    **WHATIF_KINDS,
    **OFFICE_KINDS,
}
OF_THE_HOME = frozenset({"site", "instrument"})
"""Kinds that belong to no engine."""
OF_AN_ENGINE = frozenset({"engine", "limit", *LOG_KINDS, *UPKEEP_KINDS, *OFFICE_KINDS})
"""Kinds that belong to an engine and to no visit. ``withdrawn`` and ``resolution`` go where their entry is."""
ANYWHERE = frozenset({"withdrawn", "resolution", "note", "photo"})


_LINE: TypeAdapter[str] = TypeAdapter(Line)


def check_who(who: str) -> str:
    """Return the name under which an entry is kept; InputError where it cannot stand on one."""
    try:
        kept = _LINE.validate_python(who)
    except ValidationError as refused:
        raise _as_input_error("who", refused) from None
    if "\0" in kept:
        raise InputError("who", "U+0000", "cannot be kept in a record", try_next="Leave it out.")
    return kept


def readable(kind: str, content: dict[str, Any]) -> bool:
    """Tell whether a stored content still is what its kind asks for; True for a kind of a newer program."""
    model = KINDS.get(kind)
    if model is None:
        return True
    try:
        model.model_validate(content)
    except ValidationError:
        return False
    return True


def check(kind: str, content: dict[str, Any]) -> dict[str, Any]:
    """Return the content of an entry as it will be kept: complete, JSON-ready, without what is None.

    Raises
    ------
    UnknownNameError
        There is no such kind.
    InputError
        A field is missing, unknown or impossible; names the first, tells how many more.
    """
    model = KINDS.get(kind)
    if model is None:
        raise UnknownNameError("kind of entry", kind, KINDS)
    try:
        kept = model.model_validate(content)
    except ValidationError as refused:
        raise _as_input_error(kind, refused) from None
    plain: dict[str, Any] = kept.model_dump(mode="json", exclude_none=True)
    _refuse_odd(kind, plain)
    for name, value in plain.items():
        if "\\u0000" in json.dumps(value):  # PostgreSQL's text cannot hold it
            raise InputError(f"{kind}.{name}", "U+0000", "cannot be kept in a record", try_next="Leave it out.")
    return plain


def _refuse_odd(kind: str, plain: dict[str, Any]) -> None:
    """Refuse what the schema lets pass and nobody means; what is kept already stays readable."""
    layout = plain.get("layout") or {}
    if kind == "engine" and layout.get("form") == "vee" and layout.get("cylinders", 0) % 2:
        raise InputError(
            "engine.cylinders", str(layout["cylinders"]), "do not stand in two like rows", allowed="an even number",
            try_next="Count both rows together.",
        )  # fmt: skip
    place = str(plain.get("place", ""))
    if kind == "reading" and place.endswith("_"):
        raise InputError(
            "reading.place", place, "does not say which one", allowed="cylinder_3, cylinder_L3, bearing_2, stage_1 ...",
            try_next="Write the number behind it.",
        )  # fmt: skip


_WORDS_FOR = {
    "string_unicode": "it has a sign that is none (not UTF-8)",
    "string_pattern_mismatch": "it has a sign that cannot stand there, or is too long",
}


def _as_input_error(kind: str, refused: ValidationError) -> InputError:
    """Say the first complaint in the words of this program."""
    complaints = refused.errors(include_url=False, include_context=False)
    first = complaints[0]
    where = ".".join(str(part) for part in first["loc"])
    more = f"{len(complaints) - 1} more in this entry." if len(complaints) > 1 else ""
    given = "" if first["type"] == "missing" else str(first.get("input", ""))[:200]
    because = _WORDS_FOR.get(first["type"], first["msg"])
    return InputError(f"{kind}.{where}".rstrip("."), given, f"cannot be kept: {because}", try_next=more)
