"""Duties of the owner and of the test as dated data: which concern this engine, and what is due.

The rows are in our own words and say how their text was seen; the official text decides, and the permit before it. What
is due stands in `due`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Literal

from asfound.errors import KnowledgeError
from asfound.exhaust.limits import INSIDE, Verdict
from asfound.exhaust.limits_table import STATUS_WORDS, STATUSES
from asfound.exhaust.rule_facts import FACTS, Condition, EngineFacts, condition
from asfound.sources.tables import load_csv


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
