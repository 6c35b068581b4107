"""Duties of the owner and of the test as dated data: which concern this engine, and what is due.

The rows are in our own words and say how their text was seen; the official text decides, and the permit before it. The
functions below are the arithmetic of single rules; they judge nothing that they were not told.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from typing import Literal

from asfound.errors import InputError, KnowledgeError
from asfound.exhaust.limits import INSIDE, Verdict
from asfound.exhaust.limits_table import STATUS_WORDS, STATUSES
from asfound.exhaust.rule_facts import FACTS, Condition, EngineFacts, condition
from asfound.quantities.units import to_si
from asfound.sources.tables import load_csv

LARGE, SMALL = float(to_si(500.0, "hp")), float(to_si(100.0, "hp"))
"""Sizes at which 40 CFR 60.4243 changes what it asks. [W]"""
TEST_HOURS, TEST_MONTHS = 8760.0, 36
"""A repeated test: every 8,760 h or 3 years, whichever comes first (60.4243(a)(2)(iii), (b)(2)(ii))."""
FIRST_MONTHS = 12
"""A certified engine not kept by its instructions is tested within a year of its start (60.4243(a)(2))."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Duty:
    """One duty of one text, in our own words."""

    id: str
    jurisdiction: str
    topic: str
    """``test interval``, ``records``, ``method``, ``monitoring`` ..."""
    when: Condition
    who: str
    rule: str
    value: str
    hours: float | None
    """Interval in running hours after which it is due again."""
    months: int | None
    clause: str
    source: str
    status: str
    note: str

    @property
    def status_words(self) -> str:
        """How the text was seen, in words that a page always shows."""
        return STATUS_WORDS[self.status]

    @property
    def says(self) -> str:
        """Who and what, with clause and how it was seen."""
        said = f"{self.who}: {self.rule}" if self.who else self.rule
        return f"{said} ({self.clause or self.source}; {self.status_words})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Concerns:
    """A duty beside an engine."""

    duty: Duty
    verdict: Verdict
    asks: tuple[str, ...] = ()

    @property
    def says(self) -> str:
        """The duty, and what to say where it is open."""
        asks = ", ".join(FACTS[one].ask for one in self.asks)
        return f"{self.duty.says}: {self.verdict}" + (f": say {asks}" if asks else "")


@cache
def duties() -> tuple[Duty, ...]:
    """Return all packaged duties, in the order of the table."""
    file = "asfound/exhaust/data/duties.csv"
    found = []
    for line, row in enumerate(load_csv("asfound.exhaust", "data/duties.csv"), start=4):
        if row["status"] not in STATUSES:
            raise KnowledgeError(file, line, 1, f"status '{row['status']}' is none.", allowed="; ".join(STATUSES))
        found.append(
            Duty(
                id=row["id"],
                jurisdiction=row["jurisdiction"],
                topic=row["topic"],
                when=condition(row["when"]),
                who=row["who"],
                rule=row["rule"],
                value=row["value"],
                hours=float(row["hours"]) if row["hours"] else None,
                months=int(row["months"]) if row["months"] else None,
                clause=row["clause"],
                source=row["source"],
                status=row["status"],
                note=row["note"],
            )
        )
    return tuple(found)


def duties_of(facts: EngineFacts, all_: Iterable[Duty] | None = None) -> tuple[Concerns, ...]:
    """Return the duties that concern or may concern an engine, in the order of the table."""
    found = []
    places = None
    if facts.jurisdictions is not None:
        places = {wider for one in facts.jurisdictions for wider in (one, *INSIDE.get(one, ()))}
    for duty in duties() if all_ is None else all_:
        holds = duty.when.holds(facts)
        if holds is False or (places is not None and duty.jurisdiction not in places):
            continue
        asks = (() if places is not None else ("jurisdictions",)) + duty.when.asks(facts)
        found.append(Concerns(duty=duty, verdict="may apply" if asks else "applies", asks=asks))
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class DueTest:
    """What 40 CFR 60.4243 asks now of an engine."""

    test: Literal["none", "initial", "repeat", "not due"]
    overdue: bool = False
    """An initial test whose year is over."""


