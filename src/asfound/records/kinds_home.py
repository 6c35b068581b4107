"""Kinds of entry that outlast a visit: sites, engines, their limits, instruments."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from asfound.records.kind_base import Content, Date, Digest, Id, Line, Text


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
