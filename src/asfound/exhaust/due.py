"""What single rules make due: an emission test, an oil change, an oil that may stay in.

Arithmetic of the rules; it judges nothing that it was not told. The permit at hand may ask for more, and sooner.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from asfound.errors import InputError
from asfound.quantities.units import to_si

LARGE, SMALL = float(to_si(500.0, "hp")), float(to_si(100.0, "hp"))
"""Sizes at which 40 CFR 60.4243 changes what it asks. [W]"""
TEST_HOURS, TEST_MONTHS = 8760.0, 36
"""A repeated test: every 8,760 h or 3 years, whichever comes first (60.4243(a)(2)(iii), (b)(2)(ii))."""
FIRST_MONTHS = 12
"""A certified engine not kept by its instructions is tested within a year of its start (60.4243(a)(2))."""


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


@dataclass(frozen=True, slots=True, kw_only=True)
class OilJudged:
    """An oil sample beside the limits of 40 CFR 63.6625(j)."""

    acid_rise: float
    """Acid number over that of the fresh oil. [kg/kg; 1 mg KOH/g is 1e-3]"""
    viscosity_change: float
    """Relative, either way. [1]"""
    passed: tuple[str, ...]
    """Limits that are passed; none: the oil may stay in."""

    @property
    def change_within_business_days(self) -> int | None:
        """By when the oil is changed; None where it may stay in."""
        return 2 if self.passed else None


def judge_oil(*, acid_new: float, acid: float, viscosity_new: float, viscosity: float, water: float) -> OilJudged:
    """Return how an oil of a spark ignition engine stands to the limits that allow it to stay in past its interval.

    Parameters
    ----------
    acid_new, acid : float
        Acid number of the fresh oil and of the sample. [kg/kg; 1 mg KOH/g is 1e-3]
    viscosity_new, viscosity : float
        At the same temperature. [m²/s]
    water : float
        By volume. [1]

    References
    ----------
    .. [1] 40 CFR 63.6625(j): acid number up more than 3.0 mg KOH/g, viscosity off by more than 20 %, water above 0.5 %.
    """
    rise, change = acid - acid_new, viscosity / viscosity_new - 1.0
    limits: Mapping[str, bool] = {
        "acid number": rise > 3.0e-3 * (1 + 1e-9),
        "viscosity": abs(change) > 0.20 * (1 + 1e-9),
        "water": water > 0.005,
    }
    return OilJudged(acid_rise=rise, viscosity_change=change, passed=tuple(name for name, bad in limits.items() if bad))
