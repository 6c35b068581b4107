"""Upkeep as it is kept: work done, meters exchanged, oil sampled, orders and failures, what was planned otherwise.

All of them belong to an engine and to no visit, for most of this happens between visits; ``visit`` may name the visit
in which it was done. Hours are those that the meter showed: true hours follow from the exchanges.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints, model_validator

from asfound.records.kind_base import Content, Date, Id, Line, Text, Time

Hours = Annotated[float, Field(ge=0, le=1_000_000)]
Language = Annotated[str, StringConstraints(pattern=r"^([a-z]{2,3})?$")]
Word = Annotated[str, StringConstraints(max_length=120)]
Calendar = Annotated[str, StringConstraints(pattern=r"^(P(\d+Y)?(\d+M)?(\d+W)?(\d+D)?)?$", max_length=20)]
OilProperty = Literal[
    "acid_number", "base_number", "viscosity_100", "viscosity_40", "water", "oxidation", "nitration", "glycol",
    "insolubles", "iron", "copper", "lead", "tin", "aluminium", "chromium", "silicon", "sodium", "potassium",
]  # fmt: skip


class TaskDone(Content):
    """A task of the list was done: its interval counts from here."""

    task: Line
    """Identifier in the task list: ``oil_change``."""
    date: Date
    hours: Hours
    """As the meter showed it. [h]"""
    old_meter: bool = False
    """On the day of an exchange: the meter that was taken out was read."""
    by: Text = ""
    note: Text = ""
    part_life: Hours | None = None
    """Hours that the part had run when it was taken out. [h]"""
    part_end: Literal["", "worn_out", "failed", "still_good"] = ""
    """What was found of it: a life that ended, or one cut off while the part was still good."""
    work_order: Line | None = None
    visit: Id | None = None


class MeterExchanged(Content):
    """The hour meter was exchanged, or set back."""

    date: Date
    last_of_old: Hours
    """What the meter taken out showed last. [h]"""
    first_of_new: Hours = 0.0
    """What the new one showed first. [h]"""
    by: Text = ""
    note: Text = ""
    visit: Id | None = None


class OilSampled(Content):
    """A sample of the oil and what the laboratory found."""

    date: Date
    hours: Hours | None = None
    """As the hour meter showed it. [h]"""
    hours_on_oil: Hours | None = None
    """Since the oil was changed. [h] Left out for new oil."""
    new_oil: bool = False
    """Of the oil as delivered: what changes are counted from."""
    values: dict[OilProperty, float] = Field(min_length=1)
    """Acid and base number in mg KOH/g, viscosity in mm²/s, water, glycol, insolubles in %, oxidation and nitration in
    1/cm, metals in mg/kg."""
    topped_up: float | None = Field(default=None, ge=0)
    """Oil added since the sample before. [L]"""
    laboratory: Text = ""
    number: Text = ""
    """Of the laboratory's report."""
    methods: Text = ""
    """Of acid and base number: results of different methods are not compared."""
    note: Text = ""
    visit: Id | None = None

    @model_validator(mode="after")
    def _used_oil_has_hours(self) -> OilSampled:
        if not self.new_oil and self.hours_on_oil is None:
            raise ValueError("hours_on_oil is missing: a sample of used oil needs the hours since the change")
        return self


class OilLimitSet(Content):
    """A limit of the oil of this engine, by its manual, the supplier of the oil or the laboratory."""

    property: OilProperty
    low: float | None = None
    high: float | None = None
    rule: Literal["value", "above", "change", "share"] = "value"
    """The value itself; above new oil; per cent off new oil (low negative); per cent of new oil."""
    source: Line
    """Where it is written."""
    note: Text = ""

    @model_validator(mode="after")
    def _one_end(self) -> OilLimitSet:
        if self.low is None and self.high is None:
            raise ValueError("low or high is missing: a limit needs one of them")
        return self


