"""A visit as its entries make it: what page, command line and report show, computed afresh at each change."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from asfound.fitout.engine_facts import EngineFacts
    from asfound.fitout.identification import Identification
    from asfound.fitout.looks import SeenLook
    from asfound.quantities.findings import Case
    from asfound.quantities.sheet import Worked
    from asfound.quantities.words import Finding, Limit
    from asfound.records.entries import Entry
    from asfound.records.fold import Conflict
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord, SiteRecord, Thing, VisitRecord
    from asfound.records.view_parts import (
        Day,
        Difference,
        KeptReading,
        LimitState,
        NextThing,
        Previous,
        StepProgress,
        StillOpen,
    )
    from asfound.troubleshoot.shown import Trouble
    from asfound.upkeep.engine_due import EngineDue


@dataclass(frozen=True, kw_only=True, eq=False)
class VisitView:
    """Everything about one visit. Nothing in it is stored; it all follows from the entries."""

    id: str
    engine: EngineRecord
    """``.tag``, ``.content`` (fields of ``kinds.Engine``), ``.site``, ``.units``."""
    site: SiteRecord | None
    visit: VisitRecord
    """``.name`` (``A2/2032-07-08``), ``.began``, ``.content`` (purpose, people, permit_until), ``.sealed``."""
    facts: EngineFacts
    """What identification was given of the engine."""
    engine_state: str
    """``running``, ``stopped`` or ``isolated``, by the last event that said so."""
    system: Literal["si", "us"]
    """Units to show: ``si`` or ``us``, by the settings of the home or the custom of the site."""

    entries: tuple[Entry, ...]
    """Entries of the visit that stand, in order."""
    entries_all: tuple[Entry, ...]
    """All of them, corrected and withdrawn ones too."""
    replaced: Mapping[str, tuple[str, ...]]
    """Identifier of a corrected entry to those of the entries that stand for it."""
    void: frozenset[str]
    """Identifiers of withdrawn entries."""
    conflicts: tuple[Conflict, ...]

    readings: Mapping[str, KeptReading]
    """The reading that holds at each key ``state/place/quantity``: the latest taken."""
    readings_all: tuple[KeptReading, ...]
    """All that stand, by time."""
    instruments: Mapping[str, Thing]
    """By identifier, those of the whole home; ``.content`` has the fields of ``kinds.Instrument``."""
    limits: tuple[Limit, ...]
    """Those in force on the day of the visit."""
    limit_states: tuple[LimitState, ...]
    looks: tuple[SeenLook, ...]
    """Of this visit."""
    looks_before: tuple[SeenLook, ...]
    """Of earlier visits, where this one has not looked again."""
    notes: tuple[Entry, ...]
    photos: tuple[Entry, ...]
    settings: tuple[Entry, ...]
    open_points: tuple[Entry, ...]
    """Kind ``open_point``, those not done first."""
    points_done: Mapping[str, Entry]
    """``point_done`` by open point: what was said done after this visit was closed."""
    decisions: Mapping[str, Entry]
    """``finding_decision`` by ``decision_key`` of the finding."""
    addenda: tuple[Entry, ...]
    seal: Entry | None
    late: tuple[Entry, ...]
    """Entries that came in by a merge after the seal and are not under it."""

    worked: Worked
    identification: Identification | None
    """As it stands now: looks as left take the place of looks as found at the same slot."""
    identification_found: Identification | None
    """From the looks as found alone; the same object where none was made as left."""
    findings: tuple[Finding, ...]
    differences: tuple[Difference, ...]
    steps: Mapping[str, StepProgress]
    """By step: ``fitted``, ``fuel``, ``load``, ``exhaust``, ``cylinders``, ``other``."""
    still_open: tuple[StillOpen, ...]
    minute: Callable[[], str]
    """Tells what the clock of the home shows."""
    previous: Previous | None
    due: EngineDue
    """What is due, seen from today; of a sealed visit from its day, with what had been written by then."""
    problems: tuple[str, ...]
    """What could not be computed, in words, for example looks that the catalogue does not know. Show them."""
    case: Case
    """What the rooms were shown, with all that they found."""

    @property
    def day(self) -> Day:
        """The day's line; of an open visit it goes on by itself, and nothing else of the view moves with it."""
        from asfound.records.day import day

        return day(self.visit, self.entries, self.minute())

    @cached_property
    def trouble(self) -> Trouble:
        """The trouble of this visit: what is told, believed, to be done next."""
        from asfound.troubleshoot.of_case import of_case

        return of_case(self.case)

    @cached_property
    def trouble_without_closed(self) -> Trouble:
        """The same with closed cases of the home left out."""
        from asfound.troubleshoot.of_case import of_case

        return of_case(self.case, closed_cases=False)

    @property
    def sealed(self) -> bool:
        """Whether the visit is closed."""
        return self.seal is not None

    @property
    def next_thing(self) -> NextThing:
        """The one next thing to do."""
        from asfound.records.next_thing import next_thing

        return next_thing(self)


def decision_key(finding: Finding) -> str:
    """Return what tells one finding of a visit from another: code, state and what it stands on."""
    return "|".join((finding.code, finding.state, *sorted(finding.because)))


def view(records: Records, visit: str) -> VisitView:
    """Return what the entries of a visit add up to.

    Computed once for each state of the record and remembered, so that asking again costs about a millisecond.

    Parameters
    ----------
    records : Records
    visit : str
        Identifier or readable name (``A2/2032-07-08``; ``A2``: its newest visit).

    Raises
    ------
    UnknownNameError
        No such visit.
    """
    from asfound.records.compute import compute
    from asfound.records.summary import keep_summary

    with records.steady():
        found, key = _state(records, visit)

        def work() -> VisitView:
            made = compute(records, found)
            keep_summary(records, made)
            return made

        result: VisitView = records.remembered(key, work, slot=("view", found.id))
    return result


def case_of(records: Records, visit: str) -> Case:
    """Return a visit as the rooms take it: of its view where that is at hand, else without what they find of it.

    What another visit is compared with is had so for half of what its view takes.
    """
    from asfound.records.compute import compute

    with records.steady():
        found, key = _state(records, visit)
        if records.remembers(("view", found.id)):
            return view(records, visit).case
        made: VisitView = records.remembered(key, lambda: compute(records, found, rooms={}), slot=("case", found.id))
    return made.case


def _state(records: Records, visit: str) -> tuple[VisitRecord, tuple[object, ...]]:
    """Return a visit, and what changes whenever its view may say something else."""
    from asfound.errors import AsFoundError
    from asfound.records.catalogues import catalogue_of
    from asfound.records.logs_of_engine import look_stamp
    from asfound.records.stamps import closed_stamp
    from asfound.records.unit_system import units_stamp

    found = records.visit(visit)
    records.fold(found.engine, found.id)
    found = records.visit(found.id)  # its entries are read now: one of them may be damaged
    try:
        catalogue = catalogue_of(records, records.engine(found.engine)).digest
    except AsFoundError as fault:  # the view says it among its problems
        catalogue = str(fault)
    today = "" if found.sealed else records.clock.now().date().isoformat()  # what is due is due by the day
    return found, (
        *records.revision(found.engine), units_stamp(records), catalogue, today, *closed_stamp(records, found),
        look_stamp(records, found.engine),
    )  # fmt: skip
