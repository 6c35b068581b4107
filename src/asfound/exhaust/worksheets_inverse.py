"""Worksheets of the inverse question: where must the mixture go for NOx to meet its limit."""

from __future__ import annotations

from collections.abc import Callable

from asfound.errors import InputError
from asfound.exhaust.mixture import dry_oxygen
from asfound.exhaust.mixture_for_limit import LEAN, PERMIT_QUANTITY, excess_air_ratio_for
from asfound.exhaust.mixture_takes import GAS
from asfound.quantities.refusals import impossible
from asfound.quantities.typing import Values
from asfound.quantities.words import Method, Reading, Result
from asfound.quantities.worksheets import Assumption, Take, worksheet

BEFORE_A_CHANGE = ("unburnt", "protect", "config", "local")
SENSITIVITY = Take(
    quantity="nox_mixture_sensitivity",
    place="engine",
    assume=Assumption(
        value=-9.0,
        standard_uncertainty=6.0 / 3**0.5,
        says="3 to 15 % less NOx for 0.01 of lambda, as lean-burn engines do; two settings of this one tell it",
        source="common_practice",
        distribution="rectangular",
    ),
)
TITLES = {
    "nox_mass_per_energy": "per work",
    "nox_mass_concentration": "by mass at reference oxygen",
    "nox_at_reference_oxygen": "by volume at reference oxygen",
}


def _lean_enough(ratio: Reading | Result) -> None:
    """Refuse a mixture on which NOx does not fall with lambda."""
    if ratio.value < LEAN:
        raise InputError(
            ratio.key,
            f"{ratio.value:.3g}",
            "is not lean: near stoichiometric mixture NOx does not fall straight with lambda",
            allowed=f"{LEAN:g} or more",
            try_next="With a three-way catalyst look at its window and its conversion, not at leaner mixture.",
        )


def _share(taken: str) -> Callable[..., Values]:
    """Register NOx over its limit in one basis."""

    def formula(nox: Values, limit: Values) -> Values:
        return nox / limit

    formula.__name__ = f"{taken}_over_limit"
    formula.__doc__ = f"Return NOx {TITLES[taken]} over the limit of the permit: 1 is the limit. [1]"
    return worksheet(
        title=f"NOx over its limit, {TITLES[taken]}",
        takes=(taken, Take(quantity=PERMIT_QUANTITY[taken], place="engine")),
        gives="nox_share_of_limit",
        method=Method("number over limit, in the basis of the limit", "own_calculation"),
        cautions=("local",),
        refuses={PERMIT_QUANTITY[taken]: _a_limit},
    )(formula)


def _a_limit(limit: Reading | Result) -> None:
    """Refuse a limit of nothing."""
    if not limit.value > 0:
        raise impossible(limit, "is no limit", allowed="more than 0", try_next="Read the permit again.")


SHARES = {taken: _share(taken) for taken in PERMIT_QUANTITY}


@worksheet(
    title="Mixture at which NOx meets the limit",
    takes=("nox_share_of_limit", "excess_air_ratio", SENSITIVITY),
    gives="excess_air_ratio_for_permit",
    method=Method("local slope of ln NOx against lambda", "own_calculation", "ln N + s (lambda' - lambda) = ln L"),
    cautions=BEFORE_A_CHANGE,
    valid={
        "excess_air_ratio": (1.35, 2.2, "lambda 1.35 to 2.2: lean burn, away from the peak of NOx"),
        "excess_air_ratio_for_permit": (1.35, 2.1, "lambda 1.35 to 2.1: beyond it open chambers misfire"),
        "nox_share_of_limit": (0.4, 2.5, "40 to 250 % of the limit: a straight line is for small steps"),
    },
    refuses={"excess_air_ratio": _lean_enough},
)
def mixture_for_limit(share: Values, ratio: Values, sensitivity: Values) -> Values:
    """Return lambda at which NOx would be just the limit, by the local slope. [1]"""
    return excess_air_ratio_for(share, ratio, sensitivity)


@worksheet(
    title="Oxygen at which NOx meets the limit",
    takes=(
        "excess_air_ratio_for_permit",
        *GAS,
    ),
    gives="exhaust_oxygen_for_permit",
    method=Method("element balance over dry oxygen, lean, for the gas burned", "own_calculation"),
    cautions=BEFORE_A_CHANGE,
)
def oxygen_for_limit(ratio: Values, carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values) -> Values:
    """Return the dry oxygen that an analyser would show at that mixture. [mol/mol]"""
    return dry_oxygen(ratio, carbon, hydrogen, fuel_oxygen, nitrogen)
