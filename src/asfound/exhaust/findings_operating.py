"""Findings of the operating limits that a general rule sets for a catalyst, where the permit has none of its own."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.exhaust.catalyst_case import seen
from asfound.exhaust.judged_runs import FULL_LOAD
from asfound.exhaust.limits_of_case import applicable_to, margins
from asfound.quantities.case_numbers import number_at
from asfound.quantities.findings import Case
from asfound.quantities.limits import SURE
from asfound.quantities.words import STATES, Finding, State

PASSED = "An operating limit of a general rule is passed"


def find(case: Case) -> Iterator[Finding]:
    """Yield operating limits that are passed in each state of the visit."""
    for state in STATES:
        if seen(case, state) is not None:
            yield from _operating(case, state)


def _operating(case: Case, state: State) -> Iterator[Finding]:
    """Yield operating limits of a general rule that applies, where they are passed."""
    load = number_at(case.worked, state, "engine", "engine_load")
    full = load is None or FULL_LOAD[0] <= load.value <= FULL_LOAD[1]
    for one in applicable_to(case).used:
        if one.rule.kind != "operating" or (one.rule.quantity == "catalyst_pressure_drop_change" and not full):
            continue
        for margin in margins(case, one, state):
            if margin.probability >= SURE:
                yield Finding(
                    code="EX-37",
                    subject="exhaust",
                    says=f"{PASSED}: {one.rule.says}, {one.rule.where}: {margin.says}",
                    severity="visit",
                    next_step=(
                        f"The rule counts {one.rule.averaging}: look at the monitoring data before a deviation is "
                        "reported. The permit at hand comes first."
                    ),
                    compared_with=one.rule.where,
                    probability=margin.probability,
                    because=(f"{margin.state}/{margin.place}/{one.rule.quantity}",),
                    cautions=("hot", "catheat", "local"),
                    state=state,
                )
