"""The inverse question on a whole visit: a setting that meets the NOx limit with 95 %, and what it rests on.

The slope of ln NOx against lambda comes, in this order, from the two states of this visit, from a reading somebody
typed, from the last visit and this one, else from what lean-burn gas engines do. The last is wide, and says so.
A target is a step from where the engine runs now, on the same analyser: its error now is its error then.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from asfound.exhaust.mixture import dry_oxygen
from asfound.exhaust.mixture_for_limit import FLATTEST, LEAN, excess_air_ratio_for, slope
from asfound.exhaust.mixture_takes import GAS
from asfound.exhaust.worksheets_inverse import SENSITIVITY
from asfound.quantities.case_numbers import number_at as number
from asfound.quantities.display import number_text
from asfound.quantities.intervals import symmetric
from asfound.quantities.typing import Array
from asfound.quantities.words import STATES, Limit, Reading, Result, State
from asfound.quantities.worked import Worked

SURE = 0.95
NO_STEP = 0.001
"""No hand sets a finer step of lambda. Engineering judgement."""
LONGEST_STEP = 0.10
"""Of lambda: a straight line reaches no farther (engineering judgement); beyond it go half way and read again."""
LEANEST = 2.1
"""Open chambers misfire before this (common practice, no source)."""
MOST_TOLD = 3.0
"""Lambda above which a number means nothing any more."""
LARGEST_LOAD_CHANGE = 0.03
"""Of rated power: two settings at other loads tell more of the load than of the mixture (engineering judgement)."""
From = Literal["this visit", "last visit", "typed", "assumed"]
WORDS: dict[From, str] = {
    "this visit": "from the two settings of this visit",
    "last visit": "from the last visit and this one: only if load, timing, gas and charge temperature were the same",
    "typed": "as typed",
    "assumed": "assumed, as lean-burn gas engines do: wide, not measured on this engine",
}
WARNINGS = (
    "Stay inside the misfire limit: watch each cylinder's exhaust temperature, unburned gas and speed on the way.",
    "Stay off knock: richer, or more load or boost at the same NOx, takes from the knock margin.",
    "One change at a time, at steady load; wait, read again, and compare with what was expected.",
    "Mixture is an emission setting: the permit or the certificate may ask for approval, a record, or a new test.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensitivity:
    """The slope of ln NOx against lambda, and where it comes from."""

    value: float
    draws: Array
    by: From

    @property
    def interval(self) -> tuple[float, float]:
        """95 % coverage."""
        return symmetric(self.draws, 0.95)


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """A mixture that would meet a NOx limit with a probability."""

    share: float
    """NOx over its limit now."""
    ratio: float
    """Lambda now."""
    oxygen: float | None
    """Dry oxygen that the analyser shows now. [mol/mol]"""
    target_ratio: float
    """Lambda to set, in the terms in which it reads now."""
    target_interval: tuple[float, float]
    """Of the lambda at which NOx would be just the limit: 95 % coverage."""
    target_oxygen: float | None
    """Dry oxygen to set, on the same analyser. [mol/mol]"""
    sensitivity: Sensitivity
    probability: float
    because: tuple[str, ...]
    """Keys of the numbers it rests on."""

    @property
    def step(self) -> float:
        """Lambda to go leaner; negative: there is room to the richer side."""
        return self.target_ratio - self.ratio

    @property
    def says(self) -> str:
        """The setting in words, with what it rests on."""
        if self.target_ratio > LEANEST:
            return (
                f"The mixture alone does not reach it: lambda {min(self.target_ratio, MOST_TOLD):.2f}"
                f"{' and more' if self.target_ratio > MOST_TOLD else ''} would be needed to be inside with "
                f"{100 * self.probability:.0f} in 100 (now {self.ratio:.3f}); above {LEANEST:g} open chambers misfire. "
                "Look for what raised NOx: timing, charge temperature, load, the analyser."
            )
        low, high = self.sensitivity.interval
        way = "leaner" if self.step >= 0 else "richer"
        away = f"{abs(self.step):.3f} {way} than now ({self.ratio:.3f})"
        if abs(self.step) < NO_STEP:
            away = "where it stands now"
        said = f"To be inside with {100 * self.probability:.0f} in 100: lambda {self.target_ratio:.3f}, {away}"
        if self.oxygen is not None and self.target_oxygen is not None:
            said += (
                f"; {100 * self.target_oxygen:.2f} % oxygen, dry, on the same analyser (now {100 * self.oxygen:.2f} %)"
            )
        just = self.target_interval
        slope_says = f"{number_text(self.sensitivity.value, 2)} ({number_text(low, 2)} to {number_text(high, 2)})"
        said += (
            f". NOx is just the limit at lambda {just[0]:.2f} to {just[1]:.2f}. Slope of ln NOx {slope_says} for 1 "
            f"of lambda, {WORDS[self.sensitivity.by]}."
        )
        if abs(self.step) > LONGEST_STEP:
            said += " That is far for a straight line: go half way, read again, and ask anew."
        return said


def setting_for(
    worked: Worked,
    limit: Limit,
    *,
    place: str,
    state: State = "as_found",
    previous: Worked | None = None,
    sure: float = SURE,
) -> Setting | None:
    """Return the mixture that would meet a NOx limit with a probability; None where it cannot be told.

    Parameters
    ----------
    worked : Worked
        The visit's sheet.
    limit : Limit
        An upper limit of NOx, in any basis that the sheet gives NOx in.
    place : str
        Where NOx and oxygen were read.
    state : str
        From which setting to step.
    previous : Worked, optional
        The last visit's sheet, for the slope.
    sure : float
        Probability to be inside. [0.5 to 1]
    """
    nox, ratio = number(worked, state, place, limit.quantity), _ratio(worked, state, place)
    if nox is None or ratio is None or limit.side != "upper" or not limit.value > 0 or ratio.value < LEAN:
        return None
    found = sensitivity_of(worked, limit.quantity, place, previous=previous)
    count = min(worked.draws(nox).size, worked.draws(ratio).size, found.draws.size)
    lambdas = worked.draws(ratio)[:count]
    needed = np.asarray(excess_air_ratio_for(worked.draws(nox)[:count] / limit.value, lambdas, found.draws[:count]))
    # a draw without an answer meets the limit at no lambda: it counts as infinitely lean, not as left out
    steps = np.where(np.isfinite(needed), needed - lambdas, np.inf)
    step = float(np.quantile(steps, sure, method="higher"))
    if not np.isfinite(step):
        return None
    oxygen = number(worked, state, place, "exhaust_oxygen_dry")
    atoms = [_atoms(worked, state, one.quantity) for one in GAS]
    to_come = float(dry_oxygen(ratio.value + step, *atoms)) - float(dry_oxygen(ratio.value, *atoms))
    target_oxygen = None if oxygen is None else oxygen.value + to_come
    return Setting(
        share=nox.value / limit.value,
        ratio=ratio.value,
        oxygen=None if oxygen is None else oxygen.value,
        target_ratio=ratio.value + step,
        target_interval=symmetric(needed[np.isfinite(needed)], 0.95),
        target_oxygen=target_oxygen,
        sensitivity=found,
        probability=sure,
        because=tuple(one.key for one in (nox, ratio, oxygen) if one is not None),
    )


def sensitivity_of(worked: Worked, nox: str, place: str, *, previous: Worked | None = None) -> Sensitivity:
    """Return the slope of ln NOx against lambda, from the best that there is."""
    here = _pair(worked, "as_found", worked, "as_left", nox, place, "this visit")
    if here is not None:
        return here
    typed = number(worked, "as_found", "engine", SENSITIVITY.quantity)
    if typed is not None:
        return Sensitivity(value=typed.value, draws=worked.draws(typed), by="typed")
    if previous is not None:
        for state in reversed(STATES):
            before = _pair(previous, state, worked, "as_found", nox, place, "last visit")
            if before is not None:
                return before
    usual = SENSITIVITY.assume
    assert usual is not None  # the worksheet assumes it
    half = usual.standard_uncertainty * 3**0.5
    drawn = np.random.default_rng(worked.seed).uniform(usual.value - half, usual.value + half, worked.number)
    return Sensitivity(value=usual.value, draws=drawn, by="assumed")


def _pair(
    one: Worked, state: State, other: Worked, other_state: State, nox: str, place: str, by: From
) -> Sensitivity | None:
    """Return the slope between two settings; None where they are not two, or tell nothing."""
    numbers = [
        (sheet, number(sheet, at, place, nox), _ratio(sheet, at, place))
        for sheet, at in ((one, state), (other, other_state))
    ]
    if _loads_differ(one, state, other, other_state):
        return None
    drawn: list[Array] = []
    best: list[float] = []
    for sheet, emitted, ratio in numbers:
        if emitted is None or ratio is None or ratio.value < LEAN:
            return None
        best += [emitted.value, ratio.value]
        # another visit's errors are drawn from the same streams as this one's: moved on, so that they are not shared
        shift = 0 if sheet is other else sheet.number // 2
        drawn += [np.roll(sheet.draws(emitted), shift), np.roll(sheet.draws(ratio), shift)]
    count = min(each.size for each in drawn)
    slopes = np.asarray(slope(*[each[:count] for each in drawn]))
    sound = np.isfinite(slopes) & (slopes < FLATTEST)
    value = float(slope(*best))
    if not value < FLATTEST or np.count_nonzero(sound) < SURE * count:
        return None  # the two settings are too near each other to tell the slope
    return Sensitivity(value=value, draws=slopes, by=by)


def _loads_differ(one: Worked, state: State, other: Worked, other_state: State) -> bool:
    """Tell whether two settings were read at loads that differ too much to compare."""
    loads = [number(sheet, at, "engine", "engine_load") for sheet, at in ((one, state), (other, other_state))]
    first, second = loads
    return first is not None and second is not None and abs(first.value - second.value) > LARGEST_LOAD_CHANGE


def _ratio(worked: Worked, state: State, place: str) -> Result | Reading | None:
    """Return lambda where NOx was read, else before the catalyst or at the stack."""
    places = dict.fromkeys((place, "before_catalyst", "stack"))
    return next((one for at in places if (one := number(worked, state, at, "excess_air_ratio")) is not None), None)


def _atoms(worked: Worked, state: State, quantity: str) -> float:
    """Return the atoms of the gas, or those of pipeline gas."""
    found = number(worked, state, "fuel", quantity) or number(worked, "as_found", "fuel", quantity)
    usual = next(one.assume for one in GAS if one.quantity == quantity)
    assert usual is not None  # every take of GAS assumes pipeline gas
    return usual.value if found is None else found.value
