"""May a test be run at this load? What the rules ask of the load, and what power that is on this engine today."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from asfound.errors import UnknownNameError
from asfound.quantities.possible import above
from asfound.quantities.typing import Values
from asfound.sources.tables import load_csv

USUAL = "jjjj"
"""The rule that the sheet counts with, until the permit says otherwise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadRule:
    """What one rule asks of the load in a test."""

    rule: str
    title: str
    lowest: float | None
    """Over the load in ``of``; None where the rule names no number. [1]"""
    highest: float | None
    of: str
    says: str
    found: str
    source: str
    clause: str


@cache
def load_rules() -> tuple[LoadRule, ...]:
    """Return the rules, in the order of the table."""
    return tuple(
        LoadRule(
            rule=row["rule"],
            title=row["title"],
            lowest=float(row["lowest"]) if row["lowest"] else None,
            highest=float(row["highest"]) if row["highest"] else None,
            of=row["of"],
            says=row["says"],
            found=row["found"],
            source=row["source"],
            clause=row["clause"],
        )
        for row in load_csv("asfound.power", "data/fair_test_rules.csv")
    )


def load_rule(rule: str) -> LoadRule:
    """Return a rule by its key; UnknownNameError when the table has none such."""
    for one in load_rules():
        if one.rule == rule:
            return one
    raise UnknownNameError("rule on the load of a test", rule, (one.rule for one in load_rules()))


def allowed_power(full: Values, rule: str = USUAL) -> tuple[Values, Values]:
    """Return the least and the greatest power at which a rule lets a test be run.

    Parameters
    ----------
    full : float or array
        The load that the rule counts from: site rating, or the highest that can be reached. [W]
    rule : str
        Its key.

    Returns
    -------
    (float or array, float or array)
        nan where the engine has no such load; 0 and infinity where the rule names no number. [W]
    """
    known = load_rule(rule)
    with np.errstate(all="ignore"):
        power = above(full)
        lowest = 0.0 if known.lowest is None else known.lowest
        highest = np.inf if known.highest is None else known.highest
        return lowest * power, highest * power


def may_be_run(load: Values, full: Values, rule: str = USUAL) -> Values:
    """Return 1 where a load lies where a rule wants it, 0 where not, nan where either is none.

    Examples
    --------
    >>> may_be_run([1300.0, 1350.0, 0.0], 1470.0).tolist()
    [0.0, 1.0, nan]
    """
    carried = above(load)
    lowest, highest = allowed_power(full, rule)
    with np.errstate(all="ignore"):
        inside = np.asarray((carried >= lowest) & (carried <= highest))
        return np.where(np.isfinite(carried) & np.isfinite(lowest), inside, np.nan)