class UpkeepPlan(Content):
    """What this engine has other than the list: another interval with its reason, or a task that it does not have.

    With an empty ``task``: what holds for its stops as a whole.
    """

    date: Date | None = None
    """Day from which it holds; of several the last holds."""
    task: Text = ""
    applies: bool = True
    hours: Annotated[float, Field(gt=0, le=1_000_000)] | None = None
    """Interval in running hours. [h]"""
    calendar: Calendar = ""
    """Interval in the calendar, ISO 8601: ``P1Y``, ``P6M``, ``P30D``."""
    grace_hours: Hours = 0.0
    grace_days: Annotated[int, Field(ge=0, le=3650)] = 0
    permit: bool = False
    """The interval stands in a permit or rule: it has no grace but its own."""
    why: Text = ""
    source: Text = ""
    """Manual, permit, letter: where the interval is written."""
    sump: float | None = Field(default=None, gt=0)
    """Volume of oil in the engine. [L]"""
    setup_minutes: float | None = Field(default=None, ge=0)
    """What a stop takes beside its work. [min]"""
    most_minutes: float | None = Field(default=None, gt=0)
    """Most minutes of work in one stop. [min]"""

    @model_validator(mode="after")
    def _with_reason(self) -> UpkeepPlan:
        if self.task and not self.applies and not self.why:
            raise ValueError("why is missing: a task that is left out needs its reason")
        if self.permit and (self.grace_hours or self.grace_days):
            raise ValueError("an interval of a permit has no grace beside it: write the longer interval")
        return self


class WorkOrder(Content):
    """An order for work, in the words in which somebody wrote it; codes (ISO 14224) stay open where unknown."""

    number: Line
    date: Date
    text: Annotated[str, StringConstraints(min_length=1, max_length=20_000)]
    """As written, slips of the pen included."""
    language: Language = ""
    """ISO 639: ``en``, ``de``, ``es``."""
    hours: Hours | None = None
    item: Word = ""
    mode: Word = ""
    mechanism: Word = ""
    cause: Word = ""
    detection: Word = ""
    state: Literal["open", "done", "cancelled"] = "open"
    closed: Date | None = None
    minutes_active: float | None = Field(default=None, ge=0)
    minutes_down: float | None = Field(default=None, ge=0)
    tasks: tuple[Line, ...] = ()
    """Of the task list, that it serves."""
    by: Text = ""
    note: Text = ""
    visit: Id | None = None


class FailureSeen(Content):
    """A failure, coded in the terms of ISO 14224:2016; a mechanism or cause that is not known stays empty."""

    date: Date
    """On which it was detected."""
    text: Annotated[str, StringConstraints(min_length=1, max_length=20_000)]
    language: Language = ""
    hours: Hours | None = None
    subunit: Word = ""
    item: Word = ""
    mode: Word = ""
    """How it was seen: ``ERO``."""
    mechanism: Word = ""
    """The physical process: ``2.4``."""
    cause: Word = ""
    """Why it could happen: ``3.4``."""
    detection: Word = ""
    """In words: one edition counts them otherwise than another."""
    impact: Literal["", "critical", "degraded", "incipient"] = ""
    operating: Literal["", "run_down", "start_up", "running", "hot_standby", "idle", "cold_standby", "testing"] = ""
    category: Literal["", "corrective", "preventive"] = ""
    activities: tuple[Word, ...] = ()
    down_from: Time | None = None
    down_until: Time | None = None
    minutes_active: float | None = Field(default=None, ge=0)
    work_order: Line | None = None
    note: Text = ""
    visit: Id | None = None


class PointDone(Content):
    """An open point of a visit that was closed since is done; the visit stays as it was sealed."""

    point: Id
    """Entry of the open point."""
    date: Date
    """On which it was done."""
    note: Text = ""
    visit: Id | None = None
    """The later visit on which it was done."""


class UpgradePlan(Content):
    """The target that was chosen for an engine, and the assumptions of its money as a person changed them."""

    date: Date | None = None
    target: Line
    assumptions: dict[Line, float] = {}
    why: Text = ""


UPKEEP_KINDS: dict[str, type[Content]] = {
    "task_done": TaskDone,
    "meter_exchanged": MeterExchanged,
    "oil_sample": OilSampled,
    "oil_limit": OilLimitSet,
    "upkeep_plan": UpkeepPlan,
    "work_order": WorkOrder,
    "failure": FailureSeen,
    "upgrade_plan": UpgradePlan,
    "point_done": PointDone,
}