def emission_test_due(
    *,
    power: float,
    certified: bool,
    by_instructions: bool,
    tested: bool,
    months_since_start: float,
    hours_since_test: float | None = None,
    months_since_test: float | None = None,
    rebuilt_since_test: bool = False,
) -> DueTest:
    """Return which performance test 40 CFR 60.4243 asks for now: spark ignition, not emergency, over 25 hp.

    Parameters
    ----------
    power : float
        [W]
    certified, by_instructions : bool
        Certified by its maker, and kept by the written emission instructions.
    tested, rebuilt_since_test : bool
    months_since_start, hours_since_test, months_since_test : float
        Hours and months since the last test must be given where the engine is over 500 hp and was tested.

    Raises
    ------
    InputError
        Hours or months since the test are missing where the interval hangs on them.

    References
    ----------
    .. [1] 40 CFR 60.4243(a), (b), (f), text as of 2026-09.
    """
    if certified and (by_instructions or power < SMALL * (1 - 1e-9)):
        return DueTest(test="none")
    if not tested:
        return DueTest(test="initial", overdue=certified and months_since_start > FIRST_MONTHS)
    if power > LARGE * (1 + 1e-9):
        if hours_since_test is None or months_since_test is None:
            raise InputError(
                "hours_since_emission_test",
                "",
                "and the months since the test are needed: the interval is the shorter of both",
                allowed=f"{TEST_HOURS:,.0f} h or {TEST_MONTHS} months, whichever comes first",
                try_next="Take them from the report of the last test and the hour counter.",
            )
        due = hours_since_test >= TEST_HOURS or months_since_test >= TEST_MONTHS
        return DueTest(test="repeat" if due else "not due")
    return DueTest(test="repeat" if rebuilt_since_test else "not due")


@dataclass(frozen=True, slots=True, kw_only=True)
class OilDue:
    """When a work practice with an interval is due."""

    hours_limit: float
    date_limit: date
    due: bool


def oil_due(hours_limit: float, hours_since: float, last: date, today: date) -> OilDue:
    """Return whether an oil change (or its analysis) is due: by hours, or within 1 year and 30 days of the last.

    Parameters
    ----------
    hours_limit : float
        Of the engine's row among the duties. [h]
    hours_since : float
        Running hours since the last time. [h]
    last, today : date

    References
    ----------
    .. [1] 40 CFR 63 Subpart ZZZZ, Tables 2c and 2d, as amended by 89 FR 70518 (2024-08-30).
    """
    try:
        year = last.replace(year=last.year + 1)
    except ValueError:  # 29 February
        year = last.replace(year=last.year + 1, day=28)
    limit = year + timedelta(days=30)
    return OilDue(hours_limit=hours_limit, date_limit=limit, due=hours_since >= hours_limit or today >= limit)


def oil_limits_passed(
    *, acid_new: float, acid: float, viscosity_new: float, viscosity: float, water: float
) -> tuple[str, ...]:
    """Return which limits of 40 CFR 63.6625(j) an oil of a spark ignition engine has passed; none: it may stay in.

    Where one is passed, the oil is changed within 2 business days.

    Parameters
    ----------
    acid_new, acid : float
        Acid number of the fresh oil and of the sample. [kg/kg; 1 mg KOH/g is 1e-3]
    viscosity_new, viscosity : float
        At the same temperature. [m²/s]
    water : float
        By volume. [1]
    """
    passed: Mapping[str, bool] = {
        "acid number": acid - acid_new > 3.0e-3,
        "viscosity": abs(viscosity / viscosity_new - 1.0) > 0.20,
        "water": water > 0.005,
    }
    return tuple(name for name, bad in passed.items() if bad)


def burn_class(
    *,
    strokes: int,
    ratio_full_load: float | None = None,
    oxygen_full_load: float | None = None,
    lean_by_early_modification: bool = False,
) -> Literal["rich", "lean"] | None:
    """Return rich or lean burn by the definition of the US rules; None where it cannot be told.

    Parameters
    ----------
    strokes : int
        A two-stroke is lean burn.
    ratio_full_load : float, optional
        Design air over stoichiometric air at full load, by the maker's word: rich up to 1.1. [1]
    oxygen_full_load : float, optional
        Without the maker's word: rich at 2 % or less in the exhaust at full load. [mol/mol]
    lean_by_early_modification : bool
        Modified with passive NOx control before the date that the rule names: lean.

    References
    ----------
    .. [1] 40 CFR 60.4248; 63.6675.
    """
    if lean_by_early_modification or strokes == 2:
        return "lean"
    if ratio_full_load is not None:
        return "rich" if ratio_full_load <= 1.1 else "lean"
    if oxygen_full_load is not None:
        return "rich" if oxygen_full_load <= 0.02 * (1 + 1e-12) else "lean"
    return None


def remote(
    *,
    offshore: bool = False,
    on_pipeline: bool = False,
    buildings_220_yd: int | None = None,
    assembly_100_yd: bool = False,
    buildings_quarter_mile: int | None = None,
) -> bool | None:
    """Return whether an engine is remote by 40 CFR 63.6675; None where the buildings were not counted.

    Offshore; or on a pipeline segment with 10 or fewer buildings within 220 yd and no place of assembly within 100 yd;
    or off a pipeline with 5 or fewer buildings within a quarter mile. The owner looks again every 12 months.
    """
    if offshore:
        return True
    if on_pipeline:
        if assembly_100_yd:
            return False
        return None if buildings_220_yd is None else buildings_220_yd <= 10
    return None if buildings_quarter_mile is None else buildings_quarter_mile <= 5
